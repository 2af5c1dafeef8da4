"""The studio's addresses and one more: a page drawn from what another view has fetched."""

from django.urls import include, path

from studio.config.bench.pages import bare
from studio.config.bench.workshop import bare_weight

urlpatterns = [
    path("bare/", bare, name="bare"),
    path("bare/weight/", bare_weight, name="bare_weight"),
    path("", include("studio.config.urls")),
]
handler500 = "studio.config.errors.broken"
