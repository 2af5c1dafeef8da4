from django.apps import AppConfig


class WoodConfig(AppConfig):
    name = "studio.wood"
    label = "wood"
    default_auto_field = "django.db.models.BigAutoField"
