"""What a workpiece has cost, and what is still to come."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime
from statistics import median_low

from django.db.models import F

from studio.craft.rounding import divide
from studio.fields.quantity import show
from studio.ledger import queries as ledger
from studio.ledger.accounts import PAID_OUT, Component
from studio.ledger.labour import HOUR_S, overhead_per_hour_micro
from studio.people import queries as people
from studio.people.models import User
from studio.stores import queries as stores
from studio.work.models import Step, StepCode, StepState, UsualMinutes, Workpiece

ENOUGH_LIKE = 3
LATEST = 30


@dataclass(frozen=True)
class CostLine:
    """One line of the journal behind a figure."""

    entry_id: int
    words: str
    step: str
    at: datetime
    value_micro: int
    reversed: bool


@dataclass(frozen=True)
class CostRow:
    """One component, or one step: what was paid out, what it comes to all in, and the lines behind it."""

    key: str
    words: str
    paid_out_micro: int
    all_in_micro: int
    lines: tuple[CostLine, ...]


@dataclass(frozen=True)
class CostTable:
    by_component: tuple[CostRow, ...]
    by_step: tuple[CostRow, ...]
    paid_out_micro: int
    all_in_micro: int
    used_mg: dict[int, int]


@dataclass(frozen=True)
class ToCome:
    """What the steps still planned will take, as far as known.

    `unknown` names the steps no figure is known for; `from_own` how many of the studio's own like steps the
    others rest on.
    """

    seconds: int
    paid_out_micro: int
    all_in_micro: int
    unknown: tuple[str, ...]
    from_own: int


def cost_table(workpiece: Workpiece) -> CostTable:
    """Cost so far by component and by step, each row with the journal lines behind it. Three queries.

    A closed workpiece shows what it had cost when it left: the lines that took it all off again are left out.
    """
    lines = ledger.history(workpiece.account)
    if workpiece.closed_at is not None:
        lines = [line for line in lines if line.value_micro > 0 or line.reversed]
    used = ledger.used_by([workpiece.account_id]).get(workpiece.account_id, {})
    names = stores.names_of_commodities()
    by_part: dict[str, list] = defaultdict(list)
    by_step: dict[str, list] = defaultdict(list)
    for line in lines:
        by_part[line.component].append(line)
        by_step[line.step].append(line)
    words = _component_words(used, names)
    parts = [
        _row(part.value, words.get(part, str(part.label)), by_part[part.value])
        for part in Component
        if by_part.get(part.value)
    ]
    steps = dict(StepCode.choices)
    order = [*StepCode.values, ""]
    step_rows = [
        _row(code, str(steps.get(code, "Wood and the rest")), by_step[code])
        for code in order
        if by_step.get(code)
    ]
    return CostTable(
        tuple(parts),
        tuple(step_rows),
        sum(row.paid_out_micro for row in parts),
        sum(row.all_in_micro for row in parts),
        dict(used),
    )


def _row(key: str, words: str, lines: list) -> CostRow:
    paid = sum(line.value_micro for line in lines if line.component in PAID_OUT)
    return CostRow(
        key,
        words,
        paid,
        sum(line.value_micro for line in lines),
        tuple(
            CostLine(line.entry_id, line.words, line.step, line.effective_at, line.value_micro, line.reversed)
            for line in lines
        ),
    )


def _component_words(used: dict[int, int], names: dict) -> dict[Component, str]:
    """Resin, 1104 g: the grams stand beside the word where materials of that component were used."""
    grams: dict[Component, int] = defaultdict(int)
    for commodity, amount in used.items():
        named = names.get(commodity)
        if named and not named.counted:
            grams[named.component] += amount
    return {
        part: f"{part.label}, {show(amount, 'mass', unit='g')}"
        for part, amount in grams.items()
        if amount
    }


def still_to_come(workpiece: Workpiece, *, person: User, on: date) -> ToCome:
    """Hours, wage and overhead of the steps still planned or open. Five queries.

    A step's time is this person's usual minutes where they are set, else the middle of the studio's own last
    like steps (three at least), less what is booked on an open one. Materials and power still to come are not
    guessed here.
    """
    steps = [
        step for step in workpiece.steps.all() if step.state in (StepState.PLANNED, StepState.OPEN)
    ]
    seconds, unknown, rests_on = 0, [], 0
    known = usual_by_code([step.code for step in steps], person)
    for step in steps:
        usual = known.get(step.code)
        if usual is None:
            unknown.append(step.get_code_display())
            continue
        seconds += max(0, usual[0] - step.hands_on_s)
        rests_on += usual[1]
    rate = people.wages_on(on, [person]).get(person.pk)
    wage = divide(rate.rate_micro * seconds, HOUR_S) if rate else 0
    overhead = divide(overhead_per_hour_micro(on) * seconds, HOUR_S)
    paid_out = wage if rate and rate.paid else 0
    return ToCome(seconds, paid_out, wage + overhead, tuple(unknown), rests_on)


def usual_by_code(codes: list[str], person: User) -> dict[str, tuple[int, int]]:
    """{step: (usual seconds, how many own steps it rests on)}; a step nothing is known of is absent. Two queries."""
    found: dict[str, tuple[int, int]] = {}
    own: dict[str, list[int]] = defaultdict(list)
    rows = (
        Step.objects.filter(code__in=codes, state=StepState.DONE, hands_on_s__gt=0)
        .order_by(F("stopped_at").desc(nulls_last=True))
        .values_list("code", "hands_on_s")[: LATEST * len(StepCode.values)]
    )
    for code, seconds in rows:
        if len(own[code]) < LATEST:
            own[code].append(seconds)
    for code, values in own.items():
        if len(values) >= ENOUGH_LIKE:
            found[code] = (median_low(values), len(values))
    for code, seconds in UsualMinutes.objects.filter(person=person, code__in=codes).values_list(
        "code", "seconds"
    ):
        found[code] = (seconds, 0)
    return found
