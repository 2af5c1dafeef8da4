"""Hours that were mistyped, taken back: by a reversal, or where their cost has gone on, by an adjustment."""

from datetime import datetime

from django.db import transaction

from studio.fields.models import Submission
from studio.ledger import operations as ledger
from studio.ledger import queries as ledger_queries
from studio.ledger.accounts import Account, Component, Kind
from studio.ledger.errors import CannotReverse, RanOutLater, RunsOut, WrongAccount
from studio.people.models import User
from studio.work.errors import ClockTrouble
from studio.work.models import ClockRun, ClockShare, Step, StepState


def take_back_hours(
    *,
    run: ClockRun,
    at: datetime,
    sure: bool = False,
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> ClockRun:
    """Will take booked hours back, once: off the steps, and what they cost by reversing their entry.

    Where a workpiece has gone since (cut, joined, lost, sold) its cost went on and can't be reversed. Then it
    is asked (code "sure") whether the same cost is to be taken off where it lies now, as an adjustment of `at`.
    """
    with transaction.atomic():
        run = ClockRun.objects.select_for_update().get(pk=run.pk)
        if run.stopped_at is None:
            raise ClockTrouble("That clock still runs. Stop it; then its time can be taken back.")
        if run.taken_back_at is not None:
            raise ClockTrouble("Those hours were taken back before; nothing was changed now.", code="taken_back")
        if at < run.stopped_at:
            raise ClockTrouble("They were booked for later than that. Give a later time.", field="at")
        shares = list(run.shares.select_related("workpiece").order_by("pk"))
        if run.entry_id:
            stamp = {"at": at, "by": by, "submission": submission, "now": now}
            try:
                ledger.reverse(entry_id=run.entry_id, **stamp)  # type: ignore[arg-type]
            except CannotReverse as stop:
                if stop.code != "adjust":
                    raise
                if not sure:
                    raise ClockTrouble(_gone_on(shares), code="sure") from stop
                _adjust(run, shares, stamp)
        for share in shares:
            _off_the_step(share, run)
        run.taken_back_at, run.taken_back_by = at, by  # type: ignore[assignment]
        run.save(update_fields=["taken_back_at", "taken_back_by"])
        return run


def _gone_on(shares: list[ClockShare]) -> str:
    gone = [share.workpiece for share in shares if share.workpiece.closed_at is not None]
    if not gone:
        return (
            "What those hours cost has been passed on in part. It can be taken off with an adjustment of today "
            "instead: say so and send again."
        )
    what = ", ".join(f"{piece.number} was {piece.get_closed_as_display()}" for piece in gone)
    return (
        f"Since then {what}, and what those hours cost went with it. It can be taken off where it lies now, with "
        "an adjustment of today: say so and send again."
    )


def _adjust(run: ClockRun, shares: list[ClockShare], stamp: dict) -> None:
    """The entry's mirror image, with whoever stands now for each workpiece that is closed."""
    assert run.entry_id is not None
    view = ledger_queries.entry(run.entry_id)
    assert view is not None
    accounts = Account.objects.select_related("successor").in_bulk(line.account_id for line in view.lines)
    legs = []
    for line in view.lines:
        account = accounts[line.account_id]
        target = ledger.live(account) if account.kind == Kind.WORKPIECE else account
        legs.append(ledger.Leg(target, Component(line.component), value=-line.value_micro))
    try:
        ledger.post(kind="hours_back", legs=legs, step=run.code, corrects_id=run.entry_id, **stamp)
    except (RunsOut, RanOutLater, WrongAccount) as stop:
        numbers = ", ".join(share.workpiece.number for share in shares)
        raise ClockTrouble(
            f"What came of {numbers} has been passed on again and doesn't carry that much any more, so these hours "
            "stay. Nothing was changed."
        ) from stop


def _off_the_step(share: ClockShare, run: ClockRun) -> None:
    """The time leaves its step; a step these hours alone had begun is still to come again."""
    step = share.step or _step_of(share, run.code)
    if step is None or not share.seconds:
        return
    left = max(0, step.hands_on_s - share.seconds)
    changes: dict[str, object] = {"hands_on_s": left}
    if not left and step.state == StepState.OPEN and step.started_at == run.started_at:
        changes |= {"state": StepState.PLANNED, "started_at": None, "person": None}
    Step.objects.filter(pk=step.pk).update(**changes)


def _step_of(share: ClockShare, code: str) -> Step | None:
    """Hours booked before their step was written down: the latest that holds so much."""
    rows = Step.objects.filter(workpiece=share.workpiece, code=code, hands_on_s__gte=share.seconds or 0)
    return rows.order_by("-attempt").first()
