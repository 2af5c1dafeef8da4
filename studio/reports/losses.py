"""What broke: at which step, why, and what it had cost."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from studio.ledger import queries as ledger
from studio.ledger.accounts import PAID_OUT, Kind
from studio.ledger.browsing import flows, moved_by
from studio.people.settings import zone
from studio.work.models import Cause, Descent, Loss, StepCode

POOLS = (Kind.LOSS_EXPECTED, Kind.LOSS_UNUSUAL)


@dataclass(frozen=True)
class LossLine:
    """What was lost at one step for one cause; what was saved of it is taken off."""

    step: str
    cause: str
    unusual: bool
    count: int
    paid_out_micro: int
    all_in_micro: int


@dataclass(frozen=True)
class Losses:
    """`late` is what reached the losses besides: bills that came later, and what was saved in other years."""

    lines: tuple[LossLine, ...]
    late_paid_out_micro: int
    late_all_in_micro: int

    @property
    def count(self) -> int:
        return sum(line.count for line in self.lines)

    @property
    def paid_out_micro(self) -> int:
        return sum(line.paid_out_micro for line in self.lines) + self.late_paid_out_micro

    @property
    def all_in_micro(self) -> int:
        return sum(line.all_in_micro for line in self.lines) + self.late_all_in_micro


def losses(since: date, until: date) -> Losses:
    """Losses of these days by step and cause, dearest first, adding up to what the books say. Four queries."""
    rows = [row for row in _rows() if since <= row[4] <= until]
    saved = _saved()
    entries = [entry for _, _, _, entry, _, _ in rows if entry]
    entries += [entry for *_, workpiece in rows for entry in saved[workpiece]]
    costs = moved_by(entries, POOLS)
    sums: dict[tuple[str, str, bool], list[int]] = defaultdict(lambda: [0, 0, 0])
    for step, cause, unusual, entry, _, workpiece in rows:
        mine = sums[step, cause, unusual]
        mine[0] += 1
        for pk in (entry, *saved[workpiece]):
            cost = costs.get(pk, ledger.Cost({})) if pk else ledger.Cost({})
            mine[1] += cost.paid_out
            mine[2] += cost.all_in
    lines = [
        LossLine(_step(step), str(Cause(cause).label), unusual, *figures)
        for (step, cause, unusual), figures in sums.items()
    ]
    lines.sort(key=lambda line: (-line.all_in_micro, line.step, line.cause))
    paid, all_in = _by_the_books(since, until)
    return Losses(
        tuple(lines),
        paid - sum(line.paid_out_micro for line in lines),
        all_in - sum(line.all_in_micro for line in lines),
    )


def _rows() -> list[tuple]:
    """(step, cause, unusual, entry, day, workpiece) of each loss that stands."""
    here = zone()
    return [
        (step, cause, unusual, entry, at.astimezone(here).date(), workpiece)
        for step, cause, unusual, entry, at, workpiece in Loss.objects.filter(taken_back_at=None).values_list(
            "step", "cause", "unusual", "entry", "at", "workpiece"
        )
    ]


def _saved() -> dict[int, list[int]]:
    """The entries that saved something of a lost workpiece, by its key."""
    found: dict[int, list[int]] = defaultdict(list)
    rows = Descent.objects.filter(how=Descent.How.SALVAGE, entry__isnull=False)
    for workpiece, entry in rows.values_list("parent", "entry"):
        found[workpiece].append(entry)
    return found


def _by_the_books(since: date, until: date) -> tuple[int, int]:
    paid = all_in = 0
    for flow in flows(since=since, until=until):
        if flow.pool in POOLS:
            all_in += flow.value_micro
            paid += flow.value_micro if flow.component in PAID_OUT else 0
    return paid, all_in


def _step(code: str) -> str:
    return str(StepCode(code).label) if code else "Before any step"
