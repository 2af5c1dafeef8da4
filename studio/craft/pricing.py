"""Prices: what must be asked, what an hour then earns, what like pieces fetched.

Money is in millionths of the currency before tax, shares in parts per million, time in seconds.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from .rounding import divide, whole

ALL = 1_000_000


def price_for_net(net: Decimal | int, share: Decimal | float | int) -> Decimal:
    """Return the price at which `net` is left after a share (0 to below 1) is taken off; not rounded.

    The share is taken of the price, so the net is divided by what is left of it, never raised by the share.
    Source: arithmetic (margin, not mark-up).

    Raises ValueError for a net below zero or a share outside 0 to below 1.
    """
    taken = Decimal(str(share))
    if not taken.is_finite() or not 0 <= taken < 1:
        raise ValueError("A share is at least nothing and less than all: 0.45 for 45 %.")
    if net < 0:
        raise ValueError("What is to be left can't be below zero.")
    return Decimal(net) / (1 - taken)


def lowest_ask(all_in_micro: int, cost_to_sell_micro: int, share_ppm: int, card_ppm: int = 0) -> int:
    """Return the lowest price that loses nothing: (all in + cost to sell) / (1 − share − card rate).

    Before tax, half up to a millionth. Source: arithmetic.
    Raises ValueError when share and card rate leave nothing, or a figure is below zero.
    """
    left = _left(share_ppm, card_ppm)
    if all_in_micro < 0 or cost_to_sell_micro < 0:
        raise ValueError("Costs can't be below zero.")
    return divide((all_in_micro + cost_to_sell_micro) * ALL, left)


def net_of(price_micro: int, share_ppm: int, card_ppm: int = 0) -> int:
    """Return what is left of a price after the gallery's share and the card rate, half up to a millionth.

    Source: arithmetic. Raises ValueError when share and card rate leave nothing.
    """
    return divide(price_micro * _left(share_ppm, card_ppm), ALL)


def wage_per_hour(price_micro: int, share_ppm: int, card_ppm: int, other_costs_micro: int, own_seconds: int) -> int:
    """Return what an hour of the maker's own earns at a price; below zero when it costs to work.

    (price · (1 − share − card rate) − every cost except own labour) / own hours; half up to a millionth.
    Source: arithmetic. Raises ValueError without hours, or when share and card rate leave nothing.
    """
    if own_seconds <= 0:
        raise ValueError("No hours of your own are booked on it yet.")
    left = price_micro * _left(share_ppm, card_ppm) - other_costs_micro * ALL
    return divide(left * 3600, own_seconds * ALL)


def up_to(price_micro: int, step_micro: int) -> int:
    """Return a price raised to the next whole step (731 to 735 on fives). Raises ValueError at no step."""
    if step_micro <= 0:
        raise ValueError("The step must be above zero.")
    return -(-price_micro // step_micro) * step_micro


def with_tax(before_micro: int, tax_ppm: int, coin_micro: int) -> int:
    """Return what a shopper pays for a price before tax, half up to the smallest coin. Source: arithmetic."""
    return divide(before_micro * (ALL + tax_ppm), ALL * coin_micro) * coin_micro


def before_tax(shown_micro: int, tax_ppm: int, coin_micro: int) -> int:
    """Return the price before tax that `with_tax` shows as exactly this whole number of coins.

    In whole coins where one of them does; where none does (25.5 % on top leaps over some prices), to the
    millionth, half up. Source: arithmetic.
    """
    near = divide(shown_micro * ALL, (ALL + tax_ppm) * coin_micro) * coin_micro
    if with_tax(near, tax_ppm, coin_micro) == shown_micro:
        return near
    return divide(shown_micro * ALL, ALL + tax_ppm)


@dataclass(frozen=True)
class Spread:
    """Prices of like pieces: how many, the lowest, the middle half, the middle, the highest."""

    count: int
    lowest: int
    quarter: int
    middle: int
    three_quarters: int
    highest: int


def spread(prices_micro: Sequence[int]) -> Spread | None:
    """Return how the prices of like pieces are spread; None when there are none.

    Source: quantiles by straight lines between ordered values (R. J. Hyndman and Y. Fan 1996, type 7).
    """
    if not prices_micro:
        return None
    ordered = sorted(prices_micro)

    def at(share: Fraction) -> int:
        place = share * (len(ordered) - 1)
        below = int(place)
        above = min(below + 1, len(ordered) - 1)
        return whole(ordered[below] + (place - below) * (ordered[above] - ordered[below]))

    quarters = (at(Fraction(n, 4)) for n in range(5))
    return Spread(len(ordered), *quarters)


def _left(share_ppm: int, card_ppm: int) -> int:
    if share_ppm < 0 or card_ppm < 0:
        raise ValueError("A share can't be below zero.")
    left = ALL - share_ppm - card_ppm
    if left <= 0:
        raise ValueError("The gallery's share and the card rate leave nothing of the price.")
    return left
