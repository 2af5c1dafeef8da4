"""Dry wood out of the oven: since when its skin and its core are open to the air, by moves, weights and bags."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from studio.craft import dryness
from studio.craft import regain as craft
from studio.equipment.models import LoadPlace, Purpose
from studio.work.models import Overruled, Weighing, WoodEvent, Wrap

# Seasoning dries nothing to be cast; a bake is for resin.
DRIES = (Purpose.DRY, Purpose.WARM)
IN_HEAT = (*DRIES, Purpose.SEASON, Purpose.BAKE)
# A weight taken so soon after it came out still belongs to the oven.
STILL_HOT = timedelta(hours=dryness.CARRY_H)
BACK_IN = timedelta(hours=craft.BACK_IN_H)
# A load of one hour was written down a few minutes short.
NEARLY = timedelta(minutes=10)
OVEN = (Weighing.Condition.OVEN.value, Weighing.Condition.OVEN_DRY.value)


@dataclass(frozen=True)
class Spell:
    """One time out of the oven. `skin_at` when it last came out of an hour's heat; `core_at` since when its inside
    drinks: out of the load in which it was weighed `dry` (None where no weight says that it was). `again` are the
    weights since then, `wraps` its bags."""

    skin_at: datetime
    core_at: datetime
    dry: Weighing | None
    again: tuple[Weighing, ...] = ()
    wraps: tuple[Wrap, ...] = ()

    @property
    def fogged_at(self) -> datetime | None:
        """When fog was seen in its bag, unless it was weighed or went back in since."""
        fogged = max((wrap.fogged_at for wrap in self.wraps if wrap.fogged_at), default=None)
        if fogged is None or fogged < self.skin_at:
            return None
        return None if any(row.at > fogged for row in self.again) else fogged

    @property
    def bag(self) -> Wrap | None:
        return next((wrap for wrap in self.wraps if wrap.opened_at is None), None)


def spell_of(
    rows: Sequence[Weighing], places: Sequence[LoadPlace], wraps: Sequence[Wrap], now: datetime, *, born: datetime
) -> Spell | None:
    """Say since when wood lies out, by its drying weights and its places, oldest first. None while it lies in heat or
    never did. An hour back in opens a new spell for the skin and leaves the core as it was. `born` is when it
    was made: what it weighed in that moment was its share of another's weight."""
    heated = [place for place in places if place.load.purpose in DRIES]
    if any(place.load.purpose in IN_HEAT and (place.out_at is None or place.out_at > now) for place in places):
        return None
    if not heated:
        return _by_weights_alone([row for row in rows if row.at > born], wraps)
    last = heated[-1]
    dried = next((place for place in reversed(heated) if _dry_row(rows, place)), None)
    long = [place for place in heated if _for(place) >= BACK_IN - NEARLY]
    skin = (long[-1] if long else last).out_at
    core = (dried or last).out_at
    assert skin is not None and core is not None
    again = tuple(row for row in rows if row.at > core + STILL_HOT) if dried else ()
    return Spell(skin, core, _dry_row(rows, dried) if dried else None, again, tuple(wraps))


def _by_weights_alone(rows: Sequence[Weighing], wraps: Sequence[Wrap]) -> Spell | None:
    """Weighed oven-dry, but out of an oven nobody wrote down: out since then. What fell again was dried again."""
    dry: Weighing | None = None
    low = 0
    for row in rows:
        if row.condition == Weighing.Condition.OVEN_DRY and (dry is None or row.mass_mg < low):
            dry = row
        low = row.mass_mg
    if dry is None:
        return None
    return Spell(dry.at, dry.at, dry, tuple(row for row in rows if row.at > dry.at + STILL_HOT), tuple(wraps))


def _for(place: LoadPlace) -> timedelta:
    assert place.out_at is not None
    return place.out_at - place.put_in_at


def _dry_row(rows: Sequence[Weighing], place: LoadPlace) -> Weighing | None:
    assert place.out_at is not None
    dry = [
        row
        for row in rows
        if row.condition == Weighing.Condition.OVEN_DRY and place.put_in_at <= row.at <= place.out_at + STILL_HOT
    ]
    return dry[-1] if dry else None


def bagged_hours(spell: Spell, since: datetime) -> list[tuple[float, float | None]]:
    """Its bags as hours after a moment, as the craft wants them."""

    def hours(moment: datetime) -> float:
        return (moment - since).total_seconds() / 3600

    return [(hours(bag.wrapped_at), None if bag.opened_at is None else hours(bag.opened_at)) for bag in spell.wraps]


def wraps_of(workpiece_ids: Iterable[int]) -> dict[int, list[Wrap]]:
    """The bags of each, oldest first. One query."""
    found: dict[int, list[Wrap]] = {}
    for row in Wrap.objects.filter(workpiece__in=list(workpiece_ids)).order_by("wrapped_at", "pk"):
        found.setdefault(row.workpiece_id, []).append(row)
    return found


def overruled_of(workpiece_ids: Iterable[int]) -> dict[int, list[Overruled]]:
    """What was gone past on each, with whose words, oldest first. One query."""
    found: dict[int, list[Overruled]] = {}
    rows = Overruled.objects.filter(workpiece__in=list(workpiece_ids)).select_related("by").order_by("at", "pk")
    for row in rows:
        found.setdefault(row.workpiece_id, []).append(row)
    return found


def wood_events_of(workpiece_ids: Iterable[int]) -> dict[int, list[WoodEvent]]:
    """Bark off, wax off, ends sealed of each, oldest first; what was struck out isn't among them. One query."""
    found: dict[int, list[WoodEvent]] = {}
    rows = WoodEvent.objects.filter(workpiece__in=list(workpiece_ids), struck_out=False).order_by("at", "pk")
    for row in rows:
        found.setdefault(row.workpiece_id, []).append(row)
    return found
