from django.apps import AppConfig


class WorkConfig(AppConfig):
    name = "studio.work"
    label = "work"
    default_auto_field = "django.db.models.BigAutoField"
