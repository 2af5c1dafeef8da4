from django.apps import AppConfig


class PicturesConfig(AppConfig):
    name = "studio.pictures"
    label = "pictures"
    default_auto_field = "django.db.models.BigAutoField"
