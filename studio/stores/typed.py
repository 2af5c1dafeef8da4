"""Checks of what operations are given: words, amounts and money, each with a sentence beside its field."""

from studio.fields.whole import LIMIT
from studio.people import settings as studio_settings
from studio.people.text import tidy
from studio.stores.errors import NotLikeThat


def words(text: str, field: str, *, most: int, missing: str = "") -> str:
    """Return tidied text; refuse what can't be printed, is too long or, with `missing`, isn't there."""
    try:
        kept = tidy(text, most=most)
    except ValueError as error:
        raise NotLikeThat(str(error), field=field) from error
    if missing and not kept:
        raise NotLikeThat(missing, field=field)
    return kept


def above_nothing(value: int | None, field: str, what: str) -> None:
    """Refuse a figure that is given and isn't a whole number above zero."""
    if value is not None and not (type(value) is int and 0 < value <= LIMIT):
        raise NotLikeThat(f"Give {what} above zero, or leave it open.", field=field)


def amount(value: int, field: str = "amount") -> int:
    """Return an amount above zero, or refuse it."""
    if type(value) is not int or not 0 < value <= LIMIT:
        raise NotLikeThat("Give an amount above zero.", field=field)
    return value


def money(value: int, field: str, *, refund: bool = False) -> int:
    """Return money in whole coins, or refuse it: below nothing (unless a refund may be) or part of a coin."""
    if type(value) is not int or abs(value) > LIMIT:
        raise NotLikeThat("Give an amount of money.", field=field)
    if value < 0 and not refund:
        raise NotLikeThat("This can't be less than nothing.", field=field)
    if value % studio_settings.coin_micro():
        raise NotLikeThat("That is a part of the smallest coin. Round it to whole coins.", field=field)
    return value


def choice(value: str, choices: list[str], field: str) -> str:
    """Return one of the choices, or refuse it."""
    if value not in choices:
        raise NotLikeThat("Choose one of: " + ", ".join(choices) + ".", field=field)
    return value
