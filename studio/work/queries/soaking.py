"""Runs through the stabilizing bath, with what each piece may have drunk at most."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Prefetch, QuerySet

from studio.craft import moisture, soak
from studio.wood.models import Waxed
from studio.work.models import RoomReading, Stabilizing, StabilizingItem, StepCode, Weighing, Workpiece
from studio.work.operations.soak import soaked_by
from studio.work.queries.lists import in_the_bath, ready_for

PPM = 1_000_000
# Where a sheet gives no density: methacrylates of this kind lie near 1.05. *Common practice, no source.*
USUAL_RESIN_KGM3 = 1050


@dataclass(frozen=True)
class Soaked:
    """One piece of a run. Shares are of the dry weight; `most_ppm` is every hollow full, None without a
    density. `too_much`: it took more than there is room for, so a weight is wrong or resin sits outside.
    `must_sink`: by its weights it must, so that floating would prove something."""

    item: StabilizingItem
    drained_ppm: int | None
    uptake_ppm: int | None
    most_ppm: int | None
    too_much: bool
    must_sink: bool = False


@dataclass(frozen=True)
class SoakingPage:
    """A run, its pieces, and when they will have soaked long enough (None until vacuum and bubbles are noted)."""

    run: Stabilizing
    pieces: tuple[Soaked, ...]
    soaked_by: datetime | None = None

    @property
    def unbrushed(self) -> list[Workpiece]:
        """Those whose cured skin nobody said is off."""
        return [one.item.workpiece for one in self.pieces if one.item.baked_mg and one.item.brushed_at is None]


@dataclass(frozen=True)
class Dry:
    """A piece that may go into the bath, with its last weight and whether that is an oven-dry one.

    `dark`: it darkens the bath, as it was said of its species the last time, else by its genus.
    """

    workpiece: Workpiece
    mass_mg: int | None
    weighed_at: datetime | None
    oven_dry: bool
    advice: soak.Advice
    dark: bool


def soaking_page(pk: int) -> SoakingPage | None:
    """One run with its pieces, or None. Three queries."""
    run = _runs(Stabilizing.objects.filter(pk=pk)).first()
    if run is None:
        return None
    items = list(run.items.all())
    own = own_densities([item.workpiece for item in items])
    pieces = tuple(_soaked(run, item, own.get(item.workpiece_id)) for item in items)
    return SoakingPage(run, pieces, soaked_by(run))


def own_densities(pieces: Iterable[Workpiece]) -> dict[int, int]:
    """Each piece's own oven-dry density (kg/m³) as measured last, by key. One query."""
    rows = RoomReading.objects.filter(workpiece__in=[piece.pk for piece in pieces], way=RoomReading.Way.DENSITY)
    return {pk: kgm3 for pk, kgm3 in rows.order_by("at", "pk").values_list("workpiece_id", "kgm3") if kgm3}


def advice(piece: Workpiece, own_kgm3: int | None) -> soak.Advice:
    """Whether this piece wants stabilizing. No query where species and purchase were read with it.

    Source: as `craft.soak.advise`.
    """
    species = piece.species
    return soak.advise(
        rule=species.stabilizing if species else "condition",  # type: ignore[arg-type]
        dry_kgm3=_species_dry(piece),
        own_kgm3=own_kgm3,
        punky=piece.punky,
        spalted=piece.spalted,
        checked=piece.checked,
        oily=bool(species and species.oily),
        resinous=bool(species and species.resinous),
        waxed=piece.purchase is not None and piece.purchase.waxed == Waxed.YES,
    )


def not_brushed(pieces: Sequence[Workpiece]) -> list[tuple[Workpiece, int]]:
    """Those of these that came out of the bath with their cured skin still on, and the key of that run. One query."""
    last: dict[int, StabilizingItem] = {}
    rows = StabilizingItem.objects.filter(
        workpiece__in=[piece.pk for piece in pieces], baked_mg__isnull=False, stabilizing__ended_at__isnull=False
    )
    for item in rows.order_by("stabilizing__ended_at", "pk"):
        last[item.workpiece_id] = item
    return [
        (piece, last[piece.pk].stabilizing_id)
        for piece in pieces
        if piece.pk in last and last[piece.pk].brushed_at is None
    ]


def ready_to_soak() -> list[Dry]:
    """Pieces whose next step is the bath, not in one yet, in shop order. Six queries."""
    inside = StabilizingItem.objects.filter(stabilizing__ended_at=None).values("workpiece")
    rows = list(ready_for(StepCode.STABILIZE).select_related("species", "purchase").exclude(pk__in=inside))
    last: dict[int, Weighing] = {}
    weighings = Weighing.objects.filter(workpiece__in=rows, struck_out=False).order_by("at", "pk")
    for weighing in weighings:
        last[weighing.workpiece_id] = weighing
    own = own_densities(rows)
    said = dict(
        StabilizingItem.objects.filter(workpiece__species__isnull=False)
        .order_by("stabilizing__started_at", "pk")
        .values_list("workpiece__species_id", "dark")
    )
    found = []
    for row in rows:
        latest = last.get(row.pk)
        found.append(
            Dry(
                row,
                latest.mass_mg if latest else None,
                latest.at if latest else None,
                bool(latest and latest.condition == Weighing.Condition.OVEN_DRY),
                advice(row, own.get(row.pk)),
                bool(row.species and said.get(row.species.pk, soak.dark(row.species.botanical_name))),
            )
        )
    return found


def been_through(bath_pk: int, most: int = 6) -> list[Stabilizing]:
    """The last finished loads of a bath with what lay in them, newest first. Two queries, no money."""
    rows = Stabilizing.objects.filter(bath=bath_pk, ended_at__isnull=False).prefetch_related(in_the_bath())
    return list(rows.order_by("-ended_at", "-pk")[:most])


def _runs(rows: QuerySet[Stabilizing]) -> QuerySet[Stabilizing]:
    """With their baths and pieces, without money: who may see no costs opens them too."""
    items = StabilizingItem.objects.select_related("workpiece__species", "workpiece__account")
    items = items.defer("workpiece__account__value_micro").order_by("pk")
    rows = rows.select_related("bath__material", "bath__account", "load__machine", "by")
    return rows.defer("bath__account__value_micro").prefetch_related(Prefetch("items", items))


def _species_dry(piece: Workpiece) -> float | None:
    """Its species' oven-dry density in kg/m³; None where that isn't known."""
    species = piece.species
    if species is None or not species.density_kgm3:
        return None
    return moisture.density_at(species.density_kgm3, species.craft_basis, 0)  # type: ignore[arg-type]


def most_uptake_ppm(workpiece: Workpiece, resin_kgm3: int | None, own_kgm3: int | None = None) -> int | None:
    """The most a piece has room for, in parts per million of its dry weight. None where its density isn't known.

    Its own measured density counts before its species': decayed wood has more room. Source: as
    `craft.moisture.most_uptake`.
    """
    dry = own_kgm3 or _species_dry(workpiece)
    if dry is None:
        return None
    try:
        most = moisture.most_uptake(dry / 1000, (resin_kgm3 or USUAL_RESIN_KGM3) / 1000)
    except ValueError:
        return None
    return round(most * PPM / 100)


def _soaked(run: Stabilizing, item: StabilizingItem, own_kgm3: int | None) -> Soaked:
    most = most_uptake_ppm(item.workpiece, run.bath.material.density_kgm3, own_kgm3)
    drained = _share(item.drained_mg, item.dry_mg)
    uptake = _share(item.baked_mg, item.dry_mg)
    known = uptake if uptake is not None else drained
    dry = own_kgm3 or _species_dry(item.workpiece)
    sinks = bool(dry and uptake and uptake > 0 and soak.must_sink(dry, uptake / PPM, own=bool(own_kgm3)))
    return Soaked(item, drained, uptake, most, most is not None and known is not None and known > most, sinks)


def _share(heavier_mg: int | None, dry_mg: int) -> int | None:
    return None if heavier_mg is None else (heavier_mg - dry_mg) * PPM // dry_mg
