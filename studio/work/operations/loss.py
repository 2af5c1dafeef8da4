"""It broke. Four taps, no blame; what it had cost goes to the losses, what can be saved is saved."""

from datetime import datetime

from django.db import transaction

from studio.craft.rounding import divide
from studio.equipment import operations as equipment
from studio.equipment.models import LoadPlace
from studio.fields.models import Submission
from studio.ledger import operations as ledger
from studio.ledger import queries as ledger_queries
from studio.ledger.accounts import Component, Kind
from studio.ledger.queries import cost_of
from studio.people.models import User
from studio.work.errors import BadCut, NotOnTheBench
from studio.work.making import held_rows, make
from studio.work.models import (
    Cause,
    ClosedAs,
    Descent,
    Loss,
    Stage,
    StepCode,
    StepState,
    Weighing,
    Workpiece,
)
from studio.work.numbering import child_numbers

SAVED = (Component.WOOD, Component.GIVEN_WOOD, Component.RESIN)
PPM = 1_000_000


def it_broke(
    *,
    workpiece: Workpiece,
    cause: str,
    at: datetime,
    by: User,
    step: str = "",
    words: str = "",
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Loss:
    """Will close a workpiece as lost and move all it had cost to the losses, component by component.

    Fire, flood, fall and theft are unusual and stand apart; everything else is expected in this trade and the
    good pieces pay for it. A clock that still runs on it keeps running for the others; its time comes later
    and follows to the loss. A place in a running oven or pot ends here.
    """
    if cause not in Cause.values:
        raise NotOnTheBench("Choose one of the causes.", field="cause")
    with transaction.atomic():
        (row,) = held_rows([workpiece])
        row.account = ledger.lock([row.account])[row.account_id]
        for place in LoadPlace.objects.filter(
            account=row.account, out_at__isnull=True, load__ended_at__isnull=True
        ):
            equipment.take_out(place=place, at=at, why="lost", by=by)
        unusual = cause == Cause.ACCIDENT
        pool = Kind.LOSS_UNUSUAL if unusual else Kind.LOSS_EXPECTED
        step = step or _step_now(row)
        parts = cost_of(row.account).parts
        entry_id = None
        if parts:
            entry_id = ledger.post(
                kind="loss",
                legs=ledger.share_legs(row.account, [(pool, 1)], parts),
                at=at,
                step=step,
                by=by,
                submission=submission,
                now=now,
            ).entry_id
        ledger.close_account(account=row.account, successor=pool, at=at)
        row.closed_at, row.closed_as = at, ClosedAs.LOST
        row.hold_reason = row.hold_ref = ""
        row.save(update_fields=["closed_at", "closed_as", "hold_reason", "hold_ref"])
        return Loss.objects.create(
            workpiece=row,
            at=at,
            by=by,
            step=step,
            cause=cause,
            unusual=unusual,
            words=words[:500],
            entry_id=entry_id,
        )


def _step_now(workpiece: Workpiece) -> str:
    steps = list(workpiece.steps.filter(state__in=[StepState.OPEN, StepState.PLANNED]))
    begun = next((step for step in steps if step.state == StepState.OPEN), None)
    if begun:
        return str(begun.code)
    return str(steps[0].code) if steps else str(StepCode.OTHER)


def look_after_loss(*, loss: Loss, words: str = "") -> None:
    """Will take a loss off the round's list: nothing (more) of it is worth saving, or it was seen to."""
    Loss.objects.filter(pk=loss.pk).update(looked_after=True, **({"words": words[:500]} if words else {}))


def take_back_loss(
    *,
    loss: Loss,
    at: datetime,
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Workpiece:
    """Will undo a loss pressed by mistake: the entry is reversed and the workpiece lies on the bench again."""
    with transaction.atomic():
        loss = Loss.objects.select_for_update().select_related("workpiece__account").get(pk=loss.pk)
        piece = loss.workpiece
        if loss.taken_back_at is not None or piece.closed_as != ClosedAs.LOST:
            raise NotOnTheBench("That was taken back already.")
        if Descent.objects.filter(parent=piece, how=Descent.How.SALVAGE).exists():
            raise NotOnTheBench("Something was saved from it already; it can't be whole again.")
        ledger.reopen_account(account=piece.account)
        piece.closed_at, piece.closed_as = None, ""
        piece.save(update_fields=["closed_at", "closed_as"])
        if loss.entry_id:
            ledger.reverse(entry_id=loss.entry_id, at=at, by=by, submission=submission, now=now)
        loss.taken_back_at = at
        loss.save(update_fields=["taken_back_at"])
        return piece


def salvage(
    *,
    loss: Loss,
    kept_wood_mg: int,
    wood_was_mg: int,
    at: datetime,
    kept_resin_mg: int = 0,
    resin_was_mg: int = 0,
    like_blank_micro: int | None = None,
    title: str = "",
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Workpiece:
    """Will make a blank of what was saved. It carries wood and resin by the grams kept, nothing else.

    Labour, power, wear and overhead stay with the loss, and it never costs more than `like_blank_micro`, what
    a like blank would cost new.
    """
    for kept, was, name in (
        (kept_wood_mg, wood_was_mg, "kept_wood"),
        (kept_resin_mg, resin_was_mg, "kept_resin"),
    ):
        if kept < 0 or kept > was:
            raise BadCut("No more can be kept than there was.", field=name)
    if kept_wood_mg + kept_resin_mg == 0:
        raise BadCut("Weigh what was kept.", field="kept_wood")
    with transaction.atomic():
        loss = Loss.objects.select_for_update().select_related("workpiece__account").get(pk=loss.pk)
        lost = loss.workpiece
        if loss.taken_back_at is not None or lost.closed_as != ClosedAs.LOST:
            raise NotOnTheBench("That loss was taken back.")
        saved = make(
            number=child_numbers(lost, 1)[0],
            stage=Stage.BLANK,
            made_at=at,
            title=title or lost.title,
            species=lost.species,
            wood_kind=lost.wood_kind,
            purchase=lost.purchase,
            client_owned=lost.client_owned,
            owner=lost.owner,
        )
        parts = _saved_parts(loss, kept_wood_mg, wood_was_mg, kept_resin_mg, resin_was_mg)
        parts = _capped(parts, like_blank_micro)
        pool = Kind.LOSS_UNUSUAL if loss.unusual else Kind.LOSS_EXPECTED
        entry_id = None
        if any(parts.values()):
            legs = [
                leg
                for part, value in parts.items()
                for leg in (
                    ledger.Leg(saved.account, part, value=value),
                    ledger.Leg(pool, part, value=-value),
                )
            ]
            entry_id = ledger.post(
                kind="salvage", legs=legs, at=at, step=loss.step, by=by, submission=submission, now=now
            ).entry_id
        Weighing.objects.create(
            workpiece=saved,
            mass_mg=kept_wood_mg + kept_resin_mg,
            at=at,
            condition=Weighing.Condition.CAST if kept_resin_mg else Weighing.Condition.OVEN,
            by=by,
        )
        share = divide(PPM * (kept_wood_mg + kept_resin_mg), wood_was_mg + resin_was_mg)
        Descent.objects.create(
            parent=lost, child=saved, how=Descent.How.SALVAGE, share_ppm=share, at=at, entry_id=entry_id
        )
        loss.looked_after = True
        loss.save(update_fields=["looked_after"])
        return saved


def _saved_parts(
    loss: Loss, kept_wood: int, wood_was: int, kept_resin: int, resin_was: int
) -> dict[Component, int]:
    """What the loss entry moved, wood and resin only, times the grams kept over the grams there were."""
    view = ledger_queries.entry(loss.entry_id) if loss.entry_id else None
    moved: dict[Component, int] = {}
    for line in view.lines if view else ():
        part = Component(line.component)
        if line.value_micro > 0 and part in SAVED:
            moved[part] = line.value_micro
    out = {}
    for part, value in moved.items():
        kept, was = (kept_resin, resin_was) if part == Component.RESIN else (kept_wood, wood_was)
        out[part] = value * kept // was if was else 0
    return out


def _capped(parts: dict[Component, int], most: int | None) -> dict[Component, int]:
    total = sum(parts.values())
    if most is None or total <= most:
        return parts
    return {part: value * most // total for part, value in parts.items()}
