"""Drawing on the stores: for workpieces, for the shop, and into a bath."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from studio.fields.models import Submission
from studio.ledger.accounts import Account, Kind
from studio.ledger.errors import RanOutLater
from studio.ledger.operations import Leg, draw_legs, lock, pool, post
from studio.people.models import User
from studio.stores.counting import Counted, count_each
from studio.stores.errors import NotLikeThat
from studio.stores.legs import legs_out
from studio.stores.models import Batch, Material
from studio.stores.planning import FromBatch, Plan, lock_plan
from studio.stores.typed import amount as checked_amount


@dataclass(frozen=True)
class Taken:
    """What a draw did: its entry and day, and so much from which batch."""

    entry_id: int
    effective_on: date
    takes: tuple[FromBatch, ...]


def draw(
    *,
    material: Material,
    amount: int,
    shares: Sequence[tuple[Account, int]],
    at: datetime,
    by: User | None = None,
    step: str = "",
    allow_past: bool = False,
    first: Batch | None = None,
    counted: Sequence[Counted] = (),
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Taken:
    """Will draw one material for workpieces, at cost, shared by weight; says from which batches it came.

    Raises StoresRunShort (code "short") when the books hold less that is fit for use; `allow_past` uses up
    what is past its day too, `first` takes from the bottle in the hand before any other. What was `counted` is
    set right first; refused, both are undone.
    """
    checked_amount(amount)
    if not shares:
        raise NotLikeThat("Say which workpiece it went into.", field="shares")
    with transaction.atomic():
        count_each(counted, at=at, by=by, submission=submission, now=now)
        plan = lock_plan(
            [(material, amount)],
            at=at,
            also=[account for account, _ in shares],
            allow_past=allow_past,
            first=first,
        )
        held = lock([*(one.account for one in plan.draws), *(account for account, _ in shares)])
        return _posted(plan, draw_legs(plan.draws, shares, held), "draw", at, by, step, submission, now)


def use_in_shop(
    *,
    material: Material,
    amount: int,
    at: datetime,
    by: User | None = None,
    allow_past: bool = False,
    first: Batch | None = None,
    counted: Sequence[Counted] = (),
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Taken:
    """Will draw something that no one workpiece carries (gloves, cups, a trial): its value is overhead.

    Raises StoresRunShort as `draw` does.
    """
    checked_amount(amount)
    with transaction.atomic():
        count_each(counted, at=at, by=by, submission=submission, now=now)
        plan = lock_plan([(material, amount)], at=at, allow_past=allow_past, first=first)
        legs = legs_out(plan.draws, value_to=Kind.OVERHEAD, amount_to=Kind.GONE, towards=pool(Kind.OVERHEAD))
        return _posted(plan, legs, "draw", at, by, "", submission, now)


def _posted(
    plan: Plan,
    legs: Sequence[Leg],
    kind: str,
    at: datetime,
    by: User | None,
    step: str,
    submission: Submission | None,
    now: datetime | None,
) -> Taken:
    with named_batches(plan):
        posted = post(kind=kind, legs=legs, at=at, by=by, step=step, submission=submission, now=now)
    return Taken(posted.entry_id, posted.effective_on, plan.takes)


class named_batches:  # noqa: N801 - reads as a word in a with statement
    """Turns the journal's "a later day would run out" into a sentence that names the batch."""

    def __init__(self, plan: Plan) -> None:
        self.batches = {take.batch.account_id: take.batch for take in plan.takes}

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if isinstance(error, RanOutLater) and error.account.pk in self.batches:
            batch = self.batches[error.account.pk]
            raise RanOutOnALaterDay(batch) from error


class RanOutOnALaterDay(NotLikeThat):
    """A back-dated draw that some later day could not bear."""

    def __init__(self, batch: Batch) -> None:
        super().__init__(
            f"Batch {batch.number} of {batch.material.name} held less on some day since. "
            "Give the day it really happened, or draw it today.",
            field="at",
            code="ran_out_later",
        )
        self.batch = batch
