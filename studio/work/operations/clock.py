"""Hands-on time: a clock on the server, or the usual minutes typed afterwards."""

from collections.abc import Sequence
from datetime import datetime

from django.db import IntegrityError, transaction

from studio.craft.costing import split
from studio.fields.models import Submission
from studio.ledger.accounts import Account
from studio.ledger.labour import labour_legs
from studio.ledger.operations import live, lock, post
from studio.people import settings as studio_settings
from studio.people.models import User
from studio.work.errors import ClockTrouble
from studio.work.making import held_rows
from studio.work.models import ClockRun, ClockShare, Step, StepState, UsualMinutes, Workpiece
from studio.work.operations.cures import refuse_uncured
from studio.work.operations.steps import begin_step, current

MOST_AT_ONE_GO_S = 12 * 3600
MOST_WORKPIECES = 40


def start_clock(
    *, person: User, workpieces: Sequence[Workpiece], code: str, at: datetime, sure: bool = False
) -> ClockRun:
    """Will start this person's clock on one or more workpieces and begin their step.

    One clock for each person: a running one must be stopped first, and the sentence says on what it runs. Resin that
    isn't cured through is asked about before it is turned, sanded or finished, unless `sure`.
    """
    if not workpieces or len({piece.pk for piece in workpieces}) > MOST_WORKPIECES:
        raise ClockTrouble(f"The clock runs on one workpiece or more, up to {MOST_WORKPIECES}.")
    with transaction.atomic():
        rows = held_rows(list({piece.pk: piece for piece in workpieces}.values()))
        running = running_clock(person)
        if running is not None:
            numbers = ", ".join(share.workpiece.number for share in running.shares.all())
            raise ClockTrouble(f"Your clock runs already, on {numbers}. Stop it first.", code="running")
        refuse_uncured(rows, code=code, at=at, sure=sure)
        try:
            with transaction.atomic():
                run = ClockRun.objects.create(person=person, code=code, started_at=at)
        except IntegrityError:
            raise ClockTrouble(
                "Your clock was started a moment ago, from another screen.", code="running"
            ) from None
        ClockShare.objects.bulk_create([ClockShare(run=run, workpiece=row) for row in rows])
        for row in rows:
            begin_step(workpiece=row, code=code, at=at, person=person)
        return run


def running_clock(person: User) -> ClockRun | None:
    return (
        ClockRun.objects.filter(person=person, stopped_at__isnull=True)
        .prefetch_related("shares__workpiece")
        .first()
    )


def stop_clock(
    *,
    run: ClockRun,
    at: datetime,
    seconds: int | None = None,
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> ClockRun:
    """Will stop a clock and charge its time, in equal parts, to the workpieces it ran on.

    `seconds` is the time really worked, where the clock was left running: over night or longer than twelve
    hours it is asked for (code "ask"). What was lost meanwhile hands its part on to the loss.
    """
    with transaction.atomic():
        run = ClockRun.objects.select_for_update().get(pk=run.pk)
        if run.stopped_at is not None:
            raise ClockTrouble("That clock was stopped already; its time is booked.", code="stopped")
        ran = int((at - run.started_at).total_seconds())
        if ran < 0:
            raise ClockTrouble("The clock was started after that. Give a later time.", field="at")
        if seconds is None:
            if left_over_night(run, at):
                raise ClockTrouble(
                    "The clock ran through the night. How long was really worked?", field="worked", code="ask"
                )
            seconds = ran
        elif seconds > ran:
            raise ClockTrouble(
                "That is longer than the clock ran. Type the time really worked.", field="worked"
            )
        shares = list(run.shares.select_related("workpiece__account").order_by("pk"))
        parts = split(seconds, [1] * len(shares))
        entry_id = _book(
            person=run.person,
            shares=[(share.workpiece.account, part) for share, part in zip(shares, parts, strict=True)],
            seconds=seconds,
            code=run.code,
            at=at,
            by=by,
            submission=submission,
            now=now,
        )
        for share, part in zip(shares, parts, strict=True):
            share.seconds, share.step = part, _add_to_step(share.workpiece, run.code, part)
        ClockShare.objects.bulk_update(shares, ["seconds", "step"])
        run.stopped_at, run.seconds = at, seconds
        run.entry_id = entry_id  # type: ignore[assignment]
        run.save()
        return run


def left_over_night(run: ClockRun, at: datetime) -> bool:
    """A clock that has run past midnight in the studio, or longer than anybody stands at a lathe."""
    over_midnight = studio_settings.local_date(run.started_at) != studio_settings.local_date(at)
    return over_midnight or (at - run.started_at).total_seconds() > MOST_AT_ONE_GO_S


def add_hours(
    *,
    person: User,
    workpieces: Sequence[Workpiece],
    code: str,
    seconds: int,
    at: datetime,
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> ClockRun:
    """Will book hands-on seconds without a clock, shared equally. What comes back can be taken back."""
    if not 0 < seconds <= MOST_AT_ONE_GO_S * len(workpieces or [1]):
        raise ClockTrouble("Between a minute and twelve hours for each workpiece.", field="worked")
    with transaction.atomic():
        rows = held_rows(workpieces)
        parts = split(seconds, [1] * len(rows))
        entry_id = _book(
            person=person,
            shares=[(row.account, part) for row, part in zip(rows, parts, strict=True)],
            seconds=seconds,
            code=code,
            at=at,
            by=by,
            submission=submission,
            now=now,
        )
        run = ClockRun.objects.create(
            person=person, code=code, started_at=at, stopped_at=at, seconds=seconds, entry_id=entry_id
        )
        for row, part in zip(rows, parts, strict=True):
            step = begin_step(workpiece=row, code=code, at=at, person=person)
            Step.objects.filter(pk=step.pk).update(hands_on_s=step.hands_on_s + part)
            ClockShare.objects.create(run=run, workpiece=row, step=step, seconds=part)
        return run


def _book(
    *,
    person: User,
    shares: Sequence[tuple[Account, int]],
    seconds: int,
    code: str,
    at: datetime,
    by: User | None,
    submission: Submission | None,
    now: datetime | None,
) -> int | None:
    """One entry for the hours; None where neither wage nor overhead is settled, so there is nothing to post."""
    lock(account for account, _ in shares)
    charged = [
        (live(account), weight)
        for account, weight in ((Account.objects.get(pk=a.pk), w) for a, w in shares)
        if weight
    ]
    if not charged:
        return None
    legs = labour_legs(
        person=person, shares=charged, seconds=seconds, on=studio_settings.local_date(at)
    )
    if not legs:
        return None
    return post(kind="hours", legs=legs, at=at, step=code, by=by, submission=submission, now=now).entry_id


def _add_to_step(workpiece: Workpiece, code: str, seconds: int) -> Step:
    """The time goes to the step it was started for, also where that has been ended since."""
    step = (
        Step.objects.filter(workpiece=workpiece, code=code, state__in=[StepState.OPEN, StepState.DONE])
        .order_by("-attempt")
        .first()
    )
    step = step or current(workpiece, code)
    Step.objects.filter(pk=step.pk).update(hands_on_s=step.hands_on_s + seconds)
    return step


def set_usual_minutes(*, person: User, code: str, seconds: int) -> None:
    """Will remember how long this person usually takes for a step, offered wherever minutes are asked."""
    if not 0 < seconds <= MOST_AT_ONE_GO_S:
        raise ClockTrouble("Between a minute and twelve hours.", field="usual")
    UsualMinutes.objects.update_or_create(person=person, code=code, defaults={"seconds": seconds})
