"""Stabilizing: oven-dry, drained, baked. The uptake is what the third weight has over the first."""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime

from django.db import transaction

from studio.equipment.models import Load
from studio.fields.models import Submission
from studio.fields.quantity import show
from studio.ledger import operations as ledger
from studio.ledger.accounts import Component
from studio.ledger.errors import RunsOut
from studio.people.models import User
from studio.stores.models import Bath
from studio.work.errors import BathTrouble
from studio.work.making import held_rows
from studio.work.models import Stabilizing, StabilizingItem, StepCode, Weighing, Workpiece
from studio.work.operations.bath_checks import before_the_bath, share_the_loss
from studio.work.operations.soak import ask_too_early
from studio.work.operations.steps import begin_step, end_step


def start_stabilizing(
    *,
    bath: Bath,
    dry: Sequence[tuple[Workpiece, int]],
    at: datetime,
    load: Load | None = None,
    dark: Collection[int] = (),
    cooled: bool = False,
    bath_mg: int | None = None,
    sure: bool = False,
    by: User | None = None,
) -> Stabilizing:
    """Will put dry workpieces into the bath, each with its oven-dry weight in milligrams.

    `dark` are the keys of those that darken the bath; `cooled` that they are at room temperature; `bath_mg` what
    the bath weighs before. Hot wood, woods that don't go together and resin past its keeping time are asked
    (code "sure").
    """
    if not dry:
        raise BathTrouble("Nothing was chosen for the bath.", field="workpieces")
    if any(mass <= 0 for _, mass in dry):
        raise BathTrouble("Each wants its oven-dry weight first: the uptake is reckoned on it.", field="dry")
    with transaction.atomic():
        rows = held_rows([piece for piece, _ in dry])
        if bath_mg is not None and bath_mg <= 0:
            raise BathTrouble("A weight is above nothing.", field="bath_mg")
        inside = StabilizingItem.objects.filter(
            workpiece__in=rows, stabilizing__ended_at__isnull=True
        ).select_related("workpiece")
        if inside:
            raise BathTrouble(f"{inside[0].workpiece.number} is in a bath already.", field="workpieces")
        if not sure and (doubts := before_the_bath(bath, rows, dark=frozenset(dark), at=at)):
            raise BathTrouble(" ".join([*doubts, "If it is right all the same, say so."]), code="sure")
        run = Stabilizing.objects.create(
            bath=bath, load=load, started_at=at, cooled_at=at if cooled else None, bath_before_mg=bath_mg, by=by
        )
        for row, (_, mass) in zip(rows, dry, strict=True):
            StabilizingItem.objects.create(stabilizing=run, workpiece=row, dry_mg=mass, dark=row.pk in dark)
            Weighing.objects.create(
                workpiece=row, mass_mg=mass, at=at, condition=Weighing.Condition.OVEN_DRY, by=by
            )
            begin_step(workpiece=row, code=StepCode.STABILIZE, at=at, person=by)
        return run


def record_drained(
    *, run: Stabilizing, weights: Mapping[int, int], at: datetime, sure: bool = False, by: User | None = None
) -> Stabilizing:
    """Will note the drained weights, by workpiece key. Before they soaked long enough it is asked."""
    with transaction.atomic():
        run = Stabilizing.objects.select_for_update().get(pk=run.pk)
        if run.ended_at is not None:
            raise BathTrouble("That load is finished already.")
        if not sure:
            ask_too_early(run, at)
        _take_weights(run, weights, "drained_mg", Weighing.Condition.DRAINED, at, by)
        run.drained_at = at
        run.save(update_fields=["drained_at"])
        return run


def finish_stabilizing(
    *,
    run: Stabilizing,
    baked: Mapping[int, int],
    at: datetime,
    bath_before_mg: int | None = None,
    bath_after_mg: int | None = None,
    sure: bool = False,
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Stabilizing:
    """Will note the baked and cleaned weights and draw each uptake out of the bath at its average cost.

    A piece that came out lighter than it went in took nothing up; that is refused, since either weight is
    wrong. Pieces lost meanwhile may be left out: what they drank stays unknown and with the bath's loss.
    Where the bath was weighed before and after, what left it beyond that (drips, bleed-out) is drawn with it,
    shared by what each kept. A bath that gained, or lost less than they kept, is asked (code "sure").
    """
    with transaction.atomic():
        run = Stabilizing.objects.select_for_update().select_related("bath__account").get(pk=run.pk)
        if run.ended_at is not None:
            raise BathTrouble("That load is finished already.", code="finished")
        items = _take_weights(run, baked, "baked_mg", Weighing.Condition.BAKED, at, by)
        _refuse_odd_weights(items)
        run.bath_before_mg = bath_before_mg or run.bath_before_mg
        run.bath_after_mg = bath_after_mg
        share_the_loss(run, items, at, sure=sure)
        run.entry_id = _drawn(run, items, at, by, submission, now)  # type: ignore[assignment]
        for item in items:
            if item.workpiece.closed_at is None:
                end_step(workpiece=item.workpiece, code=StepCode.STABILIZE, at=at, person=by)
        run.ended_at = at
        run.save()
        return run


def _refuse_odd_weights(items: Sequence[StabilizingItem]) -> None:
    for item in items:
        piece, field = item.workpiece, f"baked_{item.workpiece_id}"
        if piece.closed_at is None and item.baked_mg is None:
            raise BathTrouble(
                f"{piece.number} has no baked weight yet. Weigh it, or say first that it broke.", field=field
            )
        if item.baked_mg is not None and item.baked_mg < item.dry_mg:
            raise BathTrouble(
                f"{piece.number} weighs less than when it went in. Weigh again: "
                "either it was not dry, or a weight is mistyped.",
                field=field,
            )


def _drawn(
    run: Stabilizing,
    items: Sequence[StabilizingItem],
    at: datetime,
    by: User | None,
    submission: Submission | None,
    now: datetime | None,
) -> int | None:
    """The entry that takes every uptake out of the bath; None where nothing was taken up."""
    drank = [(item.workpiece.account, took) for item in items if (took := (item.uptake_mg or 0) + item.loss_mg)]
    if not drank:
        return None
    total = sum(mass for _, mass in drank)
    try:
        return ledger.use_up(
            draws=[ledger.Draw(run.bath.account, total, Component.STABILIZING)],
            shares=drank,
            at=at,
            kind="stabilize",
            step=StepCode.STABILIZE,
            by=by,
            submission=submission,
            now=now,
        ).entry_id
    except RunsOut as stop:
        raise BathTrouble(
            f"Together they drank {show(total, 'mass', unit='g')}, and by the books the bath holds "
            f"{show(stop.has, 'mass', unit='g')}. Count what is really in it, or fill it, then send this again.",
            code="bath_short",
        ) from stop


def _take_weights(
    run: Stabilizing, weights: Mapping[int, int], name: str, condition: str, at: datetime, by: User | None
) -> list[StabilizingItem]:
    items = list(run.items.select_related("workpiece__account").order_by("pk"))
    for item in items:
        mass = weights.get(item.workpiece_id)
        if mass is None:
            continue
        if mass <= 0:
            raise BathTrouble("A weight is above nothing.", field=f"{name[:-3]}_{item.workpiece_id}")
        setattr(item, name, mass)
        item.save(update_fields=[name])
        if item.workpiece.closed_at is None:
            Weighing.objects.create(
                workpiece=item.workpiece, mass_mg=mass, at=at, condition=condition, by=by
            )
    return items
