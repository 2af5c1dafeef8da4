"""Finishes at the bench: pieces put on them, lines tapped and taken back, the rags put away."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from studio.craft import finishing
from studio.craft.rounding import divide
from studio.fields.listing import listed
from studio.fields.models import Submission
from studio.ledger import operations as ledger
from studio.people import settings as studio_settings
from studio.people.models import User
from studio.work.errors import FinishTrouble, OutOfTime
from studio.work.making import held_rows
from studio.work.models import (
    Descent,
    FinishDone,
    FinishLine,
    FinishRun,
    FinishSchedule,
    LineKind,
    PourFill,
    RagsIn,
    Step,
    StepCode,
    StepState,
    Workpiece,
)
from studio.work.operations.steps import begin_step, end_step, repeat_step, use_material

STEP_OF = {LineKind.SAND: StepCode.SAND, LineKind.COAT: StepCode.FINISH, LineKind.BUFF: StepCode.FINISH}
MOST_COAT = 10_000_000
GRAM_MG, TENTH_MG = 1000, 100
WORDS_LENGTH = 300
GENERATIONS = 12


def put_on_finish(
    *,
    schedule: FinishSchedule,
    workpieces: Sequence[Workpiece],
    at: datetime,
    by: User,
    resin_words: str = "",
    now: datetime | None = None,
) -> list[FinishRun]:
    """Will put workpieces on a finish: all or none.

    Asks (field and code "resin_words") where one has resin in it and a line of the finish won't cure there: with
    words in the maker's own hand it goes on all the same, and they stay with it.
    """
    if not workpieces:
        raise FinishTrouble("Choose at least one workpiece.", field="workpieces")
    words = " ".join(resin_words.split())
    if len(words) > WORDS_LENGTH:
        raise FinishTrouble(f"At most {WORDS_LENGTH} letters.", field="resin_words")
    with transaction.atomic():
        rows = held_rows(workpieces)
        FinishSchedule.objects.select_for_update().get(pk=schedule.pk)
        schedule.refresh_from_db(fields=["ended_at"])
        if schedule.ended_at is not None:
            raise FinishTrouble("That finish was changed or put away. Choose another.", field="schedule")
        _not_out_of_time(rows, at, now)
        busy = FinishRun.objects.filter(workpiece__in=rows, ended_at=None).values_list("workpiece__number", flat=True)
        if busy:
            has = "is" if len(busy) == 1 else "are"
            raise FinishTrouble(
                f"{listed(sorted(busy))} {has} on a finish already. Take it off that one first.", field="workpieces"
            )
        resin = _resin_asked(schedule, rows, words)
        return [
            FinishRun.objects.create(
                workpiece=row, schedule=schedule, started_at=at, by=by,
                resin_words=words if row.number in resin else "",
            )
            for row in rows
        ]  # fmt: skip


def _resin_asked(schedule: FinishSchedule, rows: Sequence[Workpiece], words: str) -> list[str]:
    """Which of them have resin in them, where that matters to this finish; refused without words."""
    soft = next((line for line in schedule.lines.select_related("material") if line.not_on_resin), None)
    resin = holding_resin(rows) if soft else []
    if soft and resin and not words:
        raise FinishTrouble(
            f"{listed(resin)} {'has' if len(resin) == 1 else 'have'} resin in it, and "
            f"{soft.material or soft.words} won’t cure on resin: it stays sticky there. Choose another finish, "
            "or say in your own words why it goes on all the same.",
            field="resin_words",
            code="resin_words",
        )
    return resin


def _not_out_of_time(rows: Sequence[Workpiece], at: datetime, now: datetime | None) -> None:
    if now is not None and at > now:
        raise OutOfTime("That time is still to come. Leave it empty for now.", field="at")
    late = next((row for row in rows if at < row.made_at), None)
    if late is not None:
        raise OutOfTime(f"{late.number} came into being after that. Give a later time.", field="at")


def holding_resin(rows: Sequence[Workpiece]) -> list[str]:
    """The numbers of those that were cast, or came of what was cast; in the order asked for."""
    origin = {row.pk: {row.pk} for row in rows}
    wave = set(origin)
    for _ in range(GENERATIONS):
        cast = set(PourFill.objects.filter(casting__in=wave).values_list("casting", flat=True))
        for roots in origin.values():
            if roots & cast:
                roots.add(0)
        pairs = Descent.objects.filter(child__in=wave).values_list("child", "parent")
        wave = set()
        for child, parent in pairs:
            for roots in origin.values():
                if child in roots:
                    roots.add(parent)
            wave.add(parent)
        if not wave:
            break
    return [row.number for row in rows if 0 in origin[row.pk]]


def where_it_stands(run: FinishRun) -> tuple[list[FinishLine], finishing.Standing]:
    """The lines of a run and what comes next. Two queries unless they were fetched with it."""
    lines = list(run.schedule.lines.all())
    tapped = {done.line_id: done.at for done in run.done.all() if done.taken_back_at is None}
    shape = [finishing.Line(row.wait_s, row.latest_s, row.kind == LineKind.CURE) for row in lines]
    done = {place: tapped[row.pk] for place, row in enumerate(lines) if row.pk in tapped}
    return lines, finishing.standing(shape, done, run.started_at)


def coat_amount(piece: Workpiece, line: FinishLine) -> int | None:
    """What a coat takes by surface and tin, in mg; None where size or spread is unknown, or the tin is counted.

    From a gram on it is rounded to a tenth: nobody wipes on a milligram.
    """
    surface = surface_of(piece)
    if surface is None or line.spread_mgm2 is None or line.material is None or line.material.counted:
        return None
    found = finishing.coat_mg(surface, line.spread_mgm2)
    return found if found < GRAM_MG else divide(found, TENTH_MG) * TENTH_MG


def surface_of(piece: Workpiece) -> int | None:
    """About how many mm² of it take finish; None where it wasn't measured all three ways."""
    if piece.length_um is None or piece.width_um is None or piece.height_um is None:
        return None
    shape = finishing.shape_of(piece.form)
    return finishing.surface_mm2(shape, piece.length_um, piece.width_um, piece.height_um)


def do_line(
    *,
    run: FinishRun,
    line: FinishLine,
    at: datetime,
    by: User,
    amount: int | None = None,
    sure: bool = False,
    submission: Submission | None = None,
    now: datetime | None = None,
    **stock: Any,
) -> FinishDone:
    """Will note the next line as done; a coat is drawn from the stores, by weight typed or reckoned.

    Asks (code "sure") before its wait is over, and for an `amount` where none can be reckoned. `stock`: what was
    `counted`, `allow_past`. Raises StoresRunShort as every draw does.
    """
    with transaction.atomic():
        (piece,) = held_rows([run.workpiece])
        run = FinishRun.objects.select_for_update().select_related("schedule").get(pk=run.pk)
        _may_be_done(run, line, at, now, sure=sure)
        entry_id, taken = None, None
        if line.kind == LineKind.COAT and line.material is not None:
            taken = amount if amount is not None else coat_amount(piece, line)
            _checked(piece, taken)
            entry_id = use_material(
                workpieces=[piece], material=line.material, amount=taken or 0, step=StepCode.FINISH, at=at, by=by,
                submission=submission, now=now, **stock,
            ).entry_id  # fmt: skip
        row = FinishDone(run=run, line=line, at=at, by=by, amount=taken)
        row.entry_id = entry_id  # type: ignore[attr-defined]
        row.save(force_insert=True)
        _steps(run.pk, piece, line, at, by)
        return row


def _may_be_done(run: FinishRun, line: FinishLine, at: datetime, now: datetime | None, *, sure: bool) -> None:
    if run.ended_at is not None:
        raise FinishTrouble("That finish is done or taken off already; nothing was changed.", code="done")
    lines, stands = where_it_stands(run)
    ahead = None if stands.following is None else lines[stands.following]
    if ahead is None or ahead.pk != line.pk:
        what = f"Next comes: {ahead.words[:1].lower()}{ahead.words[1:]}." if ahead else "All its lines are done."
        raise FinishTrouble(f"That line is done already, or not its turn yet. {what}", code="order")
    if now is not None and at > now:
        raise OutOfTime("That time is still to come. Leave it empty for now.", field="at")
    last = max([run.started_at, *(done.at for done in run.done.all() if done.taken_back_at is None)])
    if at < last:
        raise FinishTrouble(f"The line before was done {_clock(last)}. Give that time or a later one.", field="at")
    if at < stands.at and not sure:
        raise FinishTrouble(
            f"The line before wants its time: not before {_clock(stands.at)}. Wait, or tick that it is ready.",
            field="at",
            code="sure",
        )


def _checked(piece: Workpiece, amount: int | None) -> None:
    if amount is None:
        raise FinishTrouble(
            f"How much goes on {piece.number} can’t be reckoned: its size or the tin’s spread is not known. "
            "Type how much went on.",
            field="amount",
            code="amount",
        )
    if not 0 < amount <= MOST_COAT:
        raise FinishTrouble("A coat is more than nothing and at most 10 kg. Look at the figure.", field="amount")


def do_lines(
    *, runs: Sequence[FinishRun], line: FinishLine, at: datetime, by: User, sure: bool = False, **stock: Any
) -> list[FinishDone]:
    """Will note one line as done on several pieces in one go, a coat of each as reckoned: all or none."""
    if not runs:
        raise FinishTrouble("Choose at least one workpiece.")
    counted = stock.pop("counted", ())
    with transaction.atomic():
        rows = []
        for run in sorted(runs, key=lambda one: one.workpiece_id):
            rows.append(do_line(run=run, line=line, at=at, by=by, sure=sure, counted=counted, **stock))
            counted = ()  # what is really there was set right with the first
        return rows


def _steps(run_id: int, piece: Workpiece, line: FinishLine, at: datetime, by: User) -> None:
    """The steps of the workpiece follow its finish; with the last line the finish is done, and cures."""
    code = STEP_OF[LineKind(line.kind)]
    waiting = Step.objects.filter(workpiece=piece, code=code, state__in=[StepState.OPEN, StepState.PLANNED])
    if not waiting.exists():
        repeat_step(workpiece=piece, code=code)
    begin_step(workpiece=piece, code=code, at=at, person=by)
    run = FinishRun.objects.get(pk=run_id)
    lines, stands = where_it_stands(run)
    left = [] if stands.following is None else [row.kind for row in lines[stands.following :]]
    if code == StepCode.SAND and LineKind.SAND not in left:
        end_step(workpiece=piece, code=code, at=at, person=by)
    if stands.following is None:
        run.ended_at, run.cured_at = at, stands.at
        run.save(update_fields=["ended_at", "cured_at"])
        rests = stands.at if stands.at > at else None
        for open_code in (StepCode.SAND, StepCode.FINISH):
            if Step.objects.filter(workpiece=piece, code=open_code, state=StepState.OPEN).exists():
                end_step(workpiece=piece, code=open_code, at=at, person=by, not_before=rests)


def _clock(at: datetime) -> str:
    there = at.astimezone(studio_settings.zone())
    return f"{there.day} {there:%B, %H:%M}"


def take_back_line(
    *, done: FinishDone, at: datetime, by: User, submission: Submission | None = None, now: datetime | None = None
) -> FinishDone:
    """Will take the last tapped line back; a coat's entry is reversed, so that stores and piece stand as before."""
    with transaction.atomic():
        (piece,) = held_rows([done.run.workpiece])
        row = FinishDone.objects.select_for_update().select_related("run", "line").get(pk=done.pk)
        if row.taken_back_at is not None:
            raise FinishTrouble("That was taken back already; nothing was changed.", code="done")
        if row.run.taken_off:
            raise FinishTrouble("It was taken off that finish. What was done on it stays.", code="order")
        last = FinishDone.objects.filter(run=row.run, taken_back_at=None).order_by("-line__position").first()
        if last is None or last.pk != row.pk:
            raise FinishTrouble("Lines after it are done. Take those back first, the last one first.", code="order")
        if FinishRun.objects.filter(workpiece=piece, ended_at=None).exclude(pk=row.run_id).exists():
            raise FinishTrouble("It is on another finish by now. Take it off that one first.", code="order")
        if row.entry_id:  # type: ignore[attr-defined]
            ledger.reverse(entry_id=row.entry_id, at=at, by=by, submission=submission, now=now)  # type: ignore[attr-defined]
        row.taken_back_at = at
        row.save(update_fields=["taken_back_at"])
        FinishRun.objects.filter(pk=row.run_id).update(ended_at=None, cured_at=None)
        ended = Step.objects.filter(
            workpiece=piece, code__in=[StepCode.SAND, StepCode.FINISH], state=StepState.DONE, stopped_at=row.at
        )
        ended.update(state=StepState.OPEN, stopped_at=None, not_before=None)
        return row


def take_off_finish(*, run: FinishRun, at: datetime, by: User) -> FinishRun:
    """Will take a workpiece off its finish; what was done on it stays done and paid for."""
    with transaction.atomic():
        row = FinishRun.objects.select_for_update().get(pk=run.pk)
        if row.ended_at is not None:
            raise FinishTrouble("It is not on that finish any more; nothing was changed.", code="done")
        row.ended_at, row.taken_off = max(at, row.started_at), True
        row.save(update_fields=["ended_at", "taken_off"])
        return row


def rags_in_the_tin(*, at: datetime, by: User) -> RagsIn:
    """Will note that the oily rags lie in a closed metal tin. Twice on a day is the later one."""
    on = studio_settings.local_date(at)
    with transaction.atomic():
        row, _ = RagsIn.objects.select_for_update().get_or_create(on=on, defaults={"at": at, "by": by})
        if at > row.at:
            row.at, row.by = at, by
            row.save(update_fields=["at", "by"])
        return row


def rags_still_about(*, at: datetime) -> None:
    """Will take a slip of the finger back: today's rags are not in the tin yet."""
    RagsIn.objects.filter(on=studio_settings.local_date(at)).delete()
