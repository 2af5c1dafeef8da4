from django.apps import AppConfig


class CommissionsConfig(AppConfig):
    name = "studio.commissions"
    label = "commissions"
    default_auto_field = "django.db.models.BigAutoField"
