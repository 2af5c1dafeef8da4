"""`manage.py demo`: the invented studio, built by the same operations that the screens call."""

from argparse import ArgumentTypeError
from datetime import date, datetime
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection
from django.utils import timezone

from studio.demo import build as builder
from studio.demo.days import moment
from studio.people.models import User

ELEVEN = 11


class Command(BaseCommand):
    help = "Builds the demo studio: eighteen months of an invented shop, ending today."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--anchor", type=_day, help="the day it ends on, at eleven (YYYY-MM-DD); now unless told")
        parser.add_argument("--seed", type=int, default=builder.SEED, help="another number, another story")

    def handle(self, *args: Any, anchor: date | None, seed: int, **options: Any) -> None:
        if User._meta.db_table not in connection.introspection.table_names():
            call_command("migrate", interactive=False, verbosity=0)
        if User.objects.exists():
            raise CommandError(
                "Somebody works in these data already. The demo is built into an empty place only: "
                "set STUDIO_DATA to one, or remove var/demo."
            )
        now = timezone.now().replace(second=0, microsecond=0)
        if anchor is not None:
            now = self._at_eleven(anchor, now)
        try:
            shop = builder.build(now, seed=seed, tell=self._tell)
        except builder.NotWhole as differences:
            raise CommandError(f"The demo's books don't add up, so nothing was kept.\n{differences}") from None
        counts = shop.counts
        self.stdout.write(
            f"{counts['lumps']} lumps of wood, {counts['pieces']} pieces, {counts['lost']} lost, "
            f"{counts['sold']} sold."
        )

    def _at_eleven(self, anchor: date, now: datetime) -> datetime:
        found = moment(anchor, ELEVEN)
        if found > now:
            raise CommandError("The demo can't end on a day that is still to come.")
        return found

    def _tell(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ArgumentTypeError("a day is written like 2026-03-09") from None
