"""Lists of what lies on the bench."""

from django.db.models import Exists, OuterRef, Prefetch, QuerySet, Subquery

from studio.work.models import (
    ClockRun,
    ClockShare,
    ClosedAs,
    Loss,
    PourFill,
    Stabilizing,
    StabilizingItem,
    Stage,
    Step,
    StepCode,
    StepState,
    Weighing,
    Workpiece,
)
from studio.work.queries.lumps import last_mass


def on_the_bench() -> QuerySet[Workpiece]:
    """Everything still alive, in shop order, with wood, account and steps at hand. Three queries when read."""
    return (
        Workpiece.objects.on_the_bench()
        .select_related("account", "species", "purchase", "owner")
        .prefetch_related(Prefetch("steps", Step.objects.order_by("position", "attempt")))
        .in_shop_order()
    )


def search(
    *,
    text: str = "",
    stage: str = "",
    step: str = "",
    species_id: int | None = None,
    closed: str = "",
    costs: bool = True,
) -> QuerySet[Workpiece]:
    """Workpieces by number, title, wood or form (casefolded), stage, next step, and how they ended.

    Each with `mass_mg`, its last weight. Without `costs` what lies on the account is not read. Two queries.
    """
    rows = (
        Workpiece.objects.select_related("account", "species", "owner")
        .prefetch_related(Prefetch("steps", Step.objects.order_by("position", "attempt")))
        .annotate(mass_mg=last_mass())
        .in_shop_order()
    )
    if not costs:
        rows = rows.defer("account__value_micro")
    rows = rows.filter(closed_as=closed) if closed in ClosedAs.values else rows.on_the_bench()
    for word in text.casefold().split()[:6]:
        rows = rows.filter(search_text__contains=word)
    if stage in Stage.values:
        rows = rows.filter(stage=stage)
    if species_id:
        rows = rows.filter(species=species_id)
    if step == "none":
        waiting = Step.objects.filter(workpiece=OuterRef("pk"), state__in=[StepState.OPEN, StepState.PLANNED])
        rows = rows.exclude(Exists(waiting))
    elif step in StepCode.values:
        rows = rows.filter(pk__in=_next_step_is(step))
    return rows


def _next_step_is(code: str) -> QuerySet:
    """Keys of workpieces whose first step not yet done or left out is this one."""
    first = (
        Step.objects.filter(workpiece=OuterRef("pk"), state__in=[StepState.OPEN, StepState.PLANNED])
        .order_by("position", "attempt")
        .values("code")[:1]
    )
    return Workpiece.objects.annotate(next_code=Subquery(first)).filter(next_code=code).values("pk")


def ready_for(code: str) -> QuerySet[Workpiece]:
    """What could go through this step now: alive, its next step, not held back by anything but a clock."""
    return on_the_bench().filter(pk__in=_next_step_is(code))


def candidates_for_lost_number(
    *,
    species_id: int | None = None,
    mass_mg: int | None = None,
    length_um: int | None = None,
    limit: int = 12,
) -> list[tuple[Workpiece, int]]:
    """Which numbered workpiece an unnamed one may be, likeliest first, and how far off (parts per million).

    By wood, by the last weight and by length; what is marked as having lost its number comes before the rest
    that is as near. Two queries.
    """
    rows = Workpiece.objects.on_the_bench().select_related("species")
    if species_id:
        rows = rows.filter(species=species_id)
    rows = rows.prefetch_related(
        Prefetch("weighings", Weighing.objects.filter(struck_out=False).order_by("at", "pk"))
    )
    scored = []
    for row in rows:
        off = 0
        weighings = list(row.weighings.all())
        if mass_mg:
            if not weighings:
                continue
            off += abs(weighings[-1].mass_mg - mass_mg) * 1_000_000 // mass_mg
        if length_um and row.length_um:
            off += abs(row.length_um - length_um) * 1_000_000 // length_um
        scored.append((row, off))
    scored.sort(key=lambda pair: (not pair[0].lost_number, pair[1], pair[0].sort_key))
    return scored[:limit]


def losses_to_look_after() -> QuerySet[Loss]:
    """Losses whose photograph or salvage still waits, oldest first."""
    return (
        Loss.objects.filter(looked_after=False, taken_back_at__isnull=True)
        .select_related("workpiece__species")
        .order_by("at")
    )


def running_clocks() -> QuerySet[ClockRun]:
    return (
        ClockRun.objects.filter(stopped_at__isnull=True)
        .select_related("person")
        .prefetch_related(Prefetch("shares", ClockShare.objects.select_related("workpiece")))
        .order_by("started_at")
    )


# Fetched with their rows: asked for by themselves, SQLite takes no thousand of them in one question.
def in_the_bath() -> Prefetch[str]:
    return Prefetch("items", StabilizingItem.objects.select_related("workpiece").order_by("pk"))


def in_the_moulds() -> Prefetch[str]:
    return Prefetch("fills", PourFill.objects.select_related("casting").order_by("pk"))


def open_stabilizings() -> QuerySet[Stabilizing]:
    return (
        Stabilizing.objects.filter(ended_at__isnull=True)
        .select_related("bath", "load")
        .prefetch_related(in_the_bath())
        .order_by("started_at")
    )


def lost_numbers() -> QuerySet[Workpiece]:
    """What lies somewhere in the shop without its number. One query, no money."""
    rows = Workpiece.objects.on_the_bench().filter(lost_number=True).select_related("species")
    return rows.annotate(mass_mg=last_mass()).in_shop_order()
