from django.apps import AppConfig


class EquipmentConfig(AppConfig):
    name = "studio.equipment"
    label = "equipment"
    default_auto_field = "django.db.models.BigAutoField"
