"""Checks of what operations are given: words, shares and money, each with a sentence beside its field."""

from datetime import datetime

from django.utils import timezone

from studio.fields.whole import LIMIT
from studio.ledger.errors import InTheFuture
from studio.people import settings as studio_settings
from studio.people.text import tidy
from studio.selling.errors import NotLikeThat
from studio.selling.models import WHOLE_PPM

MOST_DAYS_TO_PAY = 366


def words(text: str, field: str, *, most: int, missing: str = "", lines: bool = False) -> str:
    """Return tidied text; refuse what can't be printed, is too long or, with `missing`, isn't there."""
    try:
        kept = tidy(text, most=most, lines=lines)
    except ValueError as error:
        raise NotLikeThat(str(error), field=field) from error
    if missing and not kept:
        raise NotLikeThat(missing, field=field)
    return kept


def money(value: int, field: str, *, at_least: int = 0, missing: str = "") -> int:
    """Return money in whole coins, or refuse it: below `at_least`, part of the smallest coin, no number."""
    if type(value) is not int or abs(value) > LIMIT:
        raise NotLikeThat("Give an amount of money.", field=field)
    if value < at_least:
        raise NotLikeThat(missing or "This can't be less than nothing.", field=field)
    if value % studio_settings.coin_micro():
        raise NotLikeThat("That is a part of the smallest coin. Round it to whole coins.", field=field)
    return value


def share(value: int, field: str) -> int:
    """Return a share in parts per million, or refuse it: below nothing, the whole of it, no number."""
    if type(value) is not int or not 0 <= value < WHOLE_PPM:
        raise NotLikeThat("Give a share from 0 to under 100 percent.", field=field)
    return value


def days(value: int, field: str) -> int:
    if type(value) is not int or not 0 <= value <= MOST_DAYS_TO_PAY:
        raise NotLikeThat(f"Give a number of days from 0 to {MOST_DAYS_TO_PAY}.", field=field)
    return value


def past(at: datetime, now: datetime | None) -> datetime:
    """Return `at`, or refuse what is still to come."""
    if at > (now or timezone.now()):
        raise InTheFuture(at)
    return at
