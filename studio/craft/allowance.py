"""How much more to mix than the mould is reckoned to take, from what a studio's own pours took.

Shares in parts per million, masses in milligrams.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

# From so many pours on this studio's own figures lead. *Common practice, no source*.
ENOUGH = 5
# How far pours scatter about what was reckoned before any was seen, and how many pours that belief weighs.
PRIOR_SPREAD, PRIOR_MEAN_WEIGHT, PRIOR_SPREAD_WEIGHT = 0.05, 2, 4
MOST_PPM = 1_000_000


@dataclass(frozen=True)
class Past:
    """One pour: what the moulds were reckoned to take without any allowance, and what was needed in the end,
    what stays in the cup with it."""

    reckoned_mg: int
    needed_mg: int


@dataclass(frozen=True)
class Allowance:
    """`ppm` on top of what is reckoned. `learned`: from `count` pours of this studio, else the figure it gave."""

    ppm: int
    count: int
    learned: bool


def enough_share(short_cost: float, leftover_cost: float) -> float:
    """Return the share of pours that should be enough, from what a gram short and a gram left over cost.

    Source: the critical ratio of the newsvendor problem, Cu / (Cu + Co). Raises ValueError unless both are above 0.
    """
    if short_cost <= 0 or leftover_cost <= 0:
        raise ValueError("Running short and leaving some over both cost something.")
    return short_cost / (short_cost + leftover_cost)


def allowance(pasts: Sequence[Past], *, enough: float, given_ppm: int) -> Allowance:
    """Return the allowance that lets a share `enough` of the pours come out without running short.

    Below `ENOUGH` pours the studio's own `given_ppm` stays. From there the logarithms of needed over reckoned are
    taken for normal, with a prior whose `enough` quantile is the given allowance (spread 5 %, weighing 2 pours for
    the middle and 4 for the spread: *common practice, no source*); the allowance is the same quantile of the
    next pour, never below nothing. A pour that ran short and wasn't topped up tells too little, so leave it out.
    Source: normal and inverse gamma conjugate prior, Student's t for the next value (*from memory*).
    Raises ValueError for a share that isn't between 0 and 1, or a pour of nothing.
    """
    if not 0 < enough < 1:
        raise ValueError("The share that is enough lies between none and all.")
    if any(min(past.reckoned_mg, past.needed_mg) <= 0 for past in pasts):
        raise ValueError("A pour took something, and something was reckoned.")
    if len(pasts) < ENOUGH:
        return Allowance(given_ppm, len(pasts), False)
    found = [math.log(past.needed_mg / past.reckoned_mg) for past in pasts]
    count, mean = len(found), math.fsum(found) / len(found)
    prior = math.log1p(given_ppm / 1_000_000) - NormalDist().inv_cdf(enough) * PRIOR_SPREAD
    weight, degrees = PRIOR_MEAN_WEIGHT + count, PRIOR_SPREAD_WEIGHT + count
    middle = (PRIOR_MEAN_WEIGHT * prior + count * mean) / weight
    squares = PRIOR_SPREAD_WEIGHT * PRIOR_SPREAD**2 + math.fsum((one - mean) ** 2 for one in found)
    squares += PRIOR_MEAN_WEIGHT * count / weight * (mean - prior) ** 2
    scale = math.sqrt(squares / degrees * (1 + 1 / weight))
    ppm = round(math.expm1(middle + student_quantile(enough, degrees) * scale) * 1_000_000)
    return Allowance(max(0, min(ppm, MOST_PPM)), count, True)


def student_quantile(share: float, degrees: int) -> float:
    """Return a quantile of Student's t, good to 0.005 from nine degrees of freedom on, for 1 to 99 %.

    Source: expansion in the normal quantile, Abramowitz and Stegun 26.7.5 (*from memory*; checked against scipy).
    """
    z = NormalDist().inv_cdf(share)
    first = (z**3 + z) / 4
    second = (5 * z**5 + 16 * z**3 + 3 * z) / 96
    third = (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384
    return z + first / degrees + second / degrees**2 + third / degrees**3
