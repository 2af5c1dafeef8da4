from django.apps import AppConfig
from django.core.checks import Tags, register
from django.db.models.signals import post_migrate, pre_migrate


class LedgerConfig(AppConfig):
    name = "studio.ledger"
    label = "ledger"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        from studio.ledger import journal, triggers
        from studio.people import settings as studio_settings

        pre_migrate.connect(_remove_triggers, sender=self, dispatch_uid="ledger-triggers-out")
        post_migrate.connect(_install_triggers, sender=self, dispatch_uid="ledger-triggers-in")
        studio_settings.guard("currency", journal.refuse_another_currency)
        register(triggers.check_triggers, Tags.database)


def _remove_triggers(using: str, **kwargs: object) -> None:
    from studio.ledger import triggers

    triggers.remove(using)


def _install_triggers(using: str, **kwargs: object) -> None:
    from studio.ledger import triggers

    triggers.install(using)
