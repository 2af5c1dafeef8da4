"""`manage.py tour --link URL`: takes the README's pictures from a running demo studio, through a real browser."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from studio.demo import touring


class Command(BaseCommand):
    help = "Takes the pictures of the tour from a demo that is being served (needs the test extra and Chromium)."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--link", required=True, help="the one-time link that `serve --demo` prints")
        parser.add_argument("--to", default=str(Path(settings.BASE_DIR) / "static" / "tour"))

    def handle(self, *args: Any, link: str, to: str, **options: Any) -> None:
        folder = Path(to)
        folder.mkdir(parents=True, exist_ok=True)
        try:
            for name in touring.take(link, folder):
                self.stdout.write(f"{name} taken")
        except touring.NoBrowser as stop:
            raise CommandError(str(stop)) from None
