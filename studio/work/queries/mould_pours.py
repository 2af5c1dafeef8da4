"""What was planned for a mould, and what it took."""

from dataclasses import dataclass

from django.db.models import Exists, F, OuterRef, Prefetch, Q, QuerySet, Subquery

from studio.craft.rounding import divide
from studio.equipment.models import Mould
from studio.work.models import Outcome, PourFill, StabilizingItem, Weighing

LAST = 20


@dataclass(frozen=True)
class MouldPour:
    """One pour of a mould. `took_mg` is the casting's weight out of the mould less its dry wood and its seal coat,
    None where that isn't known, as with stabilized wood; `cup_ppm` what stayed in the cup, of all that was mixed."""

    fill: PourFill
    took_mg: int | None
    cup_ppm: int | None
    outcomes: tuple[str, ...]


def mould_pours(mould: Mould) -> list[MouldPour]:
    """The last pours of one mould, the last first. Two queries."""
    weighed = Weighing.objects.filter(
        workpiece=OuterRef("casting"), condition=Weighing.Condition.CAST, struck_out=False
    ).filter(at__gte=OuterRef("pour__at")).order_by("at", "pk")
    rows = (
        PourFill.objects.filter(mould=mould)
        .select_related("pour__system", "casting")
        .annotate(
            cast_mg=Subquery(weighed.values("mass_mg")[:1]),
            soaked=Exists(_soaked(OuterRef("casting"))),
            coat_mg=F("ready__coat_mg"),
        )
        .prefetch_related(Prefetch("outcomes", Outcome.objects.order_by("pk")))
        .order_by("-pour__at", "-pk")
    )  # fmt: skip
    return [_one(row) for row in rows[:LAST]]


def _soaked(casting: OuterRef) -> QuerySet[StabilizingItem]:
    """What was stabilized of a casting or of what was joined into it: its dry weight lacks what it drank."""
    return StabilizingItem.objects.filter(
        Q(workpiece=casting) | Q(workpiece__children_links__child=casting), baked_mg__isnull=False
    )


def _one(row: PourFill) -> MouldPour:
    cast: int | None = row.cast_mg  # type: ignore[attr-defined]
    beside = row.wood_mg + (row.coat_mg or 0)  # type: ignore[attr-defined]
    weighed = cast is not None and (row.wood_mg > 0 or row.wood_mm3 == 0) and cast > beside
    known = weighed and not row.soaked  # type: ignore[attr-defined]
    mixed, cup = row.pour.poured_mg, row.pour.cup_mg
    return MouldPour(
        row,
        cast - beside if known and cast is not None else None,
        divide(cup * 1_000_000, mixed) if cup is not None and mixed else None,
        tuple(str(one.get_what_display()) for one in row.outcomes.all()),
    )
