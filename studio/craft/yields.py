"""How many come through, and what the good ones carry for the rest."""

import math
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from statistics import NormalDist

from .rounding import whole

Share = float | Decimal | Fraction


def wilson(good: int, tried: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return (low, high) for the share that comes through, from `good` out of `tried`.

    Nothing tried: anything is possible, (0, 1). All or none good: that end is exactly 1 or 0.
    Source: E. B. Wilson 1927, the score interval without continuity correction; tabled by R. G. Newcombe,
    Statistics in Medicine 17 (1998) 857, method 3.

    Raises ValueError when more are good than were tried or confidence is outside 0 to 1.
    """
    if tried < 0 or not 0 <= good <= tried:
        raise ValueError("No more can be good than were tried.")
    if not 0 < confidence < 1:
        raise ValueError("Confidence lies between 0 and 1.")
    if tried == 0:
        return (0.0, 1.0)
    z = NormalDist().inv_cdf((1 + confidence) / 2)
    share = good / tried
    middle = (share + z * z / (2 * tried)) / (1 + z * z / tried)
    half = z / (1 + z * z / tried) * math.sqrt(share * (1 - share) / tried + z * z / (4 * tried * tried))
    low = 0.0 if good == 0 else max(0.0, middle - half)
    high = 1.0 if good == tried else min(1.0, middle + half)
    return (low, high)


def rolled(step_yields: Sequence[Share]) -> Share:
    """Return the share that comes through all steps: the product of the steps' shares (1 for no steps).

    Source: rolled throughput yield, common in quality work. Raises ValueError for a share outside 0 to 1.
    """
    _check(step_yields)
    return math.prod(step_yields)


def loaded_cost(step_costs: Sequence[int | Decimal], step_yields: Sequence[Share]) -> Decimal:
    """Return what one good piece carries when each step's cost is also spent on those lost at it or later.

    Each step's cost is divided by the product of its own and all later yields; not rounded. A yield given as
    a float is taken as the decimal one would write.
    Source: own derivation (a good piece pays for what it took to get one).

    Raises ValueError when the lists differ in length, a cost is below zero, or a yield is not in (0, 1].
    """
    exact = _loaded(step_costs, step_yields)
    return Decimal(exact.numerator) / Decimal(exact.denominator)


def loaded_cost_micro(step_costs: Sequence[int], step_yields: Sequence[Share]) -> int:
    """Return `loaded_cost` of whole millionths as whole millionths, half up. Raises ValueError as it does."""
    return whole(_loaded(step_costs, step_yields))


def _loaded(step_costs: Sequence[int | Decimal], step_yields: Sequence[Share]) -> Fraction:
    _check(step_yields)
    if len(step_costs) != len(step_yields):
        raise ValueError("Give each step its cost and its yield.")
    if any(cost < 0 for cost in step_costs):
        raise ValueError("A step can't cost less than nothing.")
    if any(share == 0 for share in step_yields):
        raise ValueError("When nothing comes through a step, no piece can carry its cost.")
    total, coming = Fraction(0), Fraction(1)
    for cost, share in zip(reversed(step_costs), reversed(step_yields), strict=True):
        coming *= Fraction(str(share)) if isinstance(share, float) else Fraction(share)
        total += Fraction(cost) / coming
    return total


def _check(step_yields: Sequence[Share]) -> None:
    if not all(0 <= share <= 1 for share in step_yields):
        raise ValueError("A yield is a share: between 0 and 1.")
