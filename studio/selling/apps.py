from django.apps import AppConfig


class SellingConfig(AppConfig):
    name = "studio.selling"
    label = "selling"
    default_auto_field = "django.db.models.BigAutoField"
