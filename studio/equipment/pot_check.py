"""Before the lid closes: whether the moulds go in, how long the pot takes to fill, and what its gauge said since."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import F, Min, OuterRef, Q, QuerySet

from studio.craft.cast import round_mm3
from studio.craft.pot_fit import LID_CLEARANCE_UM, Fit, Outside, Why, fit
from studio.craft.pour_clock import learned_fill_s, pot_fill_s
from studio.equipment.models import GaugeReading, Load, Machine, MachineKind, Mould, Shape
from studio.equipment.pots import USUAL_HIGH_PA, advice
from studio.fields.listing import listed
from studio.fields.writing import show
from studio.people import settings as studio_settings

LITRE_MM3, MINUTE_S = 1_000_000, 60
# A gauge can't be read finer: from so much of the pressure wanted on it counts as reached. *Common practice, no
# source.*
REACHED_PER_CENT = 97
LAST_LOADS = 5
LONGEST_FILL_S = 3600
FIRST_LOADS = 60


@dataclass(frozen=True)
class PotFit:
    """Whether the moulds go in, in words. `sure`: nothing is left to be tried; `measure`: whose size is wanting."""

    ruling: str
    words: tuple[str, ...]
    moulds: tuple[Mould, ...] = ()
    measure: tuple[Mould, ...] = ()

    @property
    def sure(self) -> bool:
        return self.ruling == "fits"


@dataclass(frozen=True)
class FillTime:
    """How long a pot takes to a gauge pressure, and whose figure that is."""

    pot: Machine
    gauge_pa: int
    seconds: int
    whose: str
    learned: bool


def outside(mould: Mould) -> Outside:
    """A mould by what is known of its outside."""
    if mould.shape == Shape.BOX or (mould.outside_length_um and mould.outside_width_um):
        across = None if mould.outside_length_um else mould.outside_diameter_um
        return Outside(mould.name, mould.outside_height_um, across, mould.outside_length_um, mould.outside_width_um)
    return Outside(mould.name, mould.outside_height_um, mould.outside_diameter_um)


def pot_fit(pot: Machine, moulds: Sequence[Mould]) -> PotFit:
    """Return whether these moulds go into a pot, side by side, and why not. No query.

    Source: `craft.pot_fit`.
    """
    found = fit(
        [outside(one) for one in moulds],
        pot_diameter_um=pot.inside_diameter_um,
        pot_height_um=pot.inside_height_um,
        clearance_um=LID_CLEARANCE_UM,
    )
    wanting = tuple(one for one in moulds if not outside(one).known) if found.ruling == "unknown" else ()
    return PotFit(found.ruling, _words(found, pot, moulds), tuple(moulds), wanting)


def _words(found: Fit, pot: Machine, moulds: Sequence[Mould]) -> tuple[str, ...]:
    names = listed([one.name for one in moulds])
    if found.ruling == "fits":
        lid = f"{show(found.lid_um or 0, 'length')} under the lid"
        beside = f"{show(found.side_um, 'length')} to spare beside it, " if found.side_um is not None else ""
        return (f"{names} {'goes' if len(moulds) == 1 else 'go'} in by {'its' if len(moulds) == 1 else 'their'} "
                f"measures: {beside}{lid}.",)  # fmt: skip
    return tuple(dict.fromkeys(_why(one, pot, names) for one in found.why))


def _why(why: Why, pot: Machine, names: str) -> str:
    needs, has = (show(size, "length") if size else "" for size in (why.needs_um, why.has_um))
    return {
        "too wide": f"{why.name} doesn't go in: it is {needs} across at its widest, {pot} is {has} wide inside.",
        "too tall": f"{why.name} is too tall: with air under the lid it wants {needs}, {pot} is {has} high inside.",
        "not together": f"{names} don't lie in {pot} together, however they are turned.",
        "try dry": f"Can't be sure that {names} lie in {pot} together: try it dry, lid and all.",
        "mould unknown": f"How big {why.name} is outside isn't known: measure it, or try it dry.",
        "pot unknown": f"How wide and high {pot} is inside isn't known: measure it, or try it dry.",
    }[why.code]


def fill_times(pots: Sequence[Machine], on: date, gauge_pa: int | None = None) -> dict[int, FillTime]:
    """Return how long each of these pots takes to come to pressure, by key; those nothing is known of are absent.

    Learned from its last loads, from the lid shut to the first reading at pressure; else free air over what the
    weakest compressor delivers; else the studio's own answer, for any pot. Two queries at most.
    Source: `craft.pour_clock.learned_fill_s` and `pot_fill_s`.
    """
    seen: dict[int, list[tuple[int, int]]] = {}
    last: dict[int, int] = {}
    for machine, gauge, started, up in _loads(pots):
        last.setdefault(machine, gauge or 0)
        seconds = int((up - started).total_seconds()) if up else 0
        if 0 < seconds <= LONGEST_FILL_S and len(seen.setdefault(machine, [])) < LAST_LOADS:
            seen[machine].append((seconds, gauge or 0))
    # Only where its own loads don't tell it is anything else asked for.
    learned = all(seen.get(pot.pk) for pot in pots)
    delivery = None if learned else _weakest_delivery()
    found = {}
    for pot in pots:
        to = gauge_pa or last.get(pot.pk) or _usual(pot, on)
        one = _fill_time(pot, to, seen.get(pot.pk, []), delivery, on) if to else None
        if one is not None:
            found[pot.pk] = one
    return found


def _weakest_delivery() -> int | None:
    rows = Machine.objects.in_use().of_kind(MachineKind.COMPRESSOR)
    found: int | None = rows.aggregate(least=Min("delivery_mm3_s"))["least"]
    return found


def _loads(pots: Sequence[Machine]) -> list[tuple[int, int | None, datetime, datetime | None]]:
    """The last loads: whose, its pressure, when it began, and when its gauge was first read at that. One query."""
    reached = Q(readings__gauge_pa__gte=F("gauge_pa") * REACHED_PER_CENT / 100)
    rows = Load.objects.filter(machine__in=pots, gauge_pa__gt=0).annotate(up=Min("readings__at", filter=reached))
    rows = rows.order_by("-started_at", "-pk")
    return list(rows.values_list("machine_id", "gauge_pa", "started_at", "up")[:FIRST_LOADS])


def _usual(pot: Machine, on: date) -> int | None:
    """What is wanted on the gauge where no load says it: the usual, or where its plate is lower, what it bears."""
    held = advice(pot, on)
    return None if held.warn_pa is None else min(held.warn_pa, USUAL_HIGH_PA)


def _fill_time(
    pot: Machine, gauge_pa: int, seen: Sequence[tuple[int, int]], delivery_mm3_s: int | None, on: date
) -> FillTime | None:
    if (learned := learned_fill_s(seen, gauge_pa)) is not None:
        loads = "your last load" if len(seen) == 1 else f"your last {len(seen)} loads"
        return FillTime(pot, gauge_pa, learned, f"{pot} by {loads}", True)
    if delivery_mm3_s and pot.inside_diameter_um and pot.inside_height_um:
        litres = round_mm3(pot.inside_diameter_um, pot.inside_height_um) / LITRE_MM3
        a_minute = delivery_mm3_s * MINUTE_S / LITRE_MM3
        height_m = studio_settings.known("altitude_m", on) or 0
        seconds = pot_fill_s(litres, gauge_pa / 1000, a_minute, height_m)
        if seconds <= LONGEST_FILL_S:
            return FillTime(pot, gauge_pa, seconds, f"{pot}, reckoned from what your compressor delivers", False)
    told = studio_settings.known("pot_fill_s")
    return FillTime(pot, gauge_pa, told, "by your settings", False) if told else None


@dataclass(frozen=True)
class Gauge:
    """What a running pot's gauge said. `fell_from` is there while the last reading is lower than the highest one, or
    than what the load is set to now where that is less (a needle's breadth is no fall)."""

    last: GaugeReading | None
    reached_at: datetime | None
    fell_from: GaugeReading | None


def gauge(load: Load) -> Gauge:
    """Return what was read off a load's gauge. One query."""
    rows = list(GaugeReading.objects.filter(load=load).order_by("at", "pk"))
    if not rows:
        return Gauge(None, None, None)
    reached = next((row.at for row in rows if load.gauge_pa and has_reached(row.gauge_pa, load.gauge_pa)), None)
    last = rows[-1]
    top = max(rows, key=lambda row: (row.gauge_pa, row.at))
    fell = None if has_reached(last.gauge_pa, min(top.gauge_pa, load.gauge_pa or top.gauge_pa)) else top
    return Gauge(last, reached, fell)


def has_reached(gauge_pa: int, wanted_pa: int) -> bool:
    """Say whether a gauge that shows this stands at the pressure wanted."""
    return gauge_pa * 100 >= wanted_pa * REACHED_PER_CENT


def last_read(load: str = "pk") -> QuerySet[Any, Any]:
    """What the gauge of a load showed last, for a subquery over loads, or over rows that name their `load`."""
    return GaugeReading.objects.filter(load=OuterRef(load)).order_by("-at", "-pk").values("gauge_pa")[:1]


def gauge_note(load: Load) -> str:
    """What the round says of a pot's gauge, where `shows_pa` was read with the load; nothing while it stands well."""
    if load.machine.kind != MachineKind.PRESSURE_POT or not load.gauge_pa or not hasattr(load, "shows_pa"):
        return ""
    shows: int | None = load.shows_pa
    if shows is None:
        return "Its gauge wasn't read yet."
    if has_reached(shows, load.gauge_pa):
        return ""
    return f"Its gauge showed {show(shows, 'pressure')} last: look again."
