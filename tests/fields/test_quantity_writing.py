"""Stored quantities written back: for reading, and into an input box."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.fields.formats import NUMBER_FORMATS, Formats, coin_digits
from studio.fields.quantity import DIMENSIONS, NotUnderstood, parse, show, typed

PLAIN = Formats()
COMMA = Formats(decimal=",", group=".", currency="EUR")
INCHES = Formats(length_unit="in", temperature_unit="°F", pressure_unit="psi", currency="USD")
YEN = Formats(currency="JPY", coin_digits=0)


def written(*args: object, **kwargs: object) -> str:
    return show(*args, **kwargs).replace("\u00a0", " ")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("value", "dimension", "chosen", "text"),
    [
        (412_000, "mass", PLAIN, "412 g"),
        (1_274_000, "mass", PLAIN, "1274 g"),
        (38_400, "mass", COMMA, "38,4 g"),
        (38_450, "mass", PLAIN, "38.5 g"),
        (6_250, "mass", PLAIN, "6.25 g"),
        (0, "mass", PLAIN, "0 g"),
        (88_900, "length", PLAIN, "88.9 mm"),
        (88_900, "length", INCHES, "3 1/2 in"),
        (12_700, "length", INCHES, "1/2 in"),
        (25_400, "length", INCHES, "1 in"),
        (100_000, "length", INCHES, "3.94 in"),
        (21_500, "temperature", PLAIN, "21.5 °C"),
        (102_778, "temperature", INCHES, "217 °F"),
        (-5_000, "temperature", PLAIN, "−5 °C"),
        (413_685, "pressure", INCHES, "60 psi"),
        (413_685, "pressure", PLAIN, "4.14 bar"),
        (450_000, "share", PLAIN, "45 %"),
        (29_000, "share", PLAIN, "2.9 %"),
        (12_000, "count", PLAIN, "12 pieces"),
        (1_000, "count", PLAIN, "1 piece"),
        (1_500_000, "volume", PLAIN, "1500 ml"),
        (678, "density", PLAIN, "678 kg/m³"),
        (12_000, "duration", PLAIN, "3 h 20"),
        (14_400, "duration", PLAIN, "4 h"),
        (2_400, "duration", PLAIN, "40 min"),
        (40, "duration", PLAIN, "40 s"),
        (223_200, "duration", PLAIN, "62 h"),
        (453_600, "duration", PLAIN, "5 days 6 h"),
        (1_140_000_000, "money", PLAIN, "1,140.00"),
        (1_140_005_000, "money", COMMA, "1.140,01"),
        (1_140_500_000, "money", YEN, "1,141"),
        (-5_000_000, "money", PLAIN, "−5.00"),
        (1_500, "number", PLAIN, "1.5"),
    ],
)
def test_a_stored_figure_is_written_as_the_studio_writes(
    value: int, dimension: str, chosen: Formats, text: str
) -> None:
    assert written(value, dimension, formats=chosen) == text


def test_unit_digits_and_marks_can_be_asked_for() -> None:
    assert written(1_600_000_000, "length", formats=PLAIN, unit="m") == "1600 m"
    assert written(23_400, "money", formats=PLAIN, digits=4) == "0.0234"
    assert written(12_500_000, "money", formats=PLAIN, with_unit=True) == "12.50 GBP"
    assert written(412_000, "mass", formats=PLAIN, unit="oz") == "14.5 oz"
    assert written(1_274_000, "mass", formats=PLAIN, grouped=True, with_unit=False) == "1,274"
    assert written(412_000, "mass", formats=PLAIN, digits=2) == "412.00 g"


def test_the_number_and_its_unit_never_part_at_the_end_of_a_line() -> None:
    assert show(412_000, "mass", formats=PLAIN) == "412\u00a0g"


EXACT_UNITS = [dimension for dimension in DIMENSIONS if dimension != "density"]


@settings(max_examples=600)
@given(st.integers(0, 10**12), st.sampled_from(EXACT_UNITS), st.sampled_from([PLAIN, COMMA, INCHES]))
def test_what_stands_in_a_box_reads_back_to_the_same_figure(value: int, dimension: str, chosen: Formats) -> None:
    if dimension == "duration":
        value %= 10**8
    if chosen.coin_digits == 0:
        value -= value % 1_000_000
    assert parse(typed(value, dimension, formats=chosen), dimension, formats=chosen) == value


@settings(max_examples=200)
@given(st.integers(1, 10**10))
def test_a_figure_in_a_box_in_another_unit_reads_back_too(value: int) -> None:
    for unit in ("lb", "kg", "oz"):
        assert parse(typed(value, "mass", formats=PLAIN, unit=unit), "mass", formats=PLAIN, unit=unit) == value


def test_a_box_shows_what_one_would_type() -> None:
    assert typed(88_900, "length", formats=INCHES) == "3 1/2"
    assert typed(12_500_000, "money", formats=PLAIN) == "12.50"
    assert typed(38_400, "mass", formats=COMMA) == "38,4"
    assert typed(5_400, "duration", formats=PLAIN).replace("\u00a0", " ") == "1:30 h"
    assert typed(450_000, "share", formats=PLAIN) == "45"
    assert typed(1050, "density", formats=PLAIN, unit="g/ml") == "1.05"


def test_a_studio_picks_one_of_the_known_ways_to_write() -> None:
    for decimal, group in NUMBER_FORMATS.values():
        Formats(decimal=decimal, group=group)
    with pytest.raises(ValueError, match="one of these ways"):
        Formats(decimal=",", group=",")
    with pytest.raises(ValueError, match="none of"):
        Formats(length_unit="cubit")
    with pytest.raises(ValueError, match="between 0 and 6"):
        Formats(coin_digits=9)


def test_the_smallest_coin_of_a_currency_is_known() -> None:
    assert [coin_digits(code) for code in ("GBP", "JPY", "KWD")] == [2, 0, 3]


def test_a_refusal_is_a_plain_value_error() -> None:
    assert issubclass(NotUnderstood, ValueError)
