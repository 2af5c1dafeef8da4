"""Prices after a gallery's share. Sources named at each check."""

from decimal import Decimal

import pytest

from studio.craft import pricing


def test_net_wanted_divided_by_what_the_share_leaves() -> None:
    # Arithmetic of margins: 300 wanted at 40 % is 500.00; at 50 % the price is double (keystone).
    assert pricing.price_for_net(Decimal(300), Decimal("0.4")) == Decimal("500.00")
    assert pricing.price_for_net(300, 0.4) == 500
    assert pricing.price_for_net(300, 0.5) == 600


def test_forty_percent_is_not_one_point_four() -> None:
    # Trade notes: at 40 % divide by .6, which is × 1.667, not × 1.4.
    assert pricing.price_for_net(1, 0.4) == pytest.approx(Decimal("1.667"), abs=Decimal("0.0005"))


def test_a_price_that_nets_its_cost_after_ten_percent() -> None:
    # Study text on AS 2, illustration 2: 11,00,000 less 10 % leaves 9,90,000, below a cost of 10,00,000.
    assert pricing.net_of(1_100_000_000_000, 100_000) == 990_000_000_000
    assert pricing.lowest_ask(1_000_000_000_000, 0, 100_000) > 1_100_000_000_000
