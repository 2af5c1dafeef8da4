"""`manage.py let_in NAME`: a one-time link for whoever sits at the machine and can't sign in."""

import json
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from studio.config import house, signin
from studio.people.models import User


class Command(BaseCommand):
    help = "Prints a link that lets one person in once, within the hour."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", nargs="?", help="the name they sign in with; the first owner unless told")
        parser.add_argument("--demo", action="store_true", help="in the demo studio")

    def handle(self, *args: Any, name: str | None, **options: Any) -> None:
        user = self._person(name)
        try:
            address = json.loads((settings.DATA_DIR / "serving.json").read_text())["address"]
        except (OSError, ValueError, KeyError):
            raise CommandError("The studio isn't open. Start `serve` first, then ask again.") from None
        self.stdout.write(signin.link_for(user, address))

    def _person(self, name: str | None) -> User:
        if name is None:
            first = house.owner()
            if first is None:
                raise CommandError("There is no owner to let in. Open the studio and answer its four questions.")
            return first
        try:
            user = User.objects.get_by_natural_key(name)
        except User.DoesNotExist:
            raise CommandError(f"Nobody signs in here as “{name}”.") from None
        if not user.is_active:
            raise CommandError(f"{user} doesn't work here any more. An owner can change that on the people page.")
        return user
