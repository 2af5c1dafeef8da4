"""Moments as the equipment's sentences say them, and those that are still to come."""

from datetime import datetime

from django.utils import timezone

from studio.ledger.errors import InTheFuture
from studio.people import settings as studio_settings


def moment_words(at: datetime) -> str:
    """Return a moment by the studio's clock: 03 May 2025, 14:10."""
    return f"{at.astimezone(studio_settings.zone()):%d %B %Y, %H:%M}"


def refuse_future(at: datetime, now: datetime | None) -> None:
    """Raise `InTheFuture` for a moment after `now` (after this moment, where none was passed in)."""
    if at > (now or timezone.now()):
        raise InTheFuture(at)
