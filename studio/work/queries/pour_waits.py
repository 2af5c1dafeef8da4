"""What waits after a pour: castings that cure, and those that resin is to be poured onto once more."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Window
from django.db.models.functions import RowNumber

from studio.craft.waits import Kind
from studio.work.models import PourFill, StepCode
from studio.work.queries.bench_waits import EACH, BenchWait, bench_wait, tag_of
from studio.work.queries.cures import Recoat, recoat_of, still_cures

MOST = 60


def after_a_pour_only(now: datetime) -> Q:
    """What this module tells of, so that nobody tells of it twice."""
    again = Q(Exists(PourFill.objects.filter(casting=OuterRef("pk"))), code=StepCode.CAST)
    return again | Q(still_cures(now), later=1)


def after_a_pour(
    now: datetime, could_begin: QuerySet[Any], where: Mapping[str, tuple[str, str]], only: int | None = None
) -> Iterable[BenchWait]:
    """Turn not before, and pour again from when to when. Three queries, however much there is; no money is read.

    `could_begin` are workpieces with `code`, their next step, `later`, whether something holds that back, and `until`
    when; `where` says of each step where one stands and what one would say; `only` the one workpiece."""
    rows = could_begin if only is None else could_begin.filter(pk=only)
    rows = rows.select_related(None).only("number", "sort_key")
    yield from _cures(rows.filter(still_cures(now), later=1).exclude(code=StepCode.CAST), where)
    poured = Exists(PourFill.objects.filter(casting=OuterRef("pk")))
    yield from _again(rows.filter(poured, code=StepCode.CAST), now)


def _cures(rows: QuerySet[Any], where: Mapping[str, tuple[str, str]]) -> Iterable[BenchWait]:
    group: dict[str, Any] = {"partition_by": [F("until"), F("code")]}
    found = (
        rows.annotate(nth=Window(RowNumber(), order_by=[F("sort_key")], **group), many=Window(Count("pk"), **group))
        .filter(nth__lte=EACH)
        .order_by("until", "code", "nth")[: MOST * EACH]
    )
    groups: dict[tuple[datetime, str], list[Any]] = {}
    for row in found:
        groups.setdefault((row.until, row.code), []).append(row)
    for (until, code), members in groups.items():
        place, what = where[code]
        tags = [tag_of(row) for row in members]
        about = ("work.cures", tags[0].pk)
        yield bench_wait(place, what, tags, "not before", until, "the resin cures", about, many=members[0].many)


def _again(rows: QuerySet[Any], now: datetime) -> Iterable[BenchWait]:
    found = list(rows.annotate(many=Window(Count("pk"))).order_by("sort_key")[:MOST])
    windows = recoat_of([row.pk for row in found])
    rest = []
    for row in found:
        window = windows.get(row.pk)
        if window is None:
            rest.append(row)
            continue
        kind, at, reason = _in_its_window(window, now)
        about = ("work.again", row.pk)
        yield bench_wait("mixing bench", "pour again", [tag_of(row)], kind, at, reason, about, code=StepCode.CAST)
    if rest:
        many, tags = found[0].many - (len(found) - len(rest)), [tag_of(row) for row in rest]
        about = ("work.again", tags[0].pk)
        yield bench_wait("mixing bench", "pour again", tags, "since", None, "", about, many=many, code=StepCode.CAST)


def _in_its_window(window: Recoat, now: datetime) -> tuple[Kind, datetime | None, str]:
    if window.early(now):
        return "not before", window.from_at, "the first pour sets"
    if window.past(now):
        return "since", window.to_at, "cured: scuff it first"
    if window.to_at is not None:
        return "by", window.to_at, "it still bonds by itself"
    return "since", window.from_at, "it has set"
