from django.urls import include, path

from studio.config.signin import come_in

urlpatterns = [
    path("come-in/<str:token>/", come_in, name="come-in"),
    path("", include("studio.web.urls")),
]
handler400 = "studio.config.errors.bad_request"
handler403 = "studio.config.errors.forbidden"
handler404 = "studio.config.errors.not_found"
handler500 = "studio.config.errors.broken"
