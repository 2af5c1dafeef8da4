from typing import Any

from django.core.management.commands.migrate import Command as Migrate

from studio.ledger import triggers


class Command(Migrate):
    """Django's own `migrate`, which first of all puts back triggers that a run broken off left out.

    Without it the check that finds them missing would stop the very command it advises.
    """

    def check(self, *args: Any, **kwargs: Any) -> None:
        for using in kwargs.get("databases") or ():
            triggers.install(using)
        super().check(*args, **kwargs)
