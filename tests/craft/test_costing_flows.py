"""Layers, shared hours, overhead and expected loss."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.craft.costing import (
    Layer,
    Place,
    applied_overhead,
    fifo,
    moving_average,
    normal_loss,
    over_absorbed,
    overhead_rate,
    share_hours,
    specific,
)

HOUR = 3600
LAYERS = st.lists(st.builds(Layer, st.integers(1, 10**9), st.integers(0, 10**12)), min_size=1, max_size=8)


@settings(max_examples=300)
@given(LAYERS, st.data())
def test_no_value_is_lost_between_what_leaves_and_what_stays(layers: list[Layer], data: st.DataObject) -> None:
    held, worth = sum(layer.amount for layer in layers), sum(layer.value for layer in layers)
    take = data.draw(st.integers(0, held))
    for drawn in (fifo(layers, take), moving_average(layers, take)):
        assert drawn.value + sum(layer.value for layer in drawn.left) == worth
        assert sum(layer.amount for layer in drawn.left) == held - take


def test_taking_everything_leaves_nothing() -> None:
    layers = [Layer(3, 100), Layer(2, 51)]
    assert fifo(layers, 5) == moving_average(layers, 5) == specific(layers, [3, 2])
    assert fifo(layers, 5).left == ()


def test_more_than_there_is_cannot_be_taken() -> None:
    for way in (fifo, moving_average):
        with pytest.raises(ValueError, match="More is taken"):
            way([Layer(3, 100)], 4)
        with pytest.raises(ValueError, match="below zero"):
            way([Layer(3, 100)], -1)
    with pytest.raises(ValueError, match="More is taken"):
        specific([Layer(3, 100), Layer(9, 9)], [4, 0])
    with pytest.raises(ValueError, match="for each purchase"):
        specific([Layer(3, 100)], [1, 1])


def test_two_in_an_oven_share_its_hours() -> None:
    assert share_hours([Place(1, 0, 10), Place(1, 0, 10)], 0, 10) == (5, 5)
    assert share_hours([Place(3, 0, 8), Place(1, 0, 8)], 0, 8) == (6, 2)


def test_one_put_in_late_pays_only_from_then_on() -> None:
    assert share_hours([Place(1, 0, 10 * HOUR), Place(1, 4 * HOUR, 10 * HOUR)], 0, 10 * HOUR) == (
        7 * HOUR,
        3 * HOUR,
    )


def test_one_taken_out_early_or_lost_pays_until_then() -> None:
    assert share_hours([Place(1, 0, 4), Place(1, 0, 10)], 0, 10) == (2, 8)


def test_hours_with_nothing_inside_are_shared_like_the_rest() -> None:
    # Two hours of warming up, then 6 : 2 over eight hours.
    assert share_hours([Place(3, 20, 100), Place(1, 20, 100)], 0, 100) == (75, 25)
    assert share_hours([Place(1, 10, 20), Place(1, 30, 40)], 0, 50) == (25, 25)


def test_leaving_out_the_empty_hours_would_lose_them() -> None:
    only_while_inside = sum(out - put_in for put_in, out in [(10, 20), (30, 40)])
    assert only_while_inside == 20
    assert sum(share_hours([Place(1, 10, 20), Place(1, 30, 40)], 0, 50)) == 50


def test_times_outside_the_load_are_cut_to_it() -> None:
    assert share_hours([Place(1, -50, 500), Place(1, 90, 900)], 0, 100) == (95, 5)
    assert share_hours([Place(1, 200, 300)], 0, 100) == (100,)


def test_times_the_wrong_way_round_are_refused() -> None:
    with pytest.raises(ValueError, match="ends before"):
        share_hours([Place(1, 0, 1)], 10, 0)
    with pytest.raises(ValueError, match="comes out before"):
        share_hours([Place(1, 5, 1)], 0, 10)
    with pytest.raises(ValueError, match="nobody"):
        share_hours([], 0, 10)


@settings(max_examples=400)
@given(
    st.lists(
        st.tuples(st.integers(0, 10**6), st.integers(-100, 10**6), st.integers(0, 10**6)),
        min_size=1,
        max_size=12,
    ).filter(lambda rows: any(weight for weight, _, _ in rows)),
    st.integers(0, 10**6),
)
def test_shared_hours_add_up_to_the_whole_load(rows: list[tuple[int, int, int]], long: int) -> None:
    places = [Place(weight, put_in, put_in + stay) for weight, put_in, stay in rows]
    shares = share_hours(places, 0, long)
    assert sum(shares) == long
    assert min(shares) >= 0


def test_overhead_is_charged_at_the_rate_of_a_normal_year() -> None:
    rate = overhead_rate(7_800_000_000, 1_200 * HOUR)
    assert rate == 6_500_000
    assert applied_overhead(rate, 4 * HOUR) == 26_000_000  # the look's jar: 4 h at 6.50
    assert applied_overhead(rate, 1) == 1_806


def test_a_slow_year_does_not_raise_the_rate() -> None:
    rate = overhead_rate(7_800_000_000, 1_200 * HOUR)
    applied = applied_overhead(rate, 600 * HOUR)
    assert over_absorbed(applied, 7_800_000_000) == -3_900_000_000


def test_overhead_without_hours_is_asked_about() -> None:
    with pytest.raises(ValueError, match="how many hours"):
        overhead_rate(1, 0)
    with pytest.raises(ValueError, match="below zero"):
        overhead_rate(-1, HOUR)
    with pytest.raises(ValueError, match="below zero"):
        applied_overhead(1, -1)


def test_an_unusual_loss_takes_its_cost_out_of_what_is_good() -> None:
    found = normal_loss(1_000, 1_000_000, 800, 100_000)
    assert (found.good_value, found.unusual_amount, found.unusual_value) == (888_889, 100, 111_111)


def test_less_lost_than_expected_is_a_gain() -> None:
    found = normal_loss(2_000, 1_800_000, 1_950, 100_000)
    assert found.unusual_amount == -150
    assert found.good_value + found.unusual_value == 1_800_000
    assert found.unusual_value == -150_000


@pytest.mark.parametrize("given_", [(0, 1, 0, 0), (10, 1, 11, 0), (10, 1, 5, 1_000_000), (1, 1, 0, 999_999)])
def test_a_loss_of_everything_or_more_is_refused(given_: tuple[int, int, int, int]) -> None:
    with pytest.raises(ValueError, match="(must go in|more than what went in)"):
        normal_loss(*given_)
    with pytest.raises(ValueError, match="Scrap"):
        normal_loss(10, 1, 5, 0, scrap_value=2)
