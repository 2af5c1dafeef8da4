"""Reading the diaries of the machines: what they want, when it is due again, what was done."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import DateTimeField, DurationField, F, Max, OuterRef, Q, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce, Greatest

from studio.craft.upkeep import Due, due
from studio.craft.waits import Wait
from studio.equipment.models import Load, Machine, MachineKind, Upkeep, UpkeepDone
from studio.equipment.upkeep_usual import DAY_S, USUAL
from studio.fields.listing import listed
from studio.fields.quantity import show

AHEAD = timedelta(days=1)
# Where one stands to look after it.
WALK: dict[str, str] = {
    MachineKind.OVEN: "oven",
    MachineKind.VACUUM_CHAMBER: "vacuum chamber",
    MachineKind.PRESSURE_POT: "pressure pot",
    MachineKind.COMPRESSOR: "pressure pot",
    MachineKind.LATHE: "lathe",
}


@dataclass(frozen=True)
class UpkeepRow:
    """One thing a machine wants. `last`: when it was done, None if nobody noted it yet; `ran_s`: how long the machine
    has run since then, or since its diary began; `usual`: the interval is common practice and not the studio's."""

    upkeep: Upkeep
    last: datetime | None
    ran_s: int
    due: Due
    usual: bool

    @property
    def how_often(self) -> str:
        """every 6 months, or after 100 h of running"""
        parts = []
        if self.upkeep.every_s is not None:
            parts.append(f"every {_days(self.upkeep.every_s)}")
        if self.upkeep.run_s is not None:
            parts.append(f"after {show(self.upkeep.run_s, 'duration', unit='h')} of running")
        return ", or ".join(parts)


def _days(seconds: int) -> str:
    days = seconds // DAY_S
    for size, one, many in ((30, "month", "months"), (7, "week", "weeks")):
        if days % size == 0:
            return one if days == size else f"{days // size} {many}"
    return "day" if days == 1 else f"{days} days"


def upkeep_rows(now: datetime, machine: Machine | None = None) -> list[UpkeepRow]:
    """Return what the machines in use want (or this one), as their diaries hold it. One query."""
    rows = Upkeep.objects.filter(dropped=False)
    rows = rows.filter(machine__retired_on=None) if machine is None else rows.filter(machine=machine)
    done = UpkeepDone.objects.filter(upkeep=OuterRef("pk")).order_by().values("upkeep").annotate(last=Max("at"))
    rows = rows.annotate(last=Subquery(done.values("last"))).annotate(
        since=Coalesce("last", "began_at", output_field=DateTimeField())
    )
    loads = (
        Load.objects.filter(Q(ended_at=None) | Q(ended_at__gt=OuterRef("since")), machine=OuterRef("machine"))
        .filter(started_at__lt=now)
        .order_by()
        .values("machine")
        .annotate(
            ran=Sum(
                Coalesce(F("ended_at"), Value(now, output_field=DateTimeField()))
                - Greatest(F("started_at"), OuterRef("since"), output_field=DateTimeField()),
                output_field=DurationField(),
            )
        )
    )
    found = rows.annotate(ran=Subquery(loads.values("ran"), output_field=DurationField()))
    asked = found.select_related("machine").defer("machine__price_micro").order_by("machine", "pk")
    return [_row(row, now) for row in asked]


def _row(row: Upkeep, now: datetime) -> UpkeepRow:
    ran = getattr(row, "ran", None) or timedelta()
    ran_s = max(ran.days * DAY_S + ran.seconds, 0)
    since: datetime = getattr(row, "since")  # noqa: B009  annotated above
    is_due = due(since=since, now=now, every_s=row.every_s, run_s=row.run_s, ran_s=ran_s)
    return UpkeepRow(row, getattr(row, "last", None), ran_s, is_due, not row.ours)


def begins_with(machine: Machine, rows: list[UpkeepRow]) -> tuple[str, ...]:
    """Return what a machine of its kind usually wants and this diary doesn't ask for. No query."""
    there = {row.upkeep.what for row in rows}
    return tuple(what for what, _, _ in USUAL.get(machine.kind, ()) if what not in there)


def done_at(machine: Machine) -> QuerySet[UpkeepDone]:
    """Return what was done at a machine, newest first: slice it for a page. One query."""
    return UpkeepDone.objects.filter(upkeep__machine=machine).select_related("upkeep", "by")


def upkeep(pk: int) -> Upkeep | None:
    """Return one line of a diary with its machine, or None. One query."""
    return Upkeep.objects.select_related("machine").filter(pk=pk).first()


def done(pk: int) -> UpkeepDone | None:
    """Return one thing done, with its line and machine, or None. One query."""
    return UpkeepDone.objects.select_related("upkeep__machine").filter(pk=pk).first()


def waits(now: datetime) -> list[Wait]:
    """Return what the machines' diaries ask for by this time tomorrow: one wait a machine. One query."""
    by_machine: dict[int, list[UpkeepRow]] = {}
    for row in upkeep_rows(now):
        if row.due.now or (row.due.at is not None and row.due.at <= now + AHEAD):
            by_machine.setdefault(row.upkeep.machine_id, []).append(row)
    return [_wait(rows) for rows in by_machine.values()]


def _wait(rows: list[UpkeepRow]) -> Wait:
    machine = rows[0].upkeep.machine
    reason = listed([row.upkeep.what[:1].lower() + row.upkeep.what[1:] for row in rows], "and")
    ran = [row for row in rows if row.due.left_s == 0]
    at = min((row.due.at for row in rows if row.due.at is not None and row not in ran), default=None)
    note = f"ran {show(ran[0].ran_s, 'duration', unit='h')} since" if ran else ""
    return Wait(
        WALK.get(machine.kind, "desk"), "look after", machine.name, "by" if at else "since", at, reason, note,
        about=("equipment.diary", machine.pk),
    )  # fmt: skip
