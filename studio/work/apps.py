from django.apps import AppConfig


class WorkConfig(AppConfig):
    name = "studio.work"
    label = "work"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from studio.ledger import audit
        from studio.work.differences import differences

        audit.register("work", differences)
