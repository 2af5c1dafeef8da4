"""Checks of what operations are given: words, days and money, each with a sentence beside its field."""

from collections.abc import Sequence

from studio.fields.whole import LIMIT
from studio.people import settings as studio_settings
from studio.people.text import tidy
from studio.wood.errors import NotLikeThat


def words(text: str, field: str, *, most: int, missing: str = "") -> str:
    """Return tidied text; refuse what can't be printed, is too long or, with `missing`, isn't there."""
    try:
        kept = tidy(text, most=most)
    except ValueError as error:
        raise NotLikeThat(str(error), field=field) from error
    if missing and not kept:
        raise NotLikeThat(missing, field=field)
    return kept


def money(value: int, field: str, *, refund: bool = False, coins: bool = True) -> int:
    """Return money, or refuse it: less than nothing (unless a refund may be) or part of the smallest coin."""
    if type(value) is not int or abs(value) > LIMIT:
        raise NotLikeThat("Give an amount of money.", field=field)
    if value < 0 and not refund:
        raise NotLikeThat("This can't be less than nothing.", field=field)
    if coins and value % studio_settings.coin_micro():
        raise NotLikeThat("That is a part of the smallest coin. Round it to whole coins.", field=field)
    return value


def choice(value: str, choices: Sequence[str], field: str) -> str:
    """Return one of the choices, or refuse it."""
    if value not in choices:
        raise NotLikeThat("Choose one of: " + ", ".join(one for one in choices if one) + ".", field=field)
    return value
