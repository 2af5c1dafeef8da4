"""Cost arithmetic against textbooks. OS1, OS2: OpenStax Principles of Accounting, volumes 1 and 2 (2019)."""

import pytest

from studio.craft.costing import (
    Layer,
    applied_overhead,
    fifo,
    moving_average,
    normal_loss,
    over_absorbed,
    overhead_rate,
    specific,
)

UNIT, CASH, HOUR = 1000, 1_000_000, 3600
FIRST, SECOND, THIRD = (Layer(n * UNIT, n * price * CASH) for n, price in ((150, 21), (225, 27), (210, 33)))
SALES = 120 * 36 + 180 * 39


def test_specific_identification() -> None:
    # OS1 10.3: 120 of the first; then 20 of the first and 160 of the second.
    one = specific([FIRST], [120 * UNIT])
    two = specific([*one.left, SECOND], [20 * UNIT, 160 * UNIT])
    sold = one.value + two.value
    left = sum(layer.value for layer in (*two.left, THIRD))
    assert (sold, left, SALES * CASH - sold) == (7_260 * CASH, 8_895 * CASH, 4_080 * CASH)


def test_first_in_first_out() -> None:
    one = fifo([FIRST], 120 * UNIT)
    two = fifo([*one.left, SECOND], 180 * UNIT)
    sold = one.value + two.value
    left = sum(layer.value for layer in (*two.left, THIRD))
    assert (sold, left, SALES * CASH - sold) == (7_200 * CASH, 8_955 * CASH, 4_140 * CASH)


def test_moving_average() -> None:
    # Rounded in the book to 26.29 and 31.24, 7,253, 8,902 and 4,087; unrounded 7,252.94, 8,902.06, 4,087.06.
    one = moving_average([FIRST], 120 * UNIT)
    held = [*one.left, SECOND]
    average = sum(layer.value for layer in held) / sum(layer.amount for layer in held) * UNIT / CASH
    two = moving_average(held, 180 * UNIT)
    sold = one.value + two.value
    left = sum(layer.value for layer in (*two.left, THIRD))
    amount = sum(layer.amount for layer in (*two.left, THIRD))
    assert average == pytest.approx(26.294118, abs=1e-6)
    assert sold / CASH == pytest.approx(7_252.94, abs=0.005)
    assert left / CASH == pytest.approx(8_902.06, abs=0.005)
    assert SALES - sold / CASH == pytest.approx(4_087.06, abs=0.005)
    assert left / amount * UNIT / CASH == pytest.approx(31.235294, abs=1e-6)


def test_overhead_applied_at_a_normal_years_rate() -> None:
    # OS2 4.6: 33.50 an hour for 6,240 hours is 209,040.
    assert applied_overhead(33_500_000, 6_240 * HOUR) == 209_040 * CASH


def test_overhead_over_and_under_absorbed() -> None:
    # OS2 6.3: 1,000,000 over 500,000 h is 2; 490,000 h apply 980,000 against 950,000 spent: 30,000 over.
    rate = overhead_rate(1_000_000 * CASH, 500_000 * HOUR)
    assert rate == 2 * CASH
    assert over_absorbed(applied_overhead(rate, 490_000 * HOUR), 950_000 * CASH) == 30_000 * CASH
    # 750,000 over 15,000 requests is 50; 15,500 apply 775,000 against 780,000: 5,000 under.
    rate = overhead_rate(750_000 * CASH, 15_000 * HOUR)
    assert over_absorbed(applied_overhead(rate, 15_500 * HOUR), 780_000 * CASH) == -5_000 * CASH


def test_normal_capacity_sets_the_charge() -> None:
    # Study text on AS 2, illustration 4: 20,00,000 over 2,00,000 is 10 a kilogram, whatever was made.
    assert overhead_rate(2_000_000 * CASH, 200_000 * HOUR) == 10 * CASH


def test_normal_and_unusual_waste() -> None:
    # Study text on AS 2, illustration 3: 5,000 t at 1,000, 5 % normal, 300 wasted.
    found = normal_loss(5_000 * UNIT, 5_000_000 * CASH, 4_700 * UNIT, 50_000)
    assert found.unusual_amount == 50 * UNIT
    assert found.good_value / CASH == pytest.approx(4_947_368.42, abs=0.005)
    assert found.unusual_value / CASH == pytest.approx(52_631.58, abs=0.005)
    assert found.unit_numerator / found.unit_denominator * UNIT / CASH == pytest.approx(1052.6316, abs=1e-4)


def test_process_loss_and_gain() -> None:
    # CAT-FMA course notes: 52,800 / (3,000 − 300) = 19.56; 1,000 in, 10 %, 800 out: 100 unusual; 1,950 of
    # 2,000 out: 150 gained.
    found = normal_loss(3_000, 52_800 * CASH, 2_700, 100_000)
    assert found.unit_numerator / found.unit_denominator / CASH == pytest.approx(19.5556, abs=1e-4)
    assert normal_loss(1_000, CASH, 800, 100_000).unusual_amount == 100
    assert normal_loss(2_000, CASH, 1_950, 100_000).unusual_amount == -150
