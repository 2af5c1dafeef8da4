"""How long mixed resin can be worked, and by when the lid must be shut. Seconds from when the two parts touch."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .mix import COOLEST_MDEGC, WARMEST_MDEGC, work_time_s
from .pressure import free_air_l

# A cup that goes into a vacuum is filled no more than so far: the foam climbs. *Common practice, no source*.
VACUUM_CUP_FILL = 4


@dataclass(frozen=True)
class Known:
    """A work time somebody saw: the data sheet's, or a tap "it has thickened" at this bench (`own`).

    `mdegc` is the resin's own temperature in the cup, `mass_mg` how much was in it; None where nobody says.
    """

    seconds: int
    mdegc: int | None = None
    mass_mg: int | None = None
    own: bool = False


@dataclass(frozen=True)
class WorkTime:
    """`seconds` where it is known for this mass; else None, and `at_most_s` is all that can be said."""

    seconds: int | None
    at_most_s: int | None
    own: bool = False
    warmth_known: bool = True


def work_time(known: Sequence[Known], *, mdegc: int | None, mass_mg: int) -> WorkTime:
    """Return how long `mass_mg` in one cup can be worked at the resin's own temperature.

    Each figure is first brought to that temperature by the ten-degree rule, where both are known. More mass sets
    sooner: a figure for as much or more holds (as a time that is surely there), between a smaller and a bigger one
    it runs evenly on logarithms, and beyond the biggest known it is unknown: nothing is guessed there.
    Of figures for one mass the shortest counts. Source: ten-degree rule, see `mix.work_time_s`; the reading
    between two points is *common practice, no source*.
    """
    if mass_mg <= 0:
        raise ValueError("The mass in the cup must be above zero.")
    warm = [(one, _at(one, mdegc)) for one in known]
    if not warm:
        return WorkTime(None, None)
    sure = mdegc is not None and all(one.mdegc is not None for one, _ in warm)
    most = min(seconds for _, seconds in warm)
    bigger = [(one.mass_mg, seconds, one.own) for one, seconds in warm if one.mass_mg and one.mass_mg >= mass_mg]
    smaller = [(one.mass_mg, seconds, one.own) for one, seconds in warm if one.mass_mg and one.mass_mg < mass_mg]
    if not bigger:
        return WorkTime(None, most, warmth_known=sure)
    over = min(bigger, key=lambda one: (one[0], one[1]))
    if not smaller:
        return WorkTime(over[1], over[1], over[2], sure)
    under = max(smaller, key=lambda one: (one[0], -one[1]))
    share = math.log(mass_mg / under[0]) / math.log(over[0] / under[0])
    between = math.exp((1 - share) * math.log(under[1]) + share * math.log(over[1]))
    seconds = min(round(between), under[1])
    return WorkTime(seconds, seconds, over[2] or under[2], sure)


def pot_fill_s(volume_l: float, gauge_kpa: float, delivery_l_min: float, altitude_m: float = 0) -> int:
    """Return how long a compressor takes to bring a pot to pressure, from the free air it delivers.

    Source: free air by Boyle (`pressure.free_air_l`) over the delivery on its nameplate.
    Raises ValueError for a delivery that isn't above zero.
    """
    if delivery_l_min <= 0:
        raise ValueError("The compressor's delivery must be above zero.")
    return math.ceil(free_air_l(volume_l, gauge_kpa, altitude_m) / delivery_l_min * 60)


def learned_fill_s(seen: Sequence[tuple[int, int]], gauge_pa: int) -> int | None:
    """Return how long a pot takes to a gauge pressure by what was seen of it: (seconds, pressure) for each load.

    The middle one of them (the longer of two), each brought to this pressure: the free air a pot takes goes with its
    gauge pressure. None where nothing was seen. Source: Boyle's law at one temperature; the middle one so that one
    forgotten tap counts for nothing.
    Raises ValueError for a pressure that isn't above zero.
    """
    if gauge_pa <= 0 or any(seconds <= 0 or pa <= 0 for seconds, pa in seen):
        raise ValueError("Time and gauge pressure are above zero.")
    each = sorted(math.ceil(seconds * gauge_pa / pa) for seconds, pa in seen)
    return each[len(each) // 2] if each else None


def hold_s(sheet_s: int, sheet_mdegc: int | None, shop_mdegc: int | None) -> int:
    """Return how long resin stays in its mould, and under pressure, in a shop as warm as this.

    Cooler than the sheet's own warmth it takes longer, by the ten-degree rule; warmer it takes no less than the
    sheet says, and where one of the two isn't known the sheet's time stands. Beyond the reach of the rule its end
    is taken. Source: ten-degree rule, see `mix.work_time_s`.
    Raises ValueError for a time that isn't above zero.
    """
    if sheet_s <= 0:
        raise ValueError("The sheet's time must be above zero.")
    if sheet_mdegc is None or shop_mdegc is None:
        return sheet_s
    sheet, shop = (max(COOLEST_MDEGC, min(one, WARMEST_MDEGC)) for one in (sheet_mdegc, shop_mdegc))
    return max(sheet_s, work_time_s(sheet_s, sheet, shop))


@dataclass(frozen=True)
class PourClock:
    """Seconds from when the parts touch. None where the work time isn't known, or no pot's fill time is.

    `short_s`: by how much the plan can't make it (nothing: it can). `spare_s` what is left to spare.
    """

    lid_by_s: int | None
    pressure_by_s: int | None
    needs_s: int
    spare_s: int | None
    short_s: int


def pour_clock(
    time: WorkTime, *, mixing_s: int, pouring_s: int, lid_s: int = 0, fill_s: int = 0, degas_s: int = 0
) -> PourClock:
    """Return by when the lid must be shut, and whether hands and pot are quick enough.

    Pressure must stand before the resin thickens, so the lid is shut the pot's fill time before that. Where only
    the longest possible time is known, the plan fails surely if that is too short, and nothing else is promised.
    Source: arithmetic. Raises ValueError for a time below nothing.
    """
    if min(mixing_s, pouring_s, lid_s, fill_s, degas_s) < 0:
        raise ValueError("A time is not below nothing.")
    needs = mixing_s + degas_s + pouring_s + lid_s + fill_s
    limit = time.at_most_s
    short = max(0, needs - limit) if limit is not None else 0
    if time.seconds is None:
        return PourClock(None, None, needs, None, short)
    lid_by = max(0, time.seconds - fill_s)
    return PourClock(lid_by, time.seconds, needs, time.seconds - needs, max(short, needs - time.seconds, 0))


def vacuum_cup_mm3(mix_mm3: int) -> int:
    """Return the least cup for degassing: a quarter full at most. *Common practice, no source*."""
    if mix_mm3 <= 0:
        raise ValueError("There is nothing to degas.")
    return VACUUM_CUP_FILL * mix_mm3


def _at(one: Known, mdegc: int | None) -> int:
    if mdegc is None or one.mdegc is None:
        return one.seconds
    return work_time_s(one.seconds, one.mdegc, mdegc)
