"""`manage.py let_in NAME`: a one-time link for whoever sits at the machine and can't sign in."""

import json
from typing import Any

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management.base import BaseCommand, CommandError, CommandParser

from studio.config import signin


class Command(BaseCommand):
    help = "Prints a link that lets one person in once, within the hour."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", help="the name they sign in with")
        parser.add_argument("--demo", action="store_true", help="in the demo studio")

    def handle(self, *args: Any, name: str, **options: Any) -> None:
        users = get_user_model()._default_manager
        try:
            user = users.get_by_natural_key(name)
        except get_user_model().DoesNotExist:
            raise CommandError(f"Nobody signs in here as “{name}”.") from None
        if not user.is_active:
            raise CommandError(
                f"{user} doesn't work here any more. An owner can change that on the people page."
            )
        try:
            address = json.loads((settings.DATA_DIR / "serving.json").read_text())["address"]
        except (OSError, ValueError, KeyError):
            raise CommandError("The studio isn't open. Start `serve` first, then ask again.") from None
        self.stdout.write(signin.link_for(user, address))
