from django.apps import AppConfig


class CommissionsConfig(AppConfig):
    name = "studio.commissions"
    label = "commissions"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from studio.commissions import guards
        from studio.ledger import audit
        from studio.people.contacts import guard_erasing

        guard_erasing(guards.refuse_erasing_client)
        audit.register("commissions", guards.differences)
