"""What the bench asks for: weighings due, moulds to open, steps that can begin, losses to look after."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from django.db.models import (
    Case,
    CharField,
    Count,
    Exists,
    F,
    Max,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
    Window,
)
from django.db.models.functions import Coalesce, RowNumber

from studio.craft.waits import Kind, Wait
from studio.equipment.models import LoadPlace
from studio.work.models import (
    ClockShare,
    FinishRun,
    PourFill,
    Stabilizing,
    StabilizingItem,
    Stage,
    Step,
    StepCode,
    StepState,
    Workpiece,
)
from studio.work.operations.soak import soaked_by
from studio.work.queries.bench_waits import EACH, BenchWait, Tagged
from studio.work.queries.bench_waits import bench_wait as _wait
from studio.work.queries.bench_waits import tag_of as _tag
from studio.work.queries.finish_waits import on_a_finish, rags
from studio.work.queries.lists import in_the_bath, losses_to_look_after
from studio.work.queries.mould_waits import in_a_mould
from studio.work.queries.oven_waits import in_the_oven, wood_of
from studio.work.queries.pour_waits import after_a_pour, after_a_pour_only
from studio.work.queries.ready import NotReady, not_ready

CUT, MADE = "cut", "made"
# Where one stands for a step, and what one would say to do there.
WHERE: dict[str, tuple[str, str]] = {
    StepCode.CLEAN: ("lathe", "clean"),
    StepCode.SEASON: ("oven", "put away to season"),
    StepCode.DRY: ("oven", "dry"),
    StepCode.STABILIZE: ("vacuum chamber", "stabilize"),
    StepCode.CAST: ("mixing bench", "cast"),
    StepCode.ROUGH: ("lathe", "rough"),
    StepCode.REST: ("stores", "let rest"),
    StepCode.TURN: ("lathe", "turn"),
    StepCode.SAND: ("finish bench", "sand"),
    StepCode.FINISH: ("finish bench", "finish"),
    StepCode.OTHER: ("lathe", "go on with"),
    CUT: ("lathe", "cut up"),
    MADE: ("finish bench", "call a piece"),
}


def waits(now: datetime) -> list[Wait]:
    """Everything the bench asks for. Twenty-nine queries at most, however much lies on it; no money is read."""
    return [
        *in_the_oven(now),
        *_in_a_bath(),
        *in_a_mould(now),
        *on_a_finish(now),
        *after_a_pour(now, can_begin(now), WHERE),
        *_can_begin(now),
        *_lost(),
        *_without_a_number(),
        *rags(now),
    ]


def waits_of(piece: Workpiece, now: datetime) -> list[Wait]:
    """What one workpiece waits for, in the words of the round: where it lies, and until when it rests. What could be
    gone on with at any time is left out, its page offers that. Twelve queries at most."""
    here = OuterRef("pk")
    stands = Workpiece.objects.filter(pk=piece.pk).values_list(
        Exists(LoadPlace.objects.filter(account=OuterRef("account"), out_at=None)),
        Exists(StabilizingItem.objects.filter(workpiece=here, stabilizing__ended_at=None)),
        Exists(PourFill.objects.filter(casting=here, pour__demoulded_at=None)),
        Exists(FinishRun.objects.filter(workpiece=here, ended_at=None)),
        Exists(PourFill.objects.filter(casting=here)),
        Exists(Step.objects.filter(workpiece=here, state=StepState.DONE, not_before__gt=now)),
    )
    inside, bath, mould, finish, poured, rests = stands.first() or (False,) * 6
    told: list[Wait] = []
    told += in_the_oven(now, piece.pk) if inside else ()
    told += _in_a_bath(piece.pk) if bath else ()
    told += in_a_mould(now, piece.pk) if mould else ()
    told += on_a_finish(now, piece.pk) if finish else ()
    if not (inside or bath or mould):
        told += after_a_pour(now, can_begin(now), WHERE, piece.pk) if poured else ()
        told += _rests(now, piece.pk) if rests else ()
    return [_only(wait, piece) if isinstance(wait, BenchWait) else wait for wait in told]


def _only(wait: BenchWait, piece: Workpiece) -> BenchWait:
    """As the round says it, about this one alone."""
    return replace(wait, tags=(_tag(piece),), more=0, subject=piece.number)


def _in_a_bath(only: int | None = None) -> Iterable[BenchWait]:
    """Two queries: what lies in a bath or waits for its baked weight; `only` where this workpiece does."""
    runs = Stabilizing.objects.filter(ended_at=None)
    if only is not None:
        runs = runs.filter(items__workpiece=only)
    runs = runs.select_related("bath").prefetch_related(in_the_bath())
    for run in runs.order_by("started_at"):
        tags = [_tag(item.workpiece) for item in run.items.all() if item.workpiece.closed_at is None]
        yield _bath_wait(run, tags)


def _bath_wait(run: Stabilizing, tags: Sequence[Tagged]) -> BenchWait:
    """What comes next of a load, in the trade's order, as far as it was tapped."""
    about, name = ("work.stabilizing", run.pk), run.bath.name
    if run.drained_at is not None:
        what = "bake, clean and weigh" if run.foil_at else "wrap in foil, bake, clean and weigh"
        at, why = run.foil_at or run.drained_at, f"drained from {name}"
        return _wait("vacuum chamber", what, tags, "since", at, why, about)
    inside = run.load_id  # while it lies in the chamber this says more than the chamber's own line
    if run.bubbles_at is not None:
        soaked = soaked_by(run)
        kind: Kind = "not before" if soaked else "since"
        at, why = soaked or run.bubbles_at, f"soaks in {name}"
        return _wait("vacuum chamber", "lift out and weigh", tags, kind, at, why, about, load=inside)
    if run.vacuum_at is not None:
        at, until = run.vacuum_at, "bubbles stop"
        return _wait("vacuum chamber", "watch", tags, "until", at, f"in {name}", about, until=until, load=inside)
    what, at = "pull the vacuum on" if run.under_at else "weight under", run.under_at or run.started_at
    return _wait("vacuum chamber", what, tags, "since", at, f"in {name}", about, load=inside)


def _idle(rows: QuerySet[Workpiece]) -> QuerySet[Any]:
    """Leave out what lies in a machine, a bath or a mould, or has a clock running on it."""
    here = OuterRef("pk")
    return rows.exclude(
        Exists(LoadPlace.objects.filter(account=OuterRef("account"), out_at=None))
        | Exists(StabilizingItem.objects.filter(workpiece=here, stabilizing__ended_at=None))
        | Exists(PourFill.objects.filter(casting=here, pour__demoulded_at=None))
        | Exists(ClockShare.objects.filter(workpiece=here, run__stopped_at=None))
    )


def can_begin(now: datetime) -> QuerySet[Any]:
    """What could be gone on with: `code` is its next step (or cut, or made), `until` when that may begin."""
    first = Step.objects.filter(workpiece=OuterRef("pk"), state__in=[StepState.OPEN, StepState.PLANNED]).order_by(
        "position", "attempt"
    )
    held = Step.objects.filter(workpiece=OuterRef("pk"), state=StepState.DONE, not_before__gt=now)
    latest = held.values("workpiece").annotate(last=Max("not_before")).values("last")
    return (
        _idle(Workpiece.objects.on_the_bench())
        .exclude(~Exists(first), stage=Stage.PIECE)
        .annotate(
            code=Coalesce(
                Subquery(first.values("code")[:1]),
                Case(When(stage=Stage.LUMP, then=Value(CUT)), default=Value(MADE)),
                output_field=CharField(),
            ),
            later=Case(When(Exists(held), then=Value(1)), default=Value(0)),
            until=Subquery(latest),
        )
        # what is on a finish is said by its next line
        .exclude(
            Exists(FinishRun.objects.filter(workpiece=OuterRef("pk"), ended_at=None)),
            code__in=[StepCode.SAND, StepCode.FINISH, MADE],
        )
    )


def _can_begin(now: datetime) -> Iterable[BenchWait]:
    """One query: the first few of each step, and how many there are; nine more where some could be cast."""
    group: dict[str, Any] = {"partition_by": [F("later"), F("code")]}
    rows = (
        can_begin(now)
        .exclude(after_a_pour_only(now))
        .annotate(
            nth=Window(RowNumber(), order_by=[F("until"), F("sort_key")], **group),
            many=Window(Count("pk"), **group),
        )
        .filter(nth__lte=EACH)
        .select_related("species")
        .only("number", "sort_key", "wood_kind", "title", "hold_reason", "made_at", "species__common_name")
        .order_by("later", "code", "nth")
    )
    groups: dict[tuple[int, str], list[Any]] = {}
    for row in rows:
        groups.setdefault((row.later, row.code), []).append(row)
    for index, ((later, code), members) in enumerate(groups.items()):
        place, what = WHERE[code]
        back = _not_dry(members, now) if code == StepCode.CAST and not later else []
        if back:
            yield _back_into_the_oven(back)
            kept = {one.workpiece.pk for one in back}
            members = [row for row in members if row.pk not in kept]
            if not members:
                continue
        one = members[0]
        reason = ""
        if len(members) == 1:
            reason = ", ".join(word for word in (one.title, wood_of(one), "held" if one.held else "") if word)
        kind: Kind = "not before" if later else "since"
        at = min(row.until for row in members) if later else None
        tags = [_tag(row) for row in members]
        yield _wait(place, what, tags, kind, at, reason, ("work.ready", index), many=one.many - len(back), code=code)


def _rests(now: datetime, only: int) -> Iterable[BenchWait]:
    """One query: a done step says when the next may begin."""
    for row in can_begin(now).exclude(after_a_pour_only(now)).filter(pk=only, later=1).only("number"):
        place, what = WHERE[row.code]
        yield _wait(place, what, [_tag(row)], "not before", row.until, "", ("work.ready", 0), code=row.code)


def _not_dry(members: Sequence[Workpiece], now: datetime) -> list[NotReady]:
    """Nine queries at most: what a pour would refuse is not called ready for it."""
    return [one for one in not_ready(members, now) if one.refused]


def _back_into_the_oven(found: Sequence[NotReady]) -> BenchWait:
    tags = [_tag(one.workpiece) for one in found]
    if len(found) == 1:
        reason = f"{found[0].reason.removeprefix(found[0].workpiece.number).strip()}: {found[0].help}"
    else:
        reason = "they lay out too long, or aren’t dry: back into the oven with them, or weigh them"
    since = min((one.since for one in found if one.since), default=None)
    return _wait("oven", "don’t cast yet", tags, "since", since, reason, ("work.not_ready", tags[0].pk))


def _lost() -> Iterable[BenchWait]:
    """One query."""
    for loss in losses_to_look_after():
        cause = loss.get_cause_display()
        reason = cause[:1].lower() + cause[1:] + ": photograph it, weigh what can be saved"
        yield _wait("desk", "look after", [_tag(loss.workpiece)], "since", loss.at, reason, ("work.loss", loss.pk))


def _without_a_number() -> Iterable[BenchWait]:
    """One query."""
    rows = Workpiece.objects.on_the_bench().filter(Q(lost_number=True)).in_shop_order().only("number", "sort_key")
    tags = [_tag(row) for row in rows]
    if tags:
        reason = "one lies somewhere without its number" if len(tags) == 1 else "they lie somewhere without numbers"
        yield _wait("desk", "find", tags, "since", None, reason, ("work.lost_numbers", 0))
