"""How this studio writes numbers, money, units and dates; carried beside a request, not fetched from here."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass

# The studio picks one of these as it would write it; the pair is (decimal mark, mark between thousands).
NUMBER_FORMATS: dict[str, tuple[str, str]] = {
    "1,234.56": (".", ","),
    "1.234,56": (",", "."),
    "1 234,56": (",", "\u202f"),
    "1 234.56": (".", "\u202f"),
    "1'234.56": (".", "'"),
    "1234.56": (".", ""),
    "1234,56": (",", ""),
}
LENGTH_UNITS = ("mm", "in")
TEMPERATURE_UNITS = ("°C", "°F")
PRESSURE_UNITS = ("bar", "psi")
FLUID_MEASURES = ("US", "imperial")
DATE_STYLES = ("day first", "month first", "year first")
# Currencies whose smallest coin is not a hundredth. Source: ISO 4217 minor units, *from memory*.
COIN_DIGITS: dict[str, int] = {
    **dict.fromkeys(("BIF", "CLP", "DJF", "GNF", "ISK", "JPY", "KMF", "KRW", "PYG", "RWF"), 0),
    **dict.fromkeys(("UGX", "VND", "VUV", "XAF", "XOF", "XPF"), 0),
    **dict.fromkeys(("BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"), 3),
}


@dataclass(frozen=True)
class Formats:
    """What to write and how to read what is typed. Wrong values raise ValueError with the choices."""

    decimal: str = "."
    group: str = ","
    currency: str = "GBP"
    coin_digits: int = 2
    length_unit: str = "mm"
    temperature_unit: str = "°C"
    pressure_unit: str = "bar"
    time_zone: str = "Europe/London"
    date_style: str = "day first"
    fluid_measures: str = "US"

    def __post_init__(self) -> None:
        if (self.decimal, self.group) not in NUMBER_FORMATS.values():
            raise ValueError("Write numbers in one of these ways: " + ", ".join(NUMBER_FORMATS))
        if not 0 <= self.coin_digits <= 6:
            raise ValueError("A currency has between 0 and 6 digits after the mark.")
        for value, choices in (
            (self.length_unit, LENGTH_UNITS),
            (self.temperature_unit, TEMPERATURE_UNITS),
            (self.pressure_unit, PRESSURE_UNITS),
            (self.fluid_measures, FLUID_MEASURES),
            (self.date_style, DATE_STYLES),
        ):
            if value not in choices:
                raise ValueError(f"{value!r} is none of: " + ", ".join(choices))


def coin_digits(currency: str) -> int:
    """Return how many digits a currency's smallest coin has after the mark (EUR 2, JPY 0, KWD 3)."""
    return COIN_DIGITS.get(currency, 2)


_current: ContextVar[Formats] = ContextVar("formats")
_PLAIN = Formats()


def current() -> Formats:
    """Return the formats in use here; plain defaults where none were set (a script, a test)."""
    return _current.get(_PLAIN)


@contextmanager
def use(formats: Formats) -> Iterator[Formats]:
    """Use these formats inside the `with` block (one request, one job)."""
    token = _current.set(formats)
    try:
        yield formats
    finally:
        _current.reset(token)
