"""What a person types, and the stored whole number it becomes."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.fields import formats
from studio.fields.formats import Formats
from studio.fields.quantity import DIMENSIONS, NotUnderstood, examples, parse

PLAIN = Formats()
COMMA = Formats(decimal=",", group=".", currency="EUR")
SPACED = Formats(decimal=",", group="\u202f", currency="EUR")
SWISS = Formats(decimal=".", group="'", currency="CHF")
INCHES = Formats(length_unit="in", temperature_unit="°F", pressure_unit="psi", currency="USD")
IMPERIAL = Formats(fluid_measures="imperial")


@pytest.mark.parametrize(
    ("text", "milligrams"),
    [
        ("412", 412_000),
        ("412 g", 412_000),
        ("412g", 412_000),
        ("0.4 kg", 400_000),
        (".4 kg", 400_000),
        ("1,250 g", 1_250_000),
        ("1,250.5", 1_250_500),
        ("2 lb 3 oz", 992_233),
        ("2lb3oz", 992_233),
        ("1 kg 200 g", 1_200_000),
        ("1½ kg", 1_500_000),
        ("1 ½ kg", 1_500_000),
        ("½ kg", 500_000),
        ("1/2 kg", 500_000),
        ("3 1/2 kg", 3_500_000),
        ("3-1/2 kg", 3_500_000),
        ("3 1⁄2 kg", 3_500_000),
        ("2 Kg", 2_000_000),
        ("2 KG", 2_000_000),
        ("1 Lb", 453_592),
        ("1 lb.", 453_592),
        ("  38.4\u00a0g ", 38_400),
        ("0.0006 g", 1),
        ("0.0005 g", 1),
        ("0", 0),
    ],
)
def test_a_weight_is_read(text: str, milligrams: int) -> None:
    assert parse(text, "mass", formats=PLAIN) == milligrams


@pytest.mark.parametrize(
    ("text", "micrometres"),
    [
        ("3 1/2 in", 88_900),
        ('3 1/2"', 88_900),
        ("1½ in", 38_100),
        ('1½"', 38_100),
        ("½ in", 12_700),
        ("3.5 inches", 88_900),
        ("5 ft 6 in", 1_676_400),
        ("5'6\"", 1_676_400),
        ("5′ 6½″", 1_689_100),
        ("5ft 6in", 1_676_400),
        ("88.9", 88_900),
        ("8.9 cm", 89_000),
        ("1 m 20 cm", 1_200_000),
        ("1/64 in", 397),
    ],
)
def test_a_length_is_read(text: str, micrometres: int) -> None:
    assert parse(text, "length", formats=PLAIN) == micrometres


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("1:30 h", 5400),
        ("1:30", 5400),
        ("0:05", 300),
        ("1:30 min", 90),
        ("1:30:15", 5415),
        ("90 min", 5400),
        ("90", 5400),
        ("1 h 30 min", 5400),
        ("1h30m", 5400),
        ("3 h 20", 12_000),
        ("1.5 h", 5400),
        ("2 days", 172_800),
        ("1 d 6 h", 108_000),
        ("¼ h", 900),
    ],
)
def test_a_time_is_read(text: str, seconds: int) -> None:
    assert parse(text, "duration", formats=PLAIN) == seconds


@pytest.mark.parametrize(
    ("text", "dimension", "chosen", "stored"),
    [
        ("12 pcs", "count", PLAIN, 12_000),
        ("12", "count", PLAIN, 12_000),
        ("1 dozen", "count", PLAIN, 12_000),
        ("3 pairs", "count", PLAIN, 6_000),
        ("3 fl oz", "volume", PLAIN, 88_721),
        ("3 fl oz", "volume", IMPERIAL, 85_239),
        ("3 US fl oz", "volume", IMPERIAL, 88_721),
        ("1 imp gal", "volume", PLAIN, 4_546_090),
        ("250", "volume", PLAIN, 250_000),
        ("250 mL", "volume", PLAIN, 250_000),
        ("1.5 l", "volume", PLAIN, 1_500_000),
        ("10 cu in", "volume", PLAIN, 163_871),
        ("10 cm3", "volume", PLAIN, 10_000),
        ("10 cm³", "volume", PLAIN, 10_000),
        ("21.5 °C", "temperature", PLAIN, 21_500),
        ("-5", "temperature", PLAIN, -5_000),
        ("−5 °C", "temperature", PLAIN, -5_000),
        ("217 F", "temperature", PLAIN, 102_778),
        ("32", "temperature", INCHES, 0),
        ("60 psi", "pressure", PLAIN, 413_685),
        ("60", "pressure", INCHES, 413_685),
        ("4", "pressure", PLAIN, 400_000),
        ("29 inHg", "pressure", PLAIN, 98_205),
        ("12.50", "money", PLAIN, 12_500_000),
        ("£12.50", "money", PLAIN, 12_500_000),
        ("12.50 GBP", "money", PLAIN, 12_500_000),
        ("1,140.00", "money", PLAIN, 1_140_000_000),
        ("0.0234", "money", PLAIN, 23_400),
        ("12,50 €", "money", COMMA, 12_500_000),
        ("€ 1.140,00", "money", COMMA, 1_140_000_000),
        ("$5", "money", INCHES, 5_000_000),
        ("Fr. 1'140.50", "money", SWISS, 1_140_500_000),
        ("45", "share", PLAIN, 450_000),
        ("45 %", "share", PLAIN, 450_000),
        ("2.9%", "share", PLAIN, 29_000),
        ("33 1/3 %", "share", PLAIN, 333_333),
        ("1.05 g/ml", "density", PLAIN, 1050),
        ("678", "density", PLAIN, 678),
        ("42.3 lb/ft3", "density", PLAIN, 678),
        ("1.5 kW", "power", PLAIN, 1500),
        ("3 1/2", "number", PLAIN, 3500),
        ("41", "whole", PLAIN, 41),
    ],
)
def test_the_other_kinds_are_read(text: str, dimension: str, chosen: Formats, stored: int) -> None:
    assert parse(text, dimension, formats=chosen) == stored


@pytest.mark.parametrize(
    ("text", "chosen", "milligrams"),
    [
        ("1,5 kg", COMMA, 1_500_000),
        ("1.250 g", COMMA, 1_250_000),
        ("1.250,5 g", COMMA, 1_250_500),
        ("1 250,5 g", SPACED, 1_250_500),
        ("1\u202f250,5 g", SPACED, 1_250_500),
        ("3 1/2 kg", SPACED, 3_500_000),
        ("1'250.5", SWISS, 1_250_500),
        ("1’250.5", SWISS, 1_250_500),
        ("1.5 kg", PLAIN, 1_500_000),
    ],
)
def test_the_decimal_mark_is_the_studios(text: str, chosen: Formats, milligrams: int) -> None:
    assert parse(text, "mass", formats=chosen) == milligrams


@pytest.mark.parametrize(
    ("text", "chosen"),
    [("1,5 kg", PLAIN), ("1.5 kg", COMMA), ("1.250,5 g", PLAIN), ("1,2345", PLAIN), ("0,123", PLAIN)],
)
def test_the_other_decimal_mark_is_refused_and_named(text: str, chosen: Formats) -> None:
    with pytest.raises(NotUnderstood, match="the decimal mark here is a (point|comma)"):
        parse(text, "mass", formats=chosen)


@pytest.mark.parametrize(
    "text",
    [
        "nan", "inf", "-inf", "nan g", "inf g", "infinity", "1e5", "1e5 g", "1_000", "9**9**9", "0x10", "1+1",
        "４１２", "٤١٢", "१२", "412 ml", "412 gg", "g", "412 g g", "3 oz 2 lb", "2 lb 2 lb", "1.5 lb 3 oz",
        "2 lb 3", "1 2", "1.2.3", "1/0", "1/2/3", "3 5/2", "1.5/2", "1/2.5", "½ ½", "5.", "--5", "+5", "5-",
        "12; DROP TABLE", "<b>5</b>", "5\u200bg", "5\x00", "5\ng", "m2", "5 m2", "1:30", "٣ g", "Ⅷ", "²", "1²",
    ],
)  # fmt: skip
def test_nonsense_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(NotUnderstood, match=r"Write it like 412, 0\.4 kg or 2 lb 3 oz\."):
        parse(text, "mass", formats=PLAIN)


@pytest.mark.parametrize("text", ["", "   ", "\u00a0"])
def test_nothing_written_is_said_so(text: str) -> None:
    with pytest.raises(NotUnderstood, match="Nothing is written here"):
        parse(text, "mass", formats=PLAIN)


@pytest.mark.parametrize("text", ["9" * 30, "9" * 30 + " g", "1" + "0" * 16])
def test_thirty_figures_are_refused_with_a_sentence(text: str) -> None:
    with pytest.raises(NotUnderstood, match="more than can be kept"):
        parse(text, "mass", formats=PLAIN)


def test_a_page_of_figures_is_refused_before_it_is_worked_on() -> None:
    with pytest.raises(NotUnderstood, match="far too long"):
        parse("9" * 1_000_000, "mass", formats=PLAIN)


def test_what_would_round_to_nothing_is_refused() -> None:
    with pytest.raises(NotUnderstood, match="finer than can be kept"):
        parse("0.0001 g", "mass", formats=PLAIN)


def test_less_than_nothing_is_refused_unless_the_field_allows_it() -> None:
    with pytest.raises(NotUnderstood, match="less than nothing"):
        parse("-5 g", "mass", formats=PLAIN)
    assert parse("-5 g", "mass", formats=PLAIN, negative=True) == -5000
    with pytest.raises(NotUnderstood, match="less than nothing"):
        parse("-5", "temperature", formats=PLAIN, negative=False)


def test_limits_are_said_in_the_studios_own_units() -> None:
    with pytest.raises(NotUnderstood, match="45\u00a0% is the most here"):
        parse("60", "share", formats=PLAIN, most=450_000)
    with pytest.raises(NotUnderstood, match="0,1\u00a0g is the least here"):
        parse("0,05", "mass", formats=COMMA, least=100)


def test_a_field_may_have_a_unit_of_its_own() -> None:
    assert parse("1600", "length", formats=PLAIN, unit="m") == 1_600_000_000
    assert parse("1.05", "density", formats=PLAIN, unit="g/ml") == 1050
    assert parse("3", "volume", formats=PLAIN, unit="fl oz") == 88_721


def test_a_density_without_its_unit_is_not_taken_for_almost_nothing() -> None:
    with pytest.raises(NotUnderstood, match="can't be a density"):
        parse("1.05", "density", formats=PLAIN)


def test_money_in_another_currency_is_refused() -> None:
    for text in ("$5", "5 €", "5 kr", "USD 5"):
        with pytest.raises(NotUnderstood, match="kept in GBP"):
            parse(text, "money", formats=PLAIN)
    with pytest.raises(NotUnderstood):
        parse("5 ZAR", "money", formats=PLAIN)


def test_a_whole_number_has_no_half() -> None:
    for text in ("1.5", "1/2", "1/3"):
        with pytest.raises(NotUnderstood, match="not a whole number"):
            parse(text, "whole", formats=PLAIN)


def test_the_formats_in_use_are_taken_where_none_are_given() -> None:
    with formats.use(COMMA):
        assert parse("1,5 kg", "mass") == 1_500_000
        assert examples("mass") == ("412", "0,4 kg", "2 lb 3 oz")
    assert parse("1.5 kg", "mass") == 1_500_000


@pytest.mark.parametrize("dimension", DIMENSIONS)
@pytest.mark.parametrize("chosen", [PLAIN, COMMA, SPACED, SWISS, INCHES])
def test_every_example_given_can_be_typed(dimension: str, chosen: Formats) -> None:
    for text in examples(dimension, chosen):
        parse(text, dimension, formats=chosen)


@settings(max_examples=500)
@given(st.text(max_size=80), st.sampled_from(DIMENSIONS))
def test_any_text_is_a_number_or_a_sentence(text: str, dimension: str) -> None:
    try:
        assert isinstance(parse(text, dimension, formats=PLAIN), int)
    except NotUnderstood as refused:
        assert str(refused).endswith(".")


@settings(max_examples=500)
@given(st.text(alphabet="0123456789.,:/-'\" ½gkloznifthm", max_size=20), st.sampled_from(DIMENSIONS))
def test_any_heap_of_figures_and_units_is_a_number_or_a_sentence(text: str, dimension: str) -> None:
    try:
        assert isinstance(parse(text, dimension, formats=SPACED), int)
    except NotUnderstood as refused:
        assert str(refused).endswith(".")
