"""What came out of the moulds: how castings look, and what they and the cup weigh."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import F, Q, QuerySet

from studio.work.models import (
    Outcome,
    Pour,
    PourColorant,
    PourFill,
    StabilizingItem,
    Weighing,
)


def outcomes_of(keys: Iterable[int]) -> dict[int, list[Outcome]]:
    """What was seen of these castings, oldest first, by the key of the workpiece. One query."""
    found: dict[int, list[Outcome]] = {}
    rows = Outcome.objects.filter(fill__casting__in=list(keys)).select_related("fill")
    for row in rows.order_by("at", "pk"):
        found.setdefault(row.fill.casting_id, []).append(row)
    return found


def fill(pk: int) -> PourFill | None:
    """One mould of a pour with its casting and what was seen of it; None if there is none. Two queries, no money."""
    rows = PourFill.objects.select_related("pour__system", "casting", "mould").prefetch_related("outcomes")
    return rows.filter(pk=pk).first()


@dataclass(frozen=True)
class Came:
    """One casting: what it weighed out of its mould, and what of that the pour put there; None where not known."""

    fill: PourFill
    cast_mg: int | None
    took_mg: int | None


@dataclass(frozen=True)
class WeighedOut:
    """Where all that was mixed went, colour in it. `stayed_mg`: what no casting took, cup and floor together;
    `floor_mg`: that less the cup. Below nothing the weights don't agree. None where something wasn't weighed."""

    mixed_mg: int
    cup_mg: int | None
    castings: tuple[Came, ...]

    @property
    def took_mg(self) -> int | None:
        parts = [one.took_mg for one in self.castings]
        known = [part for part in parts if part is not None]
        return sum(known) if parts and len(known) == len(parts) else None

    @property
    def stayed_mg(self) -> int | None:
        return None if self.took_mg is None else self.mixed_mg - self.took_mg

    @property
    def floor_mg(self) -> int | None:
        return None if self.stayed_mg is None or self.cup_mg is None else self.stayed_mg - self.cup_mg


def weighed_out(pour: Pour, *, cup_mg: int | None = None, weights: Mapping[int, int] | None = None) -> WeighedOut:
    """What castings and cup weigh against what was mixed; `cup_mg` and `weights` (by casting) as if they stood.

    A casting took what it weighs out of its mould, less its dry wood and its seal coat, or less what it weighed
    before where it had been cast already. Not known of stabilized wood, nor where the mould took a second pour before
    anybody weighed it. Five queries, no money.
    """
    rows = PourFill.objects.filter(pour=pour).select_related("casting").annotate(coat_mg=F("ready__coat_mg"))
    fills = list(rows.order_by("pk"))
    castings = PourFill.objects.filter(pour=pour).values("casting")
    pours, soaked = _pours_of(castings), _soaked(castings)
    cast = Weighing.objects.filter(workpiece__in=castings, condition=Weighing.Condition.CAST, struck_out=False)
    seen: dict[int, list[Weighing]] = {}
    for row in cast.order_by("at", "pk"):
        seen.setdefault(row.workpiece_id, []).append(row)
    came = []
    for one in fills:
        mine = seen.get(one.casting_id, [])
        after = next((row for row in mine if row.at >= pour.at), None)
        mass = (weights or {}).get(one.casting_id) or (after.mass_mg if after else None)
        others = [at for key, at in pours.get(one.casting_id, []) if key != pour.pk]
        layered = any(at >= pour.at and (after is None or at <= after.at) for at in others)
        before = None if layered else _before(one, pour, mine, others, soaked)
        came.append(Came(one, mass, mass - before if mass is not None and before is not None else None))
    colour = sum(PourColorant.objects.filter(pour=pour).values_list("mass_mg", flat=True))
    return WeighedOut(pour.poured_mg + colour, pour.cup_mg if cup_mg is None else cup_mg, tuple(came))


def _pours_of(castings: QuerySet[Any]) -> dict[int, list[tuple[int, datetime]]]:
    found: dict[int, list[tuple[int, datetime]]] = {}
    rows = PourFill.objects.filter(casting__in=castings).values_list("casting", "pour", "pour__at")
    for casting, pour, at in rows:
        found.setdefault(casting, []).append((pour, at))
    return found


def _soaked(castings: QuerySet[Any]) -> set[int]:
    """Those of which something was stabilized, alone or before it was joined into them: dry wood alone says less."""
    rows = StabilizingItem.objects.filter(baked_mg__isnull=False).filter(
        Q(workpiece__in=castings) | Q(workpiece__children_links__child__in=castings)
    )
    found = rows.values_list("workpiece", "workpiece__children_links__child")
    return {key for pair in found for key in pair if key is not None}


def _before(
    one: PourFill, pour: Pour, mine: Sequence[Weighing], others: Sequence[datetime], soaked: set[int]
) -> int | None:
    """What the casting weighed before this resin came to it."""
    earlier = [at for at in others if at < pour.at]
    if earlier:
        rows = [row for row in mine if max(earlier) <= row.at < pour.at]
        return rows[-1].mass_mg if rows else None
    if one.casting_id in soaked or (one.wood_mm3 and not one.wood_mg):
        return None
    return one.wood_mg + (one.coat_mg or 0)  # type: ignore[attr-defined]
