from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.craft import pricing, yields

CASH = 1_000_000


def test_the_figures_of_the_look_come_out() -> None:
    assert pricing.lowest_ask(369_600_000, 0, 450_000) == 672 * CASH
    assert pricing.wage_per_hour(730 * CASH, 450_000, 0, 173_600_000, 7 * 3600) == 32_557_143  # 32.56
    assert pricing.net_of(730 * CASH, 450_000) == 401_500_000


@settings(max_examples=300)
@given(st.integers(0, 10**12), st.integers(0, 10**10), st.integers(0, 900_000), st.integers(0, 99_000))
def test_at_the_lowest_ask_nothing_is_lost_and_nothing_earned(cost: int, selling: int, share: int, card: int) -> None:
    ask = pricing.lowest_ask(cost, selling, share, card)
    assert abs(pricing.net_of(ask, share, card) - cost - selling) <= 1


def test_adding_the_share_to_the_cost_would_ask_too_little() -> None:
    added = 300 * (1 + Decimal("0.4"))
    assert added == 420
    assert pricing.price_for_net(300, 0.4) == 500


@pytest.mark.parametrize("share", [1, 1.5, -0.1, 40, "nan"])
def test_a_share_of_everything_is_refused(share: float) -> None:
    with pytest.raises(ValueError, match="0.45 for 45 %"):
        pricing.price_for_net(300, share)
    with pytest.raises(ValueError, match="leave nothing"):
        pricing.lowest_ask(1, 1, 970_001, 30_000)
    with pytest.raises(ValueError, match="below zero"):
        pricing.lowest_ask(1, 1, -1)
    with pytest.raises(ValueError, match="below zero"):
        pricing.price_for_net(-1, 0.4)


def test_an_hour_may_cost_instead_of_earn() -> None:
    assert pricing.wage_per_hour(100 * CASH, 500_000, 0, 64 * CASH, 7 * 3600) == -2 * CASH
    with pytest.raises(ValueError, match="No hours"):
        pricing.wage_per_hour(100 * CASH, 0, 0, 0, 0)


def test_a_price_is_raised_to_a_round_figure() -> None:
    assert pricing.up_to(731 * CASH, 5 * CASH) == 735 * CASH
    assert pricing.up_to(735 * CASH, 5 * CASH) == 735 * CASH
    with pytest.raises(ValueError, match="step"):
        pricing.up_to(1, 0)


def test_like_pieces_are_spread_by_straight_lines() -> None:
    assert pricing.spread([]) is None
    assert pricing.spread([5]) == pricing.Spread(1, 5, 5, 5, 5, 5)
    assert pricing.spread([40, 10, 20, 30]) == pricing.Spread(4, 10, 18, 25, 33, 40)


def test_early_losses_cost_less_than_late_ones() -> None:
    costs, shares = (40, 10, 30, 60), (0.85, 0.95, 0.90, 0.92)
    late = yields.loaded_cost(costs, (*shares[:3], 0.82))
    early = yields.loaded_cost(costs, (0.75, *shares[1:]))
    assert yields.loaded_cost(costs, shares) < early < late


def test_what_is_never_lost_carries_only_itself() -> None:
    assert yields.loaded_cost((Decimal("40.50"), 10), (1, 1)) == Decimal("50.50")
    assert yields.loaded_cost((), ()) == 0
    assert yields.loaded_cost_micro((100,), (Fraction(1, 3),)) == 300


def test_a_yield_is_the_decimal_one_would_write() -> None:
    assert yields.loaded_cost((9,), (0.9,)) == 10


@pytest.mark.parametrize("bad", [((1,), (0.0,)), ((1,), (1.1,)), ((1, 2), (0.5,)), ((-1,), (0.5,))])
def test_impossible_yields_are_refused(bad: tuple) -> None:
    with pytest.raises(ValueError, match=r"[a-z0-9]\.$"):
        yields.loaded_cost(*bad)


@settings(max_examples=300)
@given(st.integers(0, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_range_holds_the_share_seen(pair: tuple[int, int]) -> None:
    good, tried = pair
    low, high = yields.wilson(good, tried)
    assert 0 <= low <= (good / tried if tried else 0.5) <= high <= 1
    mirrored = yields.wilson(tried - good, tried)
    assert mirrored == pytest.approx((1 - high, 1 - low))


def test_nothing_tried_says_nothing() -> None:
    assert yields.wilson(0, 0) == (0, 1)
    with pytest.raises(ValueError, match="No more can be good"):
        yields.wilson(2, 1)
    with pytest.raises(ValueError, match="Confidence"):
        yields.wilson(1, 2, 1)
