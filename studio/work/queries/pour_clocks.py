"""The cups a mix is made in, and the clock that runs in each."""

from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date

from studio.craft.buckets import buckets
from studio.craft.costing import split
from studio.craft.pour_clock import Known, WorkTime, pour_clock, vacuum_cup_mm3, work_time
from studio.equipment.models import Machine
from studio.equipment.pot_check import fill_times
from studio.equipment.queries import pots_in_use
from studio.fields.quantity import show
from studio.people import settings as studio_settings
from studio.stores.models import ResinSystem
from studio.work.models import Pour
from studio.work.queries.pour_parts import Clock, Cup

PPM = 1_000_000
# The label's figure is for so much, where the sheet doesn't say. *Common practice, no source.*
LABEL_MASS_MG = 100_000
LAST_TAPS = 20
CUP_STEP_MM3 = 10_000


def find_cups(
    system: ResinSystem, parts_mg: tuple[int, int], colour_mg: int, step_mg: int, colour_step_mg: int,
    refusals: list[str],
) -> tuple[Cup, ...]:  # fmt: skip
    """One cup, or as many as the sheet's largest batch and the mixing scale ask for."""
    total = sum(parts_mg)
    if not total:
        return ()
    limits = [most for most in (system.largest_mg, _scale_takes(total, colour_mg)) if most]
    if not limits or total <= min(limits):
        return (Cup(parts_mg[0], parts_mg[1], colour_mg),)
    ratio = (system.parts_a, system.parts_b)
    try:
        found = buckets(total, min(limits), ratio, step_mg, least_mg=system.smallest_mg)
    except ValueError as stop:
        why = "the sheet's largest batch" if min(limits) == system.largest_mg else "what your scale takes"
        refusals.append(f"{show(total, 'mass')} is more than {why}, {show(min(limits), 'mass')}. {stop}")
        return ()
    colours = split(colour_mg // colour_step_mg, [sum(cup) for cup in found])
    return tuple(Cup(a, b, colour * colour_step_mg) for (a, b), colour in zip(found, colours, strict=True))


def _scale_takes(total_mg: int, colour_mg: int) -> int | None:
    """What of the mixed resin the scale takes: the colour stands on it too."""
    most = studio_settings.known("scale_most_mg")
    return most * total_mg // (total_mg + colour_mg) if most else None


@dataclass(frozen=True)
class ClockWanted:
    """What a plan says of its clock. `pot`: the key of the one it goes into, 0 for none, None where nobody said: then
    the slowest counts. `degas_s` how long it stands under vacuum in its cup, `degas_cup_mm3` how big that cup is.
    `pots` are those in use, where somebody read them already."""

    pot: int | None = None
    degas_s: int = 0
    degas_cup_mm3: int | None = None
    pots: tuple[Machine, ...] | None = field(default=None, compare=False)


def find_clock(
    system: ResinSystem,
    cups: tuple[Cup, ...],
    on: date,
    resin_mdegc: int | None,
    kgm3: int = 0,
    wanted: ClockWanted = ClockWanted(),  # noqa: B008  frozen
) -> Clock | None:
    """The clock of the fullest cup; None where the sheet gives no work time or nothing is mixed. Four queries."""
    if not cups or not system.work_time_s:
        return None
    mass = max(cup.mixed_mg for cup in cups)
    warmth = resin_mdegc if resin_mdegc is not None else studio_settings.known("shop_temperature_mdegc", on)
    time = _time(system, warmth, mass)
    hands, (fill, whose) = studio_settings.value("pour_hands_s"), _fill(wanted, on)
    clock = pour_clock(time, mixing_s=hands, pouring_s=0, fill_s=fill or 0, degas_s=wanted.degas_s)
    least = _cup_mm3(mass, kgm3) if wanted.degas_s and kgm3 else None
    return Clock(mass, time, clock, hands, fill, whose, wanted.degas_s, least)


def _cup_mm3(mass_mg: int, kgm3: int) -> int:
    """The least cup to degas so much in, rounded up as far as anybody reads a cup."""
    least = vacuum_cup_mm3(max(1, -(-mass_mg * 1000 // kgm3)))
    return -(-least // CUP_STEP_MM3) * CUP_STEP_MM3


def refuse_small_cup(clock: Clock | None, wanted: ClockWanted) -> list[str]:
    """A cup that would foam over under vacuum, with what would do."""
    if clock is None or not clock.degas_cup_mm3 or not wanted.degas_cup_mm3:
        return []
    if wanted.degas_cup_mm3 >= clock.degas_cup_mm3:
        return []
    return [
        f"A cup of {show(wanted.degas_cup_mm3, 'volume')} is more than a quarter full with "
        f"{show(clock.mass_mg, 'mass')}: it would foam over under vacuum. Take one of "
        f"{show(clock.degas_cup_mm3, 'volume')} or more, or degas less at a time."
    ]


def _fill(wanted: ClockWanted, on: date) -> tuple[int | None, str]:
    """How long the pot takes, and whose figure that is; the slowest pot where none was named."""
    if wanted.pot == 0:
        return None, ""
    pots = pots_in_use() if wanted.pots is None else wanted.pots
    rows = [row for row in pots if wanted.pot in (None, row.pk)]
    found = max(fill_times(rows, on).values(), key=lambda one: one.seconds, default=None)
    if found is not None:
        return found.seconds, found.whose
    told = studio_settings.known("pot_fill_s")
    return told, "by your settings" if told else ""


def _time(system: ResinSystem, warmth: int | None, mass_mg: int) -> WorkTime:
    assert system.work_time_s is not None
    at = system.work_time_at_mdegc
    known = [Known(system.work_time_s, at, system.work_time_mass_mg or LABEL_MASS_MG), *_taps(system)]
    if system.second_time_s and system.second_mass_mg:
        known.append(Known(system.second_time_s, at, system.second_mass_mg))
    with suppress(ValueError):  # the ten-degree rule doesn't reach so far
        return work_time(known, mdegc=warmth, mass_mg=mass_mg)
    return work_time(known, mdegc=None, mass_mg=mass_mg)


def _taps(system: ResinSystem) -> list[Known]:
    """What thickened at this bench, the last of it. One query.

    Several cups are mixed one after the other, so their clock tells nothing of one of them.
    """
    rows = Pour.objects.filter(system=system, thickened_at__isnull=False, began_at__isnull=False, cups=1)
    return [
        Known(max(1, int((thick - began).total_seconds())), row.resin_mdegc, row.poured_mg, own=True)
        for row in rows.order_by("-at", "-pk")[:LAST_TAPS]
        if (thick := row.thickened_at) and (began := row.began_at)
    ]


def clock_cautions(clock: Clock | None) -> list[str]:
    """What the clock has against the plan, before anything is mixed."""
    if clock is None or not clock.clock.short_s:
        return []
    limit, hands = clock.time.at_most_s or 0, show(clock.hands_s, "duration")
    pot = f" and {show(clock.fill_s, 'duration')} until the pot is at pressure" if clock.fill_s else ""
    air = f", {show(clock.degas_s, 'duration')} under vacuum" if clock.degas_s else ""
    least = "at most " if clock.time.seconds is None else ""
    return [
        f"It can't be poured in time like that: {show(clock.mass_mg, 'mass')} in one cup can be worked for {least}"
        f"{show(limit, 'duration')}; you need {hands} for stirring, pouring and lid{air}{pot}."
        " Mix less at a time, or cool the resin."
    ]
