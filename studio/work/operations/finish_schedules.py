"""Finishes as this studio does them: lines in order, made, changed and put away."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from studio.people.models import User
from studio.stores.models import Material, MaterialKind
from studio.work.errors import FinishTrouble
from studio.work.models import FinishLine, FinishSchedule, LineKind

MOST_LINES, MOST_GRIT, MOST_WAIT_S = 30, 20_000, 400 * 86_400
MOST_SPREAD_MGM2 = 5_000_000
NAME_LENGTH = 80


@dataclass(frozen=True)
class LineSpec:
    """A line as somebody writes it, in stored units."""

    kind: str
    grit: int | None = None
    material: Material | None = None
    spread_mgm2: int | None = None
    wait_s: int = 0
    latest_s: int | None = None
    not_on_resin: bool = False
    oily: bool = False


def keep_schedule(
    *, name: str, lines: Sequence[LineSpec], at: datetime, by: User, instead_of: FinishSchedule | None = None
) -> FinishSchedule:
    """Will keep a finish. `instead_of` is the one it replaces: what is under way keeps the lines it began with.

    Raises `FinishTrouble`; one about a line says which in its words (field "lines").
    """
    words = " ".join(name.split())
    if not words or len(words) > NAME_LENGTH:
        raise FinishTrouble(
            f"Give the finish a name of at most {NAME_LENGTH} letters, such as Hard oil, three coats.", field="name"
        )
    if not any(line.kind != LineKind.CURE for line in lines) or len(lines) > MOST_LINES:
        raise FinishTrouble(f"A finish has at least one line to do, and at most {MOST_LINES}.", field="lines")
    for number, line in enumerate(lines, 1):
        _check(number, line, last=number == len(lines))
    with transaction.atomic():
        if instead_of is not None:
            held = FinishSchedule.objects.select_for_update().get(pk=instead_of.pk)
            if held.ended_at is not None:
                raise FinishTrouble("That finish was changed or put away meanwhile. Open it again.", code="stale")
            held.ended_at = at
            held.save(update_fields=["ended_at"])
        if FinishSchedule.objects.filter(name__iexact=words, ended_at=None).exists():
            raise FinishTrouble("There is a finish of that name already. Give another name.", field="name")
        row = FinishSchedule.objects.create(name=words, follows=instead_of, at=at, by=by)
        FinishLine.objects.bulk_create(
            FinishLine(schedule=row, position=place, **vars(line)) for place, line in enumerate(lines)
        )
        return row


def _check(number: int, line: LineSpec, *, last: bool) -> None:
    for wrong, words in (
        (line.kind not in LineKind.values, "choose what is done."),
        (
            line.kind == LineKind.COAT and (line.material is None or line.material.kind != MaterialKind.FINISH),
            "a coat wants a finish from the stores. Choose one, or add it to the stores first.",
        ),
        (line.kind == LineKind.CURE and not last, "the cure comes last. Give the line before it a wait instead."),
        (line.kind == LineKind.CURE and not line.wait_s, "say how long it cures."),
        (
            line.grit is not None and not 0 < line.grit <= MOST_GRIT,
            f"a grit is between 1 and {MOST_GRIT}, as printed on the back of the paper.",
        ),
        (
            line.spread_mgm2 is not None and not 0 < line.spread_mgm2 <= MOST_SPREAD_MGM2,
            "a coat is between a milligram and 5 kg on a square metre. Look at the tin.",
        ),
        (not 0 <= line.wait_s <= MOST_WAIT_S, "a wait is between nothing and 400 days."),
        (
            line.latest_s is not None and not line.wait_s < line.latest_s <= MOST_WAIT_S,
            "the latest comes after the wait, and within 400 days.",
        ),
        (last and line.latest_s is not None, "nothing comes after it, so it has no latest. Leave that empty."),
    ):
        if wrong:
            raise FinishTrouble(f"Line {number}: {words}", field="lines")


def retire_schedule(*, schedule: FinishSchedule, at: datetime) -> None:
    """Will offer a finish no more. What is under way goes on. Twice is once."""
    FinishSchedule.objects.filter(pk=schedule.pk, ended_at=None).update(ended_at=at)
