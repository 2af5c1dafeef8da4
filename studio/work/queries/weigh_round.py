"""The weigh-in round: what wants the scale, in walking order, and what the last weights of each say."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import F, Q, Window
from django.db.models.functions import RowNumber

from studio.craft import moisture
from studio.equipment.models import Load, LoadPlace, Purpose
from studio.people import settings as answers
from studio.work.models import Stage, Step, StepCode, StepState, Weighing, Workpiece
from studio.work.queries.tags import by_number
from studio.work.queries.verdicts import NEVER, ONCE, WANTED, Told, told_of

# Weighed this short a time ago, it belongs to the round being walked.
THIS_ROUND = timedelta(hours=1)
LAST = 12
# Who walks the round may be one who sees no costs.
UNREAD = ("purchase__paid_micro", "purchase__carriage_micro", "purchase__market_value_micro")
DRYING_IN = (Purpose.DRY, Purpose.WARM, Purpose.SEASON)
CONDITION_IN: dict[str, str] = {
    Purpose.SEASON: Weighing.Condition.SEASON,
    Purpose.DRY: Weighing.Condition.OVEN,
    Purpose.WARM: Weighing.Condition.OVEN,
}
CONDITION_OF: dict[str, str] = {
    Stage.CASTING: Weighing.Condition.CAST,
    Stage.PIECE: Weighing.Condition.FINISHED,
}


@dataclass(frozen=True)
class ToWeigh:
    """One workpiece for the scale. `words` say what its last weights show, `condition` is how it lies now."""

    pk: int
    number: str
    title: str
    where: str
    condition: str
    last: Weighing | None
    words: str

    def weighed_this_round(self, now: datetime) -> bool:
        return self.last is not None and self.last.at > now - THIS_ROUND


def to_weigh(now: datetime) -> list[ToWeigh]:
    """What lies in an oven, oven by oven, then what seasons elsewhere and is due. Eight queries; no money."""
    before = now - timedelta(seconds=answers.value("season_every_s", answers.local_date(now)))
    lying = LoadPlace.objects.inside().filter(load__ended_at=None, load__purpose__in=DRYING_IN)
    by_oven = lying.select_related("load__machine").order_by(
        "load__machine__name_search", "load", "account__workpiece__sort_key"
    )
    places = {place.account_id: place for place in by_oven}
    seasoning = Step.objects.filter(code=StepCode.SEASON, state=StepState.OPEN).values("workpiece")
    rows = list(
        Workpiece.objects.on_the_bench()
        .filter(Q(account__in=lying.values("account")) | Q(pk__in=seasoning))
        .select_related("species", "purchase")
        .defer(*UNREAD)
        .in_shop_order()
    )
    seen = _last_weighings(rows)
    told = told_of(rows, now)
    inside = [row for row in rows if row.account_id in places]
    order = {account: place for place, account in enumerate(places)}
    inside.sort(key=lambda row: order[row.account_id])
    due = [
        row for row in rows if row.account_id not in places and (not seen[row.pk] or seen[row.pk][-1].at <= before)
    ]
    return [_to_weigh(row, places.get(row.account_id), seen[row.pk], told[row.pk]) for row in [*inside, *due]]


def one_to_weigh(number: str, now: datetime) -> ToWeigh | None:
    """One workpiece on the bench, by its number, wherever it lies; None where nothing carries it. Nine queries."""
    found = by_number([number]).get(number)
    if found is None:
        return None
    row = Workpiece.objects.select_related("species", "purchase").defer(*UNREAD).get(pk=found.pk)
    place = LoadPlace.objects.inside().filter(account=row.account_id).select_related("load__machine").first()
    return _to_weigh(row, place, _last_weighings([row])[row.pk], told_of([row], now)[row.pk])


def next_to_weigh(piece: Workpiece, now: datetime) -> ToWeigh | None:
    """What comes after this one in the round and wasn't weighed in it yet; after the last, the first left. Eight
    queries."""
    rows = to_weigh(now)
    here = next((place for place, row in enumerate(rows) if row.pk == piece.pk), -1)
    after = [*rows[here + 1 :], *rows[: max(here, 0)]]
    return next((row for row in after if row.pk != piece.pk and not row.weighed_this_round(now)), None)


def how_it_lay(piece: Workpiece, at: datetime) -> tuple[str, Load | None]:
    """How a workpiece was at a moment, and the load it lay in then: as the machine says, else as last weighed.

    Two queries. For weights that are told later than they were taken.
    """
    place = (
        LoadPlace.objects.filter(Q(out_at=None) | Q(out_at__gt=at), account=piece.account_id, put_in_at__lte=at)
        .select_related("load")
        .order_by("-put_in_at")
        .first()
    )
    before = Weighing.objects.filter(workpiece=piece, struck_out=False, at__lte=at).order_by("at", "pk").last()
    return _condition(piece, place, before), place.load if place else None


def scale_words(weighings: Sequence[Weighing]) -> str:
    """Say what weights show that are no drying, a casting's at rest: `still losing`, `steady 2 of 3`, `gained!`."""
    series: list[Weighing] = []
    for one in weighings:
        if not series or one.at > series[-1].at:
            series.append(one)
    if len(series) < 2:
        return ONCE if series else NEVER
    hours = [(one.at - series[0].at).total_seconds() / 3600 for one in series]
    judged = moisture.steady(hours, [one.mass_mg / 1000 for one in series], step_g=series[-1].step_mg / 1000)
    if judged.state == "gained":
        return "gained!"
    return f"steady {min(judged.agreeing, WANTED)} of {WANTED}" if judged.state == "steady" else "still losing"


def words_after(weighing: Weighing, now: datetime) -> str:
    """Say what the weights of its workpiece show now. Five queries, and no curve is fitted."""
    piece = weighing.workpiece
    told = told_of([piece], now, fits=False)[piece.pk]
    return told.short or scale_words(_alike(_last_weighings([piece])[piece.pk]))


def _to_weigh(row: Workpiece, place: LoadPlace | None, seen: Sequence[Weighing], told: Told) -> ToWeigh:
    wood = str(row.species or "")
    last = seen[-1] if seen else None
    return ToWeigh(
        pk=row.pk,
        number=row.number,
        title=row.title or wood or row.get_stage_display(),
        where=place.load.machine.name if place else "",
        condition=_condition(row, place, last),
        last=last,
        words=told.short or scale_words(_alike(seen)),
    )


def _condition(row: Workpiece, place: LoadPlace | None, last: Weighing | None) -> str:
    if place is not None and place.load.purpose in CONDITION_IN:
        return str(CONDITION_IN[place.load.purpose])
    if last is not None:
        return str(last.condition)
    return str(CONDITION_OF.get(row.stage, Weighing.Condition.WET))


def _alike(seen: Sequence[Weighing]) -> list[Weighing]:
    """The last ones made under one condition, and the one before them, from which they fell."""
    first = len(seen)
    while first > 0 and seen[first - 1].condition == seen[-1].condition:
        first -= 1
    return list(seen[max(first - 1, 0) :])


def _last_weighings(rows: Iterable[Workpiece]) -> dict[int, list[Weighing]]:
    """The last dozen that stand of each, oldest first. One query."""
    seen: dict[int, list[Weighing]] = {row.pk: [] for row in rows}
    nth = Window(RowNumber(), partition_by=[F("workpiece")], order_by=[F("at").desc(), F("pk").desc()])
    found = Weighing.objects.filter(workpiece__in=list(seen), struck_out=False).annotate(nth=nth)
    for one in found.filter(nth__lte=LAST).order_by("at", "pk"):
        seen[one.workpiece_id].append(one)
    return seen
