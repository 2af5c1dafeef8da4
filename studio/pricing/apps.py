from django.apps import AppConfig


class PricingConfig(AppConfig):
    name = "studio.pricing"
    label = "pricing"
    default_auto_field = "django.db.models.BigAutoField"
