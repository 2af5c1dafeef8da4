"""What the steps still planned will take, for many workpieces at once."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from studio.craft.rounding import divide
from studio.ledger.labour import HOUR_S, overhead_per_hour_micro
from studio.people import queries as people
from studio.people.models import User
from studio.work.models import Step, StepState, Workpiece
from studio.work.queries.cost import ToCome, usual_by_code


@dataclass(frozen=True)
class Coming:
    """What is still to come, and how much of it is the maker's own unpaid time."""

    to_come: ToCome
    own_labour_micro: int
    own_seconds: int


def coming(rows: Sequence[Workpiece], *, person: User, on: date) -> dict[int, Coming]:
    """As `work.queries.still_to_come`, by workpiece key, in six queries for all of them together.

    Hours at `person`'s usual time for each step and wage of the day; where he is paid they are paid out, and
    none of them counts as the maker's own. Materials and power still to come are not guessed.
    """
    steps: dict[int, list[Step]] = defaultdict(list)
    for step in Step.objects.filter(workpiece__in=rows, state__in=[StepState.PLANNED, StepState.OPEN]).order_by(
        "position", "attempt"
    ):
        steps[step.workpiece_id].append(step)
    usual = usual_by_code(sorted({step.code for held in steps.values() for step in held}), person)
    rate = people.wages_on(on, [person]).get(person.pk)
    overhead_an_hour = overhead_per_hour_micro(on)
    found = {}
    for row in rows:
        seconds, rests_on = 0, 0
        unknown = []
        for step in steps[row.pk]:
            known = usual.get(step.code)
            if known is None:
                unknown.append(step.get_code_display())
                continue
            seconds += max(0, known[0] - step.hands_on_s)
            rests_on += known[1]
        wage = divide(rate.rate_micro * seconds, HOUR_S) if rate else 0
        paid = bool(rate and rate.paid)
        overhead = divide(overhead_an_hour * seconds, HOUR_S)
        found[row.pk] = Coming(
            ToCome(seconds, wage if paid else 0, wage + overhead, tuple(unknown), rests_on),
            0 if paid else wage,
            0 if paid else seconds,
        )
    return found
