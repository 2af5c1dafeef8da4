"""Runs through the stabilizing bath, with what each piece may have drunk at most."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Prefetch, QuerySet

from studio.craft import moisture
from studio.work.models import Stabilizing, StabilizingItem, StepCode, Weighing, Workpiece
from studio.work.queries.lists import ready_for

PPM = 1_000_000
# Where a sheet gives no density: methacrylates of this kind lie near 1.05. *Common practice, no source.*
USUAL_RESIN_KGM3 = 1050


@dataclass(frozen=True)
class Soaked:
    """One piece of a run. Shares are of the dry weight; `most_ppm` is every hollow full, None without a
    density. `too_much`: it took more than there is room for, so a weight is wrong or resin sits outside."""

    item: StabilizingItem
    drained_ppm: int | None
    uptake_ppm: int | None
    most_ppm: int | None
    too_much: bool


@dataclass(frozen=True)
class SoakingPage:
    run: Stabilizing
    pieces: tuple[Soaked, ...]


@dataclass(frozen=True)
class Dry:
    """A piece that may go into the bath, with its last weight and whether that is an oven-dry one."""

    workpiece: Workpiece
    mass_mg: int | None
    weighed_at: datetime | None
    oven_dry: bool


def soaking_page(pk: int) -> SoakingPage | None:
    """One run with its pieces, or None. Two queries."""
    run = _runs(Stabilizing.objects.filter(pk=pk)).first()
    return None if run is None else SoakingPage(run, tuple(_soaked(run, item) for item in run.items.all()))


def ready_to_soak() -> list[Dry]:
    """Pieces whose next step is the bath, not in one yet, in shop order. Four queries."""
    inside = StabilizingItem.objects.filter(stabilizing__ended_at=None).values("workpiece")
    rows = list(ready_for(StepCode.STABILIZE).exclude(pk__in=inside))
    last: dict[int, Weighing] = {}
    weighings = Weighing.objects.filter(workpiece__in=rows, struck_out=False).order_by("at", "pk")
    for weighing in weighings:
        last[weighing.workpiece_id] = weighing
    found = []
    for row in rows:
        latest = last.get(row.pk)
        found.append(
            Dry(
                row,
                latest.mass_mg if latest else None,
                latest.at if latest else None,
                bool(latest and latest.condition == Weighing.Condition.OVEN_DRY),
            )
        )
    return found


def _runs(rows: QuerySet[Stabilizing]) -> QuerySet[Stabilizing]:
    items = StabilizingItem.objects.select_related("workpiece__species", "workpiece__account").order_by("pk")
    return rows.select_related("bath__material", "bath__account", "load__machine", "by").prefetch_related(
        Prefetch("items", items)
    )


def most_uptake_ppm(workpiece: Workpiece, resin_kgm3: int | None) -> int | None:
    """The most a piece has room for, in parts per million of its dry weight. None where its density isn't known.

    Source: as `craft.moisture.most_uptake`.
    """
    species = workpiece.species
    if species is None or not species.density_kgm3:
        return None
    dry = moisture.density_at(species.density_kgm3, species.craft_basis, 0) / 1000  # type: ignore[arg-type]
    try:
        most = moisture.most_uptake(dry, (resin_kgm3 or USUAL_RESIN_KGM3) / 1000)
    except ValueError:
        return None
    return round(most * PPM / 100)


def _soaked(run: Stabilizing, item: StabilizingItem) -> Soaked:
    most = most_uptake_ppm(item.workpiece, run.bath.material.density_kgm3)
    drained = _share(item.drained_mg, item.dry_mg)
    uptake = _share(item.baked_mg, item.dry_mg)
    known = uptake if uptake is not None else drained
    return Soaked(item, drained, uptake, most, most is not None and known is not None and known > most)


def _share(heavier_mg: int | None, dry_mg: int) -> int | None:
    return None if heavier_mg is None else (heavier_mg - dry_mg) * PPM // dry_mg
