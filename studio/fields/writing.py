"""Writing stored quantities back in the studio's units and number format."""

from fractions import Fraction

from studio.craft.rounding import whole

from .formats import Formats, current
from .units import INCH_UM, Unit, units_of, usual_unit

NBSP = "\u00a0"
# Most decimals shown, by the label of the unit; what is finer is rounded half up, zeros at the end go.
_DECIMALS = {
    "kg": 3, "lb": 2, "oz": 1, "mg": 0, "mm": 1, "cm": 2, "m": 2, "in": 2, "ft": 2, "ml": 1, "l": 3, "mm³": 0,
    "°C": 1, "°F": 1, "bar": 2, "psi": 1, "kPa": 1, "Pa": 0, "mbar": 0, "inHg": 1, "kg/m³": 0, "g/ml": 3,
    "%": 2, "ppm": 0, "pieces": 3, "min": 0, "h": 1, "W": 0, "kW": 2,
}  # fmt: skip
_GROUPED = ("money", "count", "number", "whole")


def show(
    value: int,
    dimension: str,
    *,
    formats: Formats | None = None,
    unit: str | None = None,
    digits: int | None = None,
    with_unit: bool | None = None,
    grouped: bool | None = None,
) -> str:
    """Return a stored quantity as the studio writes it: `412 g`, `3 1/2 in`, `1,140.00`, `3 h 20`, `45 %`.

    `digits` is the exact number of decimals wanted; without it a sensible number, zeros at the end left off
    (money: the coin's digits, always). Money is written without its currency unless `with_unit`. Only money
    and plain numbers get a mark between thousands: a scale shows none. Number and unit are held together by
    a no-break space. Rounding is half up; the stored figure is never changed. Raises KeyError for a unit or
    dimension that doesn't exist.
    """
    formats = formats or current()
    unit_name = unit or usual_unit(dimension, formats)
    size = units_of(dimension, formats)[unit_name.casefold().replace(" ", "_")]
    if dimension == "duration" and unit is None and digits is None:
        return _hours(value)
    if size.label == "in" and digits is None and (inches := ruler_inches(value)) is not None:
        text = inches
    else:
        exact = (Fraction(value) - size.offset) / size.size
        text = _figures(exact, dimension, size, formats, digits, grouped)
    if with_unit is None:
        with_unit = dimension != "money"
    if dimension == "count" and with_unit and value == 1000 and size.label == "pieces":
        return f"{text}{NBSP}piece"
    return f"{text}{NBSP}{size.label}" if with_unit and size.label else text


def _figures(
    exact: Fraction, dimension: str, unit: Unit, formats: Formats, digits: int | None, grouped: bool | None
) -> str:
    places = _places(exact, dimension, unit, formats) if digits is None else digits
    scaled = whole(exact * 10**places)
    sign = "−" if scaled < 0 else ""
    before, after = divmod(abs(scaled), 10**places)
    decimals = f"{after:0{places}d}" if places else ""
    if digits is None and dimension != "money":
        decimals = decimals.rstrip("0")
    figures = str(before)
    if grouped if grouped is not None else dimension in _GROUPED:
        figures = f"{before:,}".replace(",", formats.group)
    return sign + figures + (formats.decimal + decimals if decimals else "")


def _places(exact: Fraction, dimension: str, unit: Unit, formats: Formats) -> int:
    if dimension == "money":
        return formats.coin_digits
    if unit.label == "g":
        return 1 if abs(exact) >= 10 else 3
    return _DECIMALS.get(unit.label, 3)


def ruler_inches(value: int) -> str | None:
    """Return inches as a ruler shows them (sixty-fourths), or None where the length lies between marks."""
    marks = whole(Fraction(abs(value)) * 64 / INCH_UM)
    if whole(INCH_UM * marks / 64) != abs(value):
        return None
    inches, rest = divmod(Fraction(marks, 64), 1)
    parts = [str(inches)] if inches or not rest else []
    if rest:
        parts.append(f"{rest.numerator}/{rest.denominator}")
    return ("−" if value < 0 else "") + " ".join(parts)


def _hours(value: int) -> str:
    sign, seconds = ("−", -value) if value < 0 else ("", value)
    if seconds < 60:
        return f"{sign}{seconds}{NBSP}s"
    minutes = whole(Fraction(seconds, 60))
    hours, minutes = divmod(minutes, 60)
    if not hours:
        return f"{sign}{minutes}{NBSP}min"
    if hours >= 96:
        days, hours = divmod(hours + (minutes >= 30), 24)
        return f"{sign}{days}{NBSP}days" + (f" {hours}{NBSP}h" if hours else "")
    return f"{sign}{hours}{NBSP}h" + (f"{NBSP}{minutes:02d}" if minutes else "")


def clock(value: int) -> str:
    sign, seconds = ("−", -value) if value < 0 else ("", value)
    minutes, rest = divmod(seconds, 60)
    if rest:
        return f"{sign}{minutes // 60}:{minutes % 60:02d}:{rest:02d}{NBSP}h"
    if minutes < 60:
        return f"{sign}{minutes}{NBSP}min"
    return f"{sign}{minutes // 60}:{minutes % 60:02d}{NBSP}h"
