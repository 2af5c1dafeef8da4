from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.craft import mix


def grams(*values: str) -> tuple[Decimal, ...]:
    return tuple(map(Decimal, values))


@settings(max_examples=300)
@given(
    st.integers(10, 10**6),
    st.lists(st.integers(1, 200), min_size=2, max_size=4),
    st.sampled_from(["1", "0.1", "0.5", "0.01"]),
)
def test_parts_add_up_and_none_is_a_step_off(total: int, parts: list[int], step: str) -> None:
    try:
        shares = mix.split_by_weight(total, parts, Decimal(step))
    except ValueError:
        assert total * min(parts) < sum(parts)
        return
    assert sum(shares) == total
    for share, part in zip(shares, parts, strict=True):
        assert share % Decimal(step) == 0
        assert abs(Fraction(share) - Fraction(total * part, sum(parts))) < Fraction(step)


def test_a_total_between_two_steps_is_brought_to_the_scale_first() -> None:
    assert mix.split_by_weight("1000.04", (1, 1), "0.1") == grams("500.0", "500.0")
    assert mix.split_by_weight(1274.0, (100, 100), 1) == grams("637", "637")


@pytest.mark.parametrize("bad", [(0, (1, 1), 1), (10, (1, 0), 1), (10, (), 1), (10, (1, 1), 0)])
def test_nothing_to_weigh_is_refused(bad: tuple) -> None:
    with pytest.raises(ValueError, match="above zero"):
        mix.split_by_weight(*bad)


@pytest.mark.parametrize("bad", ["NaN", "Infinity", float("nan")])
def test_what_is_no_number_is_refused(bad: object) -> None:
    with pytest.raises(ValueError, match="not a number"):
        mix.split_by_weight(bad, (1, 1), 1)  # type: ignore[arg-type]


def test_a_scale_too_coarse_for_the_small_part_is_refused() -> None:
    with pytest.raises(ValueError, match="too little for this scale"):
        mix.split_by_weight(20, (100, 2), 1)


def test_after_too_much_of_the_first_the_second_is_raised() -> None:
    assert mix.after_overshoot((1, 1), 641, 0) == grams("641", "641")
    assert mix.after_overshoot((100, 44), 431, 0, "0.1") == grams("431", "189.6")
    assert mix.after_overshoot((100, 44), "200", 1) == grams("455", "200")


def test_the_good_range_is_what_the_scale_can_hit_inside_the_tolerance() -> None:
    low, high = mix.good_range((1, 1), 641, 10_000)
    assert (641 + low, 641 + high) == (1276, 1288)  # the figures of the pour in the look
    for edge in (low, high):
        assert abs(mix.ratio_error_ppm((1, 1), (641, edge))) <= 10_000
    assert abs(mix.ratio_error_ppm((1, 1), (641, high + 1))) > 10_000


def test_a_scale_that_cannot_hold_the_tolerance_says_so() -> None:
    with pytest.raises(ValueError, match="finer"):
        mix.good_range((100, 45), 10, 10_000)


def test_a_wrong_mix_is_put_right_by_adding_only() -> None:
    assert mix.rescue((1, 1), (431, 400)) == grams("0", "31")
    assert mix.rescue((100, 50, 10), (100, 60, 0)) == grams("20", "0", "12")
    with pytest.raises(ValueError, match="what was poured"):
        mix.rescue((1, 1), (0, 0))


def test_the_scarcer_part_decides_how_much_can_be_mixed() -> None:
    assert mix.mixable_mg((1, 1), (2_060_000, 9_000_000)) == 4_120_000
    assert mix.mixable_mg((100, 44), (1_000_000, 100_000)) == 327_272
    assert mix.mixable_mg((1, 1), (0, 5)) == 0


@settings(max_examples=200)
@given(st.integers(1, 10**9), st.integers(1, 10**9), st.integers(1, 100), st.integers(1, 100))
def test_what_can_be_mixed_is_there(a_left: int, b_left: int, a: int, b: int) -> None:
    total = mix.mixable_mg((a, b), (a_left, b_left))
    assert Fraction(total * a, a + b) <= a_left
    assert Fraction(total * b, a + b) <= b_left
    assert min(a_left - Fraction(total * a, a + b), b_left - Fraction(total * b, a + b)) < 101


def test_weight_and_volume_ratios_turn_into_each_other() -> None:
    by_weight = mix.parts_by_weight((2, 1), (1150, 1000))
    assert mix.parts_by_volume(by_weight, (1150, 1000)) == (2, 1)
    with pytest.raises(ValueError, match="density"):
        mix.parts_by_weight((1, 1), (1150,))


def test_limits_of_the_data_sheet_are_named() -> None:
    found = mix.batch_limits(
        total_mg=50_000, least_mg=100_000, depth_um=60_000, most_depth_um=50_000,
        colorant_mg=2_600, most_colorant_ppm=50_000,
    )  # fmt: skip
    assert [limit.code for limit in found] == ["too little", "too deep", "too much colour"]
    assert [limit.code for limit in mix.batch_limits(total_mg=9, most_mg=8)] == ["too much"]
    assert mix.batch_limits(total_mg=50_000) == ()
    assert mix.batch_limits(total_mg=50_000, colorant_mg=2_500, most_colorant_ppm=50_000) == ()


def test_the_rule_of_ten_degrees_is_not_stretched() -> None:
    assert mix.work_time_s(600, 25_000, 15_000) == 1200
    with pytest.raises(ValueError, match="between −1 and 49"):
        mix.work_time_s(600, 25_000, 60_000)
    with pytest.raises(ValueError, match="above zero"):
        mix.work_time_s(0, 25_000, 25_000)
