"""Countries and currencies by their codes, read from the Unicode locale data that babel carries."""

from functools import cache

# What the locale data list beside ISO 3166-1's countries: unions, islands without a code, test regions.
_NOT_COUNTRIES = frozenset({"AC", "CP", "CQ", "DG", "EA", "EU", "EZ", "IC", "QO", "TA", "UN", "XA", "XB", "XK", "ZZ"})


@cache
def countries() -> dict[str, str]:
    """Return English country names by their two letters (ISO 3166-1 alpha-2), in the order of their names."""
    from babel import Locale

    names = Locale("en").territories
    found = {c: n for c, n in names.items() if len(c) == 2 and c.isalpha() and c not in _NOT_COUNTRIES}
    return dict(sorted(found.items(), key=lambda pair: pair[1]))


@cache
def currencies() -> dict[str, str]:
    """Return English names of the currencies that are legal tender somewhere today, by code (ISO 4217)."""
    from babel import Locale
    from babel.core import get_global

    names = Locale("en").currencies
    held = {
        code
        for rows in get_global("territory_currencies").values()
        for code, _start, end, tender in rows
        if end is None and tender
    }
    return {code: names.get(code, code) for code in sorted(held)}


def is_country(code: str) -> bool:
    return code in countries()


def is_currency(code: str) -> bool:
    return code in currencies()
