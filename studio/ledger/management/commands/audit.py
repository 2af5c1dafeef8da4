import os
import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection

from studio.ledger import audit
from studio.ledger.journal import Entry


class Command(BaseCommand):
    help = "Computes the books again from their lines and says where anything differs."
    # What the checks would stop for, the audit says in its own sentences.
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--demo", action="store_true", help="look at the demo studio's books")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["demo"] and "STUDIO_DATA" not in os.environ:
            raise CommandError("The demo's books are opened by: python3 manage.py audit --demo")
        if Entry._meta.db_table not in connection.introspection.table_names():
            which = "demo " if options["demo"] else ""
            raise CommandError(f"There is no {which}studio here yet. `manage.py serve` makes one.")
        result = audit.run()
        for sentence in result.differences:
            self.stdout.write(sentence)
        self.stdout.write(result.summary)
        if not result.clean:
            sys.exit(1)
