"""Reading the finish bench."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db.models import Case, Exists, OuterRef, Prefetch, Q, QuerySet, Subquery, Value, When

from studio.work.models import (
    FinishDone,
    FinishLine,
    FinishRun,
    FinishSchedule,
    RagsIn,
    Step,
    StepCode,
    StepState,
    Workpiece,
)
from studio.work.operations.finish import where_it_stands

# So long rags are asked after; then they lie in the tin or have been burned, by whoever it was.
RAGS_ASKED = timedelta(days=7)
LINES = Prefetch("lines", FinishLine.objects.select_related("material__commodity").order_by("position"))


def finishes() -> QuerySet[FinishSchedule]:
    """The finishes offered now, with their lines. Two queries."""
    return FinishSchedule.objects.filter(ended_at=None).prefetch_related(LINES)


def finish(pk: int) -> FinishSchedule | None:
    """One finish with its lines, also one that was changed since; None if there is none. Two queries."""
    return FinishSchedule.objects.prefetch_related(LINES).filter(pk=pk).first()


def _runs() -> QuerySet[FinishRun]:
    return (
        FinishRun.objects.select_related("schedule", "workpiece__account", "workpiece__species")
        .defer("workpiece__account__value_micro")
        .prefetch_related(
            Prefetch("schedule__lines", LINES.queryset), Prefetch("done", FinishDone.objects.select_related("by"))
        )
    )


def under_finish(workpiece_id: int | None = None) -> QuerySet[FinishRun]:
    """What is on a finish now, in shop order, with lines and what was tapped. Three queries, no money."""
    rows = _runs().filter(ended_at=None, workpiece__closed_at=None).order_by("workpiece__sort_key")
    return rows if workpiece_id is None else rows.filter(workpiece=workpiece_id)


def finish_run(pk: int) -> FinishRun | None:
    """One run whole, or None. Three queries, no money."""
    return _runs().filter(pk=pk).first()


def finish_done(pk: int) -> FinishDone | None:
    """One tapped line with its run, or None. One query."""
    rows = FinishDone.objects.select_related("run__workpiece", "run__schedule", "line__material")
    return rows.filter(pk=pk).first()


def last_finish(workpiece_id: int) -> FinishRun | None:
    """The finish it is on, else the last one it had. Three queries."""
    return _runs().filter(workpiece=workpiece_id).order_by("-started_at", "-pk").first()


def still_curing(workpiece_ids: Iterable[int], now: datetime) -> dict[int, datetime]:
    """Until when each cures before packing, by workpiece; those that are cured are absent. One query."""
    rows = FinishRun.objects.filter(workpiece__in=list(workpiece_ids), cured_at__gt=now, taken_off=False)
    found = rows.order_by("cured_at").values_list("workpiece", "cured_at")
    return {pk: until for pk, until in found if until is not None}


def on_a_finish_now(workpiece_ids: Iterable[int]) -> set[int]:
    """Which of them are on a finish that isn't done. One query."""
    rows = FinishRun.objects.filter(workpiece__in=list(workpiece_ids), ended_at=None, workpiece__closed_at=None)
    return set(rows.values_list("workpiece", flat=True))


def rags_lie_about(now: datetime) -> FinishDone | None:
    """The last oily coat where nobody has said since that the rags are in the tin; else None. Two queries.

    Asked on the day itself and, where it was forgotten, a week longer.
    """
    last = (
        FinishDone.objects.filter(line__oily=True, taken_back_at=None, at__lte=now, at__gt=now - RAGS_ASKED)
        .select_related("run__workpiece", "line__material")
        .order_by("-at")
        .first()
    )
    if last is None or RagsIn.objects.filter(at__gte=last.at).exists():
        return None
    return last


def finish_line(pk: int) -> FinishLine | None:
    """One line with its finish and its tin, or None. One query."""
    return FinishLine.objects.select_related("schedule", "material__commodity").filter(pk=pk).first()


def at_line(line: FinishLine) -> list[FinishRun]:
    """What is on this finish and comes to this line next, in shop order. Three queries."""
    found = []
    for run in under_finish().filter(schedule=line.schedule_id):
        lines, stands = where_it_stands(run)
        if stands.following is not None and lines[stands.following].pk == line.pk:
            found.append(run)
    return found


def to_be_finished(named: Iterable[int], *, most: int) -> list[Workpiece]:
    """What could go on a finish: those named, then what is sanded or finished next; on none now. One query."""
    first = (
        Step.objects.filter(workpiece=OuterRef("pk"), state__in=[StepState.OPEN, StepState.PLANNED])
        .order_by("position", "attempt")
        .values("code")[:1]
    )
    keys = list(named)
    rows = (
        Workpiece.objects.on_the_bench()
        .annotate(ahead=Subquery(first), asked=Case(When(pk__in=keys, then=Value(0)), default=Value(1)))
        .filter(Q(pk__in=keys) | Q(ahead__in=[StepCode.SAND, StepCode.FINISH]))
        .exclude(Exists(FinishRun.objects.filter(workpiece=OuterRef("pk"), ended_at=None)))
    )
    return list(rows.order_by("asked", "sort_key")[:most])
