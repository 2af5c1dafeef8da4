from django.apps import AppConfig


class PiecesConfig(AppConfig):
    name = "studio.pieces"
    label = "pieces"
    default_auto_field = "django.db.models.BigAutoField"
