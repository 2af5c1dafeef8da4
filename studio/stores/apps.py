from django.apps import AppConfig


class StoresConfig(AppConfig):
    name = "studio.stores"
    label = "stores"
    default_auto_field = "django.db.models.BigAutoField"
