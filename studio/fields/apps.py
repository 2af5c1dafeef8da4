from django.apps import AppConfig


class FieldsConfig(AppConfig):
    name = "studio.fields"
    label = "fields"
    default_auto_field = "django.db.models.BigAutoField"
