"""One workpiece, whole."""

from dataclasses import dataclass

from django.db.models import Prefetch

from studio.people.models import User
from studio.work.models import ClockShare, Descent, Loss, Step, Weighing, Workpiece
from studio.work.queries.cost import usual_by_code


@dataclass(frozen=True)
class Page:
    """What a workpiece's page shows besides its cost."""

    workpiece: Workpiece
    steps: tuple[Step, ...]
    weighings: tuple[Weighing, ...]
    parents: tuple[Descent, ...]
    children: tuple[Descent, ...]
    clock_runs: tuple[ClockShare, ...]
    loss: Loss | None


def page(pk: int) -> Page | None:
    """A workpiece by key with steps, weighings, descent, clocks, loss and pictures; None if there is none.

    Nine queries, however much there is.
    """
    row = (
        Workpiece.objects.select_related("account", "species", "purchase__supplier", "owner")
        .prefetch_related(
            Prefetch("steps", Step.objects.select_related("person").order_by("position", "attempt")),
            Prefetch("weighings", Weighing.objects.order_by("at", "pk")),
            Prefetch("parent_links", Descent.objects.select_related("parent").order_by("pk")),
            Prefetch("children_links", Descent.objects.select_related("child").order_by("pk")),
            Prefetch(
                "clock_shares",
                ClockShare.objects.filter(run__stopped_at__isnull=True).select_related("run__person"),
            ),
            Prefetch("losses", Loss.objects.filter(taken_back_at__isnull=True)),
            "pictures__picture",
        )
        .filter(pk=pk)
        .first()
    )
    if row is None:
        return None
    losses = list(row.losses.all())
    return Page(
        row,
        tuple(row.steps.all()),
        tuple(row.weighings.all()),
        tuple(row.parent_links.all()),
        tuple(row.children_links.all()),
        tuple(row.clock_shares.all()),
        losses[0] if losses else None,
    )


def usual_seconds(*, code: str, person: User) -> int | None:
    """What this step usually takes this person, or the middle of the studio's own; None if neither is known."""
    found = usual_by_code([code], person).get(code)
    return found[0] if found else None
