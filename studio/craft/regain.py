"""Dry wood drinks from the air: its skin within hours, its core within days. Two clocks for the two.

Hours, grams, percent of the oven-dry mass, millimetres, degrees Celsius.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .approach import fit_approach
from .moisture import Number, equilibrium_moisture

# From dry, wood settles at this share of what it settles at coming from wet.
FROM_DRY = 0.85
BACK_IN_H = 1.0
WRAPPED_H = 48.0
# In a tight bag it settles so many times slower: two days wrapped count as six hours open. Ours, so that what makers
# say of a bag and what they say of open wood agree.
WRAPPED_SLOWS = 8.0
# The pace a studio begins with: two thirds of the way in 12 h for wood an inch thick, a factor of three about.
REFERENCE_MM, PRIOR_H, PRIOR_FACTOR = 25.0, 12.0, 3.0
LEAST_SPREAD = 0.35


@dataclass(frozen=True)
class SkinClock:
    """How long the skin was open to the air, against the studio's limit; `over` asks for an hour back in."""

    open_h: float
    limit_h: float
    back_in_h: float = BACK_IN_H

    @property
    def over(self) -> bool:
        return self.open_h > self.limit_h

    @property
    def left_h(self) -> float:
        return max(self.limit_h - self.open_h, 0.0)


def skin_clock(
    out_h: float, now_h: float, limit_h: float, wrapped: Sequence[tuple[float, float | None]] = ()
) -> SkinClock:
    """Return how long dry wood has lain open since `out_h`; what it lay wrapped tight (from, to) is left out.

    A wrapping without an end still lasts. *Common practice, no source*: a damp skin is what foams a casting, and
    about an hour back in the oven drives it off again.
    Raises ValueError when the limit isn't above zero, or it came out after now.
    """
    if limit_h <= 0 or now_h < out_h:
        raise ValueError("The limit is above zero, and wood comes out before now.")
    return SkinClock(now_h - out_h - covered_h(out_h, now_h, wrapped), limit_h)


def covered_h(out_h: float, now_h: float, wrapped: Sequence[tuple[float, float | None]]) -> float:
    """Return how many of the hours between two moments it lay wrapped; what overlaps counts once."""
    covered, upto = 0.0, out_h
    for begun, ended in sorted(wrapped, key=lambda pair: pair[0]):
        start, end = max(begun, upto), min(now_h if ended is None else ended, now_h)
        if end > start:
            covered, upto = covered + end - start, end
    return covered


def drinking_h(out_h: float, now_h: float, wrapped: Sequence[tuple[float, float | None]] = ()) -> float:
    """Return the hours its core has drunk for, an hour in the bag counting as an eighth of one.

    *Common practice, no source*: wrapped tight it is good for a couple of days. The eighth is ours.
    Raises ValueError when it came out after now.
    """
    if now_h < out_h:
        raise ValueError("Wood comes out before now.")
    covered = covered_h(out_h, now_h, wrapped)
    return now_h - out_h - covered * (1 - 1 / WRAPPED_SLOWS)


def settles_at(temp_c: float, rh: float, start_percent: float = 0.0) -> float:
    """Return the moisture (%) at which wood drier than the air settles in it.

    Source: Wood Handbook (FPL-GTR-282) equation 4-5, less the gap between wood coming from dry and from wet,
    of which the first is 0.85 of the second (Wood Handbook chapter 4, *from memory*). Wood that is already
    moister than that stays as it is. Raises ValueError as `moisture.equilibrium_moisture` does.
    """
    return max(start_percent, FROM_DRY * equilibrium_moisture(temp_c, rh))


@dataclass(frozen=True)
class Pace:
    """How fast wood an inch thick settles: two thirds of the way in `hours`, 9 times in 10 between the others.

    `count` own re-weighings it was learned from; none: *common practice, no source*.
    """

    hours: float
    low_h: float
    high_h: float
    count: int = 0

    def at(self, thickness_mm: float) -> float:
        """Return the hours for a thickness: by its square, as for anything that seeps in."""
        if thickness_mm <= 0:
            raise ValueError("A thickness is above zero.")
        return self.hours * (thickness_mm / REFERENCE_MM) ** 2


COMMON_PACE = Pace(PRIOR_H, PRIOR_H / PRIOR_FACTOR**1.645, PRIOR_H * PRIOR_FACTOR**1.645)


@dataclass(frozen=True)
class Reweighing:
    """Dry wood weighed again: what it weighed dry, and after so many hours (one or more) in air that settles it
    at `settles_percent`; the scale's step, and how thick it is."""

    dry_g: float
    hours: tuple[float, ...]
    grams: tuple[float, ...]
    settles_percent: float
    thickness_mm: float
    step_g: float = 1.0


def learn_pace(seen: Sequence[Reweighing]) -> Pace:
    """Return the pace that this studio's own re-weighings show, held against the one to begin with.

    Each gives the hours to two thirds of the way: from one weight with the level taken from the air, from
    four and more by the curve itself. On the logarithm of hours they are averaged with the prior (12 h for an inch,
    a factor of three either way, *common practice, no source*), each by how surely it was weighed. Weights that show
    no gain, or more than the air can give, say nothing and are left out.
    """
    total = 1 / math.log(PRIOR_FACTOR) ** 2
    summed = math.log(PRIOR_H) * total
    count = 0
    for one in seen:
        found = _hours_of(one)
        if found is None:
            continue
        hours, spread = found
        weight = 1 / spread**2
        summed += weight * math.log(hours * (REFERENCE_MM / one.thickness_mm) ** 2)
        total += weight
        count += 1
    if not count:
        return COMMON_PACE
    middle, give = math.exp(summed / total), math.exp(1.645 / math.sqrt(total))
    return Pace(middle, middle / give, middle * give, count)


def _hours_of(one: Reweighing) -> tuple[float, float] | None:
    """Return (hours to two thirds, spread of their logarithm) from one piece's weights, or None."""
    gained = [grams - one.dry_g for grams in one.grams]
    if one.thickness_mm <= 0 or one.dry_g <= 0 or not gained or min(one.hours) <= 0:
        return None
    if len(gained) >= 4 and gained[-1] > 4 * one.step_g:
        try:
            found = fit_approach(one.hours, gained)
        except ValueError:
            found = None
        if found and found.values[0] > 0 and found.values[1] > 0:
            spread = found.deviations[1] / found.values[1]
            if spread < 1:
                return 1 / found.values[1], max(spread, LEAST_SPREAD)
    level = one.settles_percent / 100 * one.dry_g
    share = gained[-1] / level if level > 0 else 0.0
    if not one.step_g / 2 < gained[-1] or share >= 0.97:
        return None
    # A step of the scale shifts the share, and the share shifts the logarithm of the hours.
    slope = 1 / ((1 - share) * -math.log(1 - share))
    spread = slope * one.step_g / level / math.sqrt(3)
    return (one.hours[-1] / -math.log(1 - share), math.hypot(spread, LEAST_SPREAD)) if spread < 1.5 else None


def moisture_after(hours: float, start_percent: float, settles_percent: float, pace_h: float) -> float:
    """Return the moisture (%) of the whole piece after so many hours, settling at a pace (`Pace.at`).

    *Common practice, no source*: wood from the oven is back near 12 % in a day or so in air of 65 %, and good for
    two days when wrapped tight. Raises ValueError for a time below zero or a pace that isn't above it.
    """
    if hours < 0 or pace_h <= 0:
        raise ValueError("Time runs forward, at a pace above zero.")
    return settles_percent + (start_percent - settles_percent) * math.exp(-hours / pace_h)


def hours_until(limit_percent: float, start_percent: float, settles_percent: float, pace_h: float) -> float | None:
    """Return the hours until a limit is passed; 0 when it is already, None when this air never brings it there.

    Raises ValueError for a pace that isn't above zero.
    """
    if pace_h <= 0:
        raise ValueError("A pace is above zero.")
    if start_percent >= limit_percent:
        return 0.0
    if settles_percent <= limit_percent:
        return None
    return -pace_h * math.log((settles_percent - limit_percent) / (settles_percent - start_percent))


def moisture_by_weight(grams: Number, dry_g: Number) -> float:
    """Return the moisture (%) a re-weighing shows; below the dry mass it is none."""
    if float(dry_g) <= 0:
        raise ValueError("A dry mass is above zero.")
    return max(100 * (float(grams) - float(dry_g)) / float(dry_g), 0.0)
