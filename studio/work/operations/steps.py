"""Steps: planned, begun, done, left out, done again. A step done again costs again."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.db.models import F, Max

from studio.fields.models import Submission
from studio.people.models import User
from studio.stores import operations as stores
from studio.stores.models import Material
from studio.stores.using import Taken
from studio.work.errors import OutOfTime, StepTrouble
from studio.work.making import held_rows, next_position
from studio.work.models import Step, StepCode, StepState, Workpiece

REASON_LIMIT = 200


def plan_steps(*, workpiece: Workpiece, codes: Sequence[str]) -> None:
    """Will set what is still to come, in this order. What was begun, done or left out stays as it is."""
    with transaction.atomic():
        (row,) = held_rows([workpiece])
        Step.objects.filter(workpiece=row, state=StepState.PLANNED).delete()
        for code in codes:
            _add(row, code)


def _add(workpiece: Workpiece, code: str) -> Step:
    if code not in StepCode.values:
        raise StepTrouble("There is no such step.", field="code")
    last = Step.objects.filter(workpiece=workpiece, code=code).aggregate(n=Max("attempt"))["n"] or 0
    return Step.objects.create(
        workpiece=workpiece, code=code, attempt=last + 1, position=next_position(workpiece)
    )


def current(workpiece: Workpiece, code: str) -> Step:
    """The open or planned row for this step; a new one when the step wasn't planned or is done again."""
    step = (
        Step.objects.filter(
            workpiece=workpiece, code=code, state__in=[StepState.OPEN, StepState.PLANNED]
        )
        .order_by("state", "attempt")  # open before planned
        .first()
    )
    return step or _add(workpiece, code)


def begin_step(*, workpiece: Workpiece, code: str, at: datetime, person: User | None = None) -> Step:
    """Will begin a step. Beginning one that runs already changes nothing."""
    with transaction.atomic():
        (row,) = held_rows([workpiece])
        step = current(row, code)
        if step.state == StepState.PLANNED:
            step.state, step.started_at, step.person = StepState.OPEN, at, person  # type: ignore[assignment]
            step.save(update_fields=["state", "started_at", "person"])
        return step


def end_step(
    *,
    workpiece: Workpiece,
    code: str,
    at: datetime,
    person: User | None = None,
    note: str = "",
    not_before: datetime | None = None,
) -> Step:
    """Will mark a step done. `not_before` is when the next may begin (a coat that must dry, a cure)."""
    with transaction.atomic():
        (row,) = held_rows([workpiece])
        if at < row.made_at:
            raise OutOfTime(f"{row.number} came into being after that. Give the time it was done.", field="at")
        step = current(row, code)
        step.state, step.stopped_at = StepState.DONE, at  # type: ignore[assignment]
        step.started_at = step.started_at or at
        step.person = step.person or person  # type: ignore[assignment]
        step.note = note or step.note
        step.not_before = not_before
        step.save()
        return step


def leave_out_step(*, workpiece: Workpiece, code: str, why: str) -> Step:
    """Will leave a step out, with the reason that later readers of the card will want."""
    why = why.strip()
    if not why:
        raise StepTrouble("Say in a word why the step is left out.", field="why")
    if len(why) > REASON_LIMIT:
        raise StepTrouble(f"At most {REASON_LIMIT} letters.", field="why")
    with transaction.atomic():
        (row,) = held_rows([workpiece])
        step = current(row, code)
        if step.state == StepState.OPEN:
            raise StepTrouble(
                f"{step.get_code_display()} is begun already. End it; it can't be left out any more.",
                field="why",
            )
        step.state, step.skipped_why = StepState.SKIPPED, why  # type: ignore[assignment]
        step.save(update_fields=["state", "skipped_why"])
        return step


def repeat_step(*, workpiece: Workpiece, code: str) -> Step:
    """Will plan a step once more, next in line."""
    with transaction.atomic():
        (row,) = held_rows([workpiece])
        waiting = Step.objects.filter(workpiece=row, code=code, state__in=[StepState.OPEN, StepState.PLANNED])
        if waiting.exists():
            raise StepTrouble("That step is still to be done as it is; there is nothing to repeat yet.")
        step = _add(row, code)
        ahead = Step.objects.filter(workpiece=row, state=StepState.PLANNED).exclude(pk=step.pk)
        first = ahead.order_by("position").values_list("position", flat=True).first()
        if first is not None:
            ahead.update(position=F("position") + 1)
            Step.objects.filter(pk=step.pk).update(position=first)
            step.position = first
        return step


def use_material(
    *,
    workpieces: Sequence[Workpiece],
    material: Material,
    amount: int,
    at: datetime,
    step: str = "",
    allow_past: bool = False,
    counted: Sequence[stores.Counted] = (),
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Taken:
    """Will draw a material (finish, sandpaper, insert …) for one or more workpieces, shared equally.

    What was `counted` is set right first; refused, both are undone. Raises StoresRunShort (code "short") where
    too little is fit for use; `allow_past` uses up what is past its day too.
    """
    with transaction.atomic():
        rows = held_rows(workpieces)
        return stores.draw(
            material=material,
            amount=amount,
            shares=[(row.account, 1) for row in rows],
            step=step,
            at=at,
            by=by,
            allow_past=allow_past,
            counted=counted,
            submission=submission,
            now=now,
        )
