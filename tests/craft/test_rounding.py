from decimal import Decimal
from fractions import Fraction

import pytest

from studio.craft import rounding


@pytest.mark.parametrize(
    ("top", "bottom", "expected"),
    [
        (1, 2, 1),
        (3, 2, 2),
        (5, 4, 1),
        (7, 4, 2),
        (-1, 2, -1),
        (-5, 4, -1),
        (-3, 2, -2),
        (1, -2, -1),
        (0, 9, 0),
    ],
)
def test_half_goes_up_away_from_nothing(top: int, bottom: int, expected: int) -> None:
    assert rounding.divide(top, bottom) == expected


def test_an_eighth_of_a_unit_goes_up_where_bankers_rounding_goes_down() -> None:
    assert rounding.to_coin(125_000) == 130_000
    assert round(Decimal("0.125"), 2) == Decimal("0.12")  # what the language would do by itself


def test_millionths_become_the_coins_of_each_currency() -> None:
    assert rounding.coins(1_234_567_890) == 123_457
    assert rounding.coins(1_234_567_890, 0) == 1235
    assert rounding.coins(1_234_567_890, 3) == 1_234_568
    assert rounding.from_coins(1235, 0) == 1_235_000_000
    with pytest.raises(ValueError, match="between 0 and 6"):
        rounding.coins(1, 7)


def test_a_fraction_rounds_as_its_division_does() -> None:
    assert rounding.whole(Fraction(5, 2)) == 3
    assert rounding.whole(Fraction(-5, 2)) == -3


def test_grams_land_on_the_step_of_the_scale() -> None:
    assert rounding.decimal_half_up(Decimal("33.25"), Decimal("0.1")) == Decimal("33.3")
    assert str(rounding.decimal_half_up(Decimal("33"), Decimal("0.1"))) == "33.0"
    assert rounding.decimal_half_up(Decimal("33.5"), Decimal("5")) == Decimal("35")
    with pytest.raises(ValueError, match="above zero"):
        rounding.decimal_half_up(Decimal(1), Decimal(0))
