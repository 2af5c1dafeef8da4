"""A studio without a single screen yet."""

urlpatterns: list = []
