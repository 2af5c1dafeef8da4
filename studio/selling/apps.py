from django.apps import AppConfig


class SellingConfig(AppConfig):
    name = "studio.selling"
    label = "selling"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from studio.ledger import audit
        from studio.people.contacts import guard_erasing
        from studio.pieces.guards import before_leaving, before_unticking
        from studio.selling import guards

        guard_erasing(guards.refuse_erasing_debtor)
        before_leaving(guards.refuse_leaving_while_away)
        before_unticking(guards.refuse_leaving_while_away)
        audit.register("selling", guards.differences)
