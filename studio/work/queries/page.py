"""One workpiece, whole."""

from dataclasses import dataclass

from django.db.models import Prefetch

from studio.people.models import User
from studio.wood.models import PurchasePicture
from studio.work.models import (
    ClockRun,
    ClockShare,
    Descent,
    Loss,
    LossPicture,
    Outcome,
    PourFill,
    Step,
    StepState,
    Weighing,
    Workpiece,
    WorkpiecePicture,
)
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
    hours: tuple[ClockShare, ...]
    loss: Loss | None
    fills: tuple[PourFill, ...]


def page(pk: int, *, costs: bool = True) -> Page | None:
    """A workpiece by key with steps, weighings, descent, clocks, loss, pours and pictures; None if there is none.

    Twelve queries, however much there is; without `costs` none of them reads money.
    """
    found = (
        Workpiece.objects.select_related("account", "species", "purchase__supplier", "owner")
        .defer("purchase__paid_micro", "purchase__carriage_micro", "purchase__market_value_micro")
        .prefetch_related(
            Prefetch("steps", Step.objects.select_related("person").order_by("position", "attempt")),
            Prefetch("weighings", Weighing.objects.order_by("at", "pk")),
            Prefetch("parent_links", Descent.objects.select_related("parent").order_by("pk")),
            Prefetch("children_links", Descent.objects.select_related("child").order_by("pk")),
            Prefetch(
                "clock_shares",
                ClockShare.objects.select_related("run__person").order_by("run__started_at", "pk"),
            ),
            Prefetch("losses", Loss.objects.filter(taken_back_at__isnull=True)),
            Prefetch("fills", PourFill.objects.select_related("pour__system", "mould").order_by("pk")),
            Prefetch("fills__outcomes", Outcome.objects.order_by("at", "pk")),
            Prefetch("pictures", WorkpiecePicture.objects.select_related("picture")),
            Prefetch("purchase__pictures", PurchasePicture.objects.select_related("picture")),
        )
        .filter(pk=pk)
    )
    row = (found if costs else found.defer("account__value_micro")).first()
    if row is None:
        return None
    losses = list(row.losses.all())
    return Page(
        row,
        tuple(row.steps.all()),
        tuple(row.weighings.all()),
        tuple(row.parent_links.all()),
        tuple(row.children_links.all()),
        tuple(share for share in row.clock_shares.all() if share.run.stopped_at is None),
        tuple(share for share in row.clock_shares.all() if share.run.stopped_at is not None),
        losses[0] if losses else None,
        tuple(row.fills.all()),
    )


@dataclass(frozen=True)
class LossPage:
    """A loss with its photographs and what was saved of it."""

    loss: Loss
    pictures: tuple[LossPicture, ...]
    saved: tuple[Descent, ...]
    last_mg: int | None
    resin_mg: int


def loss_page(pk: int) -> LossPage | None:
    """A loss by key, or None. Five queries; no money."""
    loss = (
        Loss.objects.select_related("workpiece__species", "workpiece__account", "by")
        .defer("workpiece__account__value_micro")
        .filter(pk=pk)
        .first()
    )
    if loss is None:
        return None
    pictures = LossPicture.objects.filter(loss=loss).select_related("picture")
    saved = Descent.objects.filter(parent=loss.workpiece, how=Descent.How.SALVAGE).select_related("child")
    last = Weighing.objects.filter(workpiece=loss.workpiece, struck_out=False).order_by("-at", "-pk").first()
    resin = sum(PourFill.objects.filter(casting=loss.workpiece).values_list("share_mg", flat=True))
    return LossPage(loss, tuple(pictures), tuple(saved.order_by("pk")), last.mass_mg if last else None, resin)


def usual_seconds(*, code: str, person: User) -> int | None:
    """What this step usually takes this person, or the middle of the studio's own; None if neither is known."""
    found = usual_by_code([code], person).get(code)
    return found[0] if found else None


def workpiece(pk: int) -> Workpiece | None:
    """A workpiece with wood, owner and account, for a deed on it; None if there is none. One query, no money."""
    return (
        Workpiece.objects.select_related("species", "account", "owner", "purchase")
        .defer(
            "account__value_micro",
            "purchase__paid_micro",
            "purchase__carriage_micro",
            "purchase__market_value_micro",
        )
        .filter(pk=pk)
        .first()
    )


def weighing(pk: int) -> Weighing | None:
    return Weighing.objects.select_related("workpiece").filter(pk=pk).first()


def weighings(workpiece: Workpiece) -> list[Weighing]:
    """Those that stand, oldest first. One query."""
    return list(Weighing.objects.filter(workpiece=workpiece, struck_out=False).order_by("at", "pk"))


def next_code(workpiece: Workpiece) -> str:
    """The code of the step that comes next, empty when none is left. One query."""
    waiting = [StepState.OPEN, StepState.PLANNED]
    steps = Step.objects.filter(workpiece=workpiece, state__in=waiting).order_by("position", "attempt")
    return steps.values_list("code", flat=True).first() or ""


def clock_run(pk: int) -> ClockRun | None:
    """A clock with its person and what it runs on, or None. Two queries, no money."""
    shares = ClockShare.objects.select_related("workpiece").order_by("pk")
    rows = ClockRun.objects.select_related("person").prefetch_related(Prefetch("shares", shares))
    return rows.filter(pk=pk).first()


def planned_codes(workpiece: Workpiece) -> list[str]:
    """Codes of the steps still planned, in order. One query."""
    steps = Step.objects.filter(workpiece=workpiece, state=StepState.PLANNED).order_by("position", "attempt")
    return list(steps.values_list("code", flat=True))
