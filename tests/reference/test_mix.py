"""Weighing two parts. Sources named at each check."""

from decimal import Decimal

import pytest

from studio.craft import mix


def test_parts_by_weight_on_a_one_gram_scale() -> None:
    # 100 : 90 by weight is what 1 : 1 by volume comes to (a supplier's sheet).
    assert mix.split_by_weight(1000, (100, 90), 1) == (Decimal(526), Decimal(474))
    assert mix.split_by_weight(500, (100, 44), 1) == (Decimal(347), Decimal(153))


def test_parts_by_weight_on_a_tenth_of_a_gram() -> None:
    assert mix.split_by_weight(1000, (100, 90), "0.1") == (Decimal("526.3"), Decimal("473.7"))
    assert mix.split_by_weight(100, (2, 1), "0.1") == (Decimal("66.7"), Decimal("33.3"))


@pytest.mark.parametrize(("total", "step"), [(100, "1"), (10, "0.1")])
def test_the_scale_alone_holds_a_hundred_grams_to_two_percent(total: int, step: str) -> None:
    # Common practice: with a 1 g scale 100 g of 1 : 1 holds ± 2 % from rounding alone, a 0.1 g scale 10 g.
    half = Decimal(total) / 2
    off = half + Decimal(step) / 2, half - Decimal(step) / 2
    assert abs(mix.ratio_error_ppm((1, 1), off)) <= 20_300


def test_1005_to_1000_is_within_one_percent_and_half_a_pound_in_ten_is_not() -> None:
    # Common practice among casters.
    assert mix.ratio_error_ppm((1, 1), (1000, 1005)) == 5_000
    assert abs(mix.ratio_error_ppm((1, 1), (1005, 1000))) < 10_000
    assert mix.ratio_error_ppm((1, 1), ("10", "10.5")) == 50_000


def test_equal_by_weight_is_not_equal_by_volume() -> None:
    # The denser part fills less: epoxy resin 1.15, hardener 1.00.
    first, second = mix.parts_by_volume((1, 1), (1150, 1000))
    assert second > first
    by_weight = mix.parts_by_weight((1, 1), (1000, 900))
    assert by_weight == (1, Decimal("0.9"))
    # Mixed one to one by weight where one to one by volume is meant, it is 11 % off.
    assert mix.ratio_error_ppm((100, 90), (1, 1)) == pytest.approx(111_111, abs=1)


def test_an_error_of_the_ratio_is_the_same_error_of_the_index() -> None:
    # A/B ratio off by + 2 %: index 1.02 (derived from equivalents, which cancel).
    assert mix.ratio_error_ppm((100, 90), (1000, 918)) == 20_000


def test_ten_degrees_halve_the_work_time() -> None:
    # Adhesive maker's page: 25 °C gel 10 min, cure 60; 35 °C 5 and 30; 45 °C 2.5 and 15.
    for stated, at_35, at_45 in ((600, 300, 150), (3600, 1800, 900)):
        assert mix.work_time_s(stated, 25_000, 35_000) == at_35
        assert mix.work_time_s(stated, 25_000, 45_000) == at_45
