"""The studio's addresses and one more: a page drawn from what another view has fetched."""

from django.urls import include, path

from studio.config.bench.pages import bare

urlpatterns = [
    path("bare/", bare, name="bare"),
    path("", include("studio.config.urls")),
]
handler500 = "studio.config.errors.broken"
