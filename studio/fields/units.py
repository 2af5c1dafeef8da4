"""The units a turner may type, each as an exact fraction of the stored unit of its dimension.

Sources: NIST Handbook 44 Appendix C (inch, foot, yard, pound, ounce, US gallon and its parts: exact);
UK Weights and Measures Act 1985 (imperial gallon 4.54609 litres exactly, *from memory*); standard gravity
9.80665 m/s² (3rd CGPM). The tests hold every one of them against an independent library of units.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from .formats import Formats

INCH_UM = Fraction(25_400)
POUND_MG = Fraction(45_359_237, 100)
PSI_PA = POUND_MG / 1_000_000 * Fraction("9.80665") / Fraction("0.0254") ** 2
GALLON_MM3 = {"US": Fraction(231) * Fraction("25.4") ** 3, "imperial": Fraction(4_546_090)}
FLUID_OUNCES = {"US": 128, "imperial": 160}


@dataclass(frozen=True)
class Unit:
    """One unit: how it is written back, its size in stored units, and an offset (temperatures only)."""

    label: str
    size: Fraction
    offset: Fraction = Fraction(0)
    whole_parts: bool = False


def _table(*rows: tuple[str, Fraction | int | str, str]) -> dict[str, Unit]:
    table: dict[str, Unit] = {}
    for label, size, others in rows:
        unit = Unit(label, Fraction(size))
        for name in (label, *others.split()):
            table[name.casefold()] = unit
    return table


MASS = _table(
    ("g", 1000, "gr. gram grams gramme grammes"),
    ("kg", 1_000_000, "kilo kilos kilogram kilograms kilogramme kilogrammes"),
    ("mg", 1, "milligram milligrams"),
    ("t", 1_000_000_000, "tonne tonnes"),
    ("lb", POUND_MG, "lbs lb. lbs. # pound pounds"),
    ("oz", POUND_MG / 16, "oz. ounce ounces"),
)
COUNT = _table(
    ("pieces", 1000, "piece pc pcs pc. pcs. st stk x"),
    ("pairs", 2000, "pair"),
    ("dozen", 12_000, "doz doz. dozens"),
)
NUMBER = _table(("", 1000, ""))
WHOLE = _table(("", 1, ""))
LENGTH = _table(
    ("mm", 1000, "millimetre millimetres millimeter millimeters"),
    ("cm", 10_000, "centimetre centimetres centimeter centimeters"),
    ("m", 1_000_000, "metre metres meter meters"),
    ("km", 1_000_000_000, "kilometre kilometres kilometer kilometers"),
    ("µm", 1, "um μm"),
    ("in", INCH_UM, "in. inch inches \" ″ ” ''"),
    ("ft", INCH_UM * 12, "ft. foot feet ' ′ ’"),
    ("yd", INCH_UM * 36, "yd. yard yards"),
)
CUBIC = _table(
    ("ml", 1000, "millilitre millilitres milliliter milliliters cc ccm cm3 cm³"),
    ("cl", 10_000, "centilitre centilitres"),
    ("dl", 100_000, "decilitre decilitres"),
    ("l", 1_000_000, "litre litres liter liters ltr dm3 dm³"),
    ("mm³", 1, "mm3"),
    ("m³", 1_000_000_000, "m3 cbm"),
    ("in³", Fraction("25.4") ** 3, "in3 cuin cu_in cu.in. cubic_inch cubic_inches"),
    ("ft³", Fraction("304.8") ** 3, "ft3 cuft cu_ft cubic_foot cubic_feet"),
)
DURATION = _table(
    ("s", 1, "sec secs second seconds"),
    ("min", 60, "m mins min. minute minutes"),
    ("h", 3600, "hr hrs hour hours std"),
    ("days", 86_400, "d day"),
    ("weeks", 604_800, "wk wks w week"),
)
PRESSURE = _table(
    ("bar", 100_000, "bars"),
    ("mbar", 100, "hpa millibar millibars"),
    ("psi", PSI_PA, "psig lbf/in2 lb/in2"),
    ("kPa", 1000, ""),
    ("Pa", 1, "pascal pascals"),
    ("MPa", 1_000_000, ""),
    ("inHg", Fraction("13595.1") * Fraction("9.80665") * Fraction("0.0254"), 'in_hg "hg inches_hg'),
    ("mmHg", Fraction("13595.1") * Fraction("9.80665") / 1000, "mm_hg"),
    ("torr", Fraction(101_325, 760), ""),
    ("atm", 101_325, ""),
)
DENSITY = _table(
    ("kg/m³", 1, "kg/m3"),
    ("g/ml", 1000, "g/cm³ g/cm3 g/cc kg/l kg/dm³ kg/dm3"),
    ("lb/ft³", POUND_MG / 1_000_000 / Fraction("0.3048") ** 3, "lb/ft3 lbs/ft3 pcf"),
    ("lb/gal", POUND_MG / 1_000_000 / (GALLON_MM3["US"] / 1_000_000_000), "lbs/gal"),
)
SHARE = _table(
    ("%", 10_000, "percent per_cent pct"),
    ("‰", 1000, "per_mille"),
    ("ppm", 1, ""),
)
POWER = _table(("W", 1, "watt watts"), ("kW", 1000, "kilowatt kilowatts"))
TEMPERATURE: dict[str, Unit] = {
    **dict.fromkeys(("°c", "c", "ºc", "℃", "celsius", "deg_c"), Unit("°C", Fraction(1000))),
    **dict.fromkeys(
        ("°f", "f", "ºf", "℉", "fahrenheit", "deg_f"), Unit("°F", Fraction(5000, 9), Fraction(-160_000, 9))
    ),
    "k": Unit("K", Fraction(1000), Fraction(-273_150)),
}
SYMBOLS: dict[str, tuple[str, ...]] = {
    "GBP": ("£",),
    "EUR": ("€",),
    "USD": ("$", "us$"),
    "CAD": ("$", "c$", "ca$"),
    "AUD": ("$", "a$"),
    "NZD": ("$", "nz$"),
    "CHF": ("fr", "fr.", "sfr"),
    "JPY": ("¥",),
    "CNY": ("¥",),
    "SEK": ("kr", "kr."),
    "NOK": ("kr", "kr."),
    "DKK": ("kr", "kr."),
    "ISK": ("kr", "kr."),
    "PLN": ("zł",),
    "CZK": ("kč",),
    "INR": ("₹",),
}


def _fluids(measures: str) -> dict[str, Unit]:
    gallon, ounces = GALLON_MM3[measures], FLUID_OUNCES[measures]
    words = (
        ("fl oz", gallon / ounces, "floz fl.oz. fl._oz. fluid_ounce fluid_ounces"),
        ("cups", gallon / 16, "cup"),
        ("pints", gallon / 8, "pint pt pts"),
        ("quarts", gallon / 4, "quart qt qts"),
        ("gal", gallon, "gals gallon gallons"),
    )
    table = _table(*words)
    table["fl_oz"] = table["fl oz"]
    return table


_VOLUME = {
    measures: {
        **CUBIC,
        **_fluids(measures),
        **{f"us_{name}": unit for name, unit in _fluids("US").items()},
        **{f"imp_{name}": unit for name, unit in _fluids("imperial").items()},
    }
    for measures in GALLON_MM3
}
_FIXED: dict[str, Mapping[str, Unit]] = {
    "mass": MASS,
    "count": COUNT,
    "number": NUMBER,
    "whole": WHOLE,
    "length": LENGTH,
    "duration": DURATION,
    "temperature": TEMPERATURE,
    "pressure": PRESSURE,
    "density": DENSITY,
    "share": SHARE,
    "power": POWER,
}
DIMENSIONS = (*_FIXED, "volume", "money")


def units_of(dimension: str, formats: Formats) -> Mapping[str, Unit]:
    """Return the units that may be typed for a dimension, by their name in small letters.

    Raises KeyError for a dimension that doesn't exist.
    """
    if dimension == "volume":
        return _VOLUME[formats.fluid_measures]
    if dimension == "money":
        unit = Unit(formats.currency, Fraction(1_000_000))
        names = (formats.currency.casefold(), *SYMBOLS.get(formats.currency, ()))
        return dict.fromkeys(names, unit)
    return _FIXED[dimension]


def usual_unit(dimension: str, formats: Formats) -> str:
    """Return the unit a bare number means, unless the field says otherwise: grams, the studio's length ..."""
    usual = {
        "mass": "g",
        "count": "pieces",
        "number": "",
        "whole": "",
        "length": formats.length_unit,
        "volume": "ml",
        "duration": "min",
        "temperature": formats.temperature_unit,
        "pressure": formats.pressure_unit,
        "density": "kg/m³",
        "share": "%",
        "power": "W",
        "money": formats.currency,
    }
    return usual[dimension]
