"""What a workpiece's weights say of its water: dry or not, about when, and how long it may lie out."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import lru_cache

from django.db.models import F, OuterRef, Subquery

from studio.craft import dryness
from studio.craft.dryness import Change, ChangeKind, Drawing, Expectation, Reading, Series, Verdict
from studio.equipment import queries as equipment
from studio.equipment.models import LoadPlace, Purpose
from studio.people import settings as answers
from studio.wood.models import Waxed
from studio.work.models import Descent, StabilizingItem, Weighing, WoodEvent, Workpiece
from studio.work.queries.beside import wet_beside
from studio.work.queries.lying_out import OVEN, STILL_HOT, spell_of, wood_events_of, wraps_of
from studio.work.queries.page import Page
from studio.work.queries.regaining import Regain, regain

DRYING = (
    Weighing.Condition.WET,
    Weighing.Condition.SEASON,
    Weighing.Condition.OVEN,
    Weighing.Condition.OVEN_DRY,
)
HEAT = (Purpose.DRY, Purpose.WARM, Purpose.SEASON)
# A cut's weights on both sides must be from about the same time, or it dried in between.
NEAR_CUT = timedelta(days=1)
# A fit this unsure of the dry mass says nothing yet.
MOST_DOUBT = 0.15
MOST_LIKE = 60
CHANGES: dict[str, ChangeKind] = {
    WoodEvent.Kind.BARK_OFF: "bark off",
    WoodEvent.Kind.WAX_OFF: "wax off",
    WoodEvent.Kind.ENDS_SEALED: "ends sealed",
}
LONGEST = timedelta(days=365)


@dataclass(frozen=True)
class Drying:
    """What the weights of one workpiece say. Grams and hours are the craft's; `zero` is when its hours begin.

    `series` is the one under way, else the last that dried; `unreliable` says what besides water leaves the wood
    (oil, wax, pitch); `moisture` is percent now with its low and high; `carried` tells that it came through a cut.
    """

    series: Series | None = None
    zero: datetime | None = None
    verdict: Verdict | None = None
    drawing: Drawing | None = None
    moisture: tuple[float, float, float] | None = None
    carried: bool = False
    unreliable: str = ""
    condition: str = ""
    inside: bool = False
    under_way: bool = False
    set_point_mdegc: int | None = None
    rest_ppm: int = 5_000
    expected: Expectation | None = None
    disturbed_at: datetime | None = None
    regain: Regain | None = None

    def moment(self, hours: float) -> datetime:
        assert self.zero is not None
        return self.zero + timedelta(hours=hours)

    @property
    def ready(self) -> tuple[datetime, timedelta] | None:
        """About when it will be dry, and give or take how much; None where nothing says."""
        if self.zero is None or not self.under_way or (self.verdict and self.verdict.state == "dry"):
            return None
        if self.drawing is not None:
            fit = self.drawing.fit
            if fit.ready_high_h * 3600 > LONGEST.total_seconds():
                return None
            give = timedelta(hours=max((fit.ready_high_h - fit.ready_low_h) / 2, 1.0))
            return self.moment(fit.ready_h), give
        if self.expected is None or self.series is None or not self.series.began:
            return None
        began = self.moment(self.series.began.at_h)
        give = timedelta(hours=(self.expected.high_h - self.expected.low_h) / 2)
        return began + timedelta(hours=self.expected.hours), give


@dataclass
class Known:
    """What was read once for one workpiece."""

    piece: Workpiece
    rows: list[Weighing]
    places: list[LoadPlace]
    now: datetime
    done: list[WoodEvent] = field(default_factory=list)
    waxed: bool = False
    changes: list[Change] = field(default_factory=list)

    @property
    def zero(self) -> datetime:
        return self.rows[0].at

    def hours(self, moment: datetime) -> float:
        return (moment - self.zero).total_seconds() / 3600


def drying(found: Page, now: datetime) -> Drying:
    """Say what a workpiece's weights tell. Eleven queries at most, however many weighings; no money is read."""
    kept = [row for row in found.weighings if not row.struck_out]
    rows = [row for row in kept if row.condition in DRYING]
    if not rows:
        return Drying()
    piece = found.workpiece
    places = equipment.places_of([piece.account_id]).get(piece.account_id, [])
    known = Known(piece, rows, places, now)
    known.done, known.waxed = _done(found)
    known.changes = changes_of(known, [link for link in found.children if link.how == Descent.How.CUT])
    shown, place, running = shown_of(known)
    inside = place is not None and place.out_at is None
    under_way = running and rows[-1] is kept[-1]
    told = _judged(known, shown, place, inside, under_way=under_way)
    if told.moisture is None and not told.unreliable:
        told = _through_the_cut(known, found, told)
    out = not inside and told.verdict is not None and rows[-1] is kept[-1] and piece.closed_at is None
    if out and not found.fills:
        told = _out(known, told)
    return told


def _done(found: Page) -> tuple[list[WoodEvent], bool]:
    """What was done to it, and whether wax is still on it: bought so, and not taken off it or what it came from. One
    query."""
    piece = found.workpiece
    events = wood_events_of([piece.pk, *(link.parent_id for link in found.parents)])
    own = events.get(piece.pk, [])
    before = [event for link in found.parents for event in events.get(link.parent_id, []) if event.at <= link.at]
    return own, still_waxed(piece, [*own, *before])


def still_waxed(piece: Workpiece, events: Sequence[WoodEvent]) -> bool:
    off = any(event.kind == WoodEvent.Kind.WAX_OFF for event in events)
    return piece.purchase is not None and piece.purchase.waxed == Waxed.YES and not off


def readings_of(known: Known) -> list[Reading]:
    return [_reading(known.hours(row.at), row) for row in known.rows]


def _reading(hour: float, row: Weighing) -> Reading:
    how = "oven" if row.condition in OVEN else row.condition
    return Reading(hour, row.mass_mg / 1000, row.step_mg / 1000, how)


def condition_of(series: Series) -> str:
    return series.readings[-1].condition


def changes_of(known: Known, cuts: Sequence[Descent]) -> list[Change]:
    """Moves in and out of heat, and cuts, in the order they happened."""
    found = [Change(known.hours(link.at), "cut") for link in cuts]
    found += [Change(known.hours(event.at), CHANGES[event.kind]) for event in known.done]
    for place in known.places:
        if place.load.purpose not in HEAT:
            continue
        degrees = None if place.load.set_point_mdegc is None else place.load.set_point_mdegc / 1000
        found.append(Change(known.hours(place.put_in_at), "in", degrees))
        if place.out_at is not None:
            back = min((p.put_in_at for p in known.places if p.put_in_at > place.put_in_at), default=known.now)
            until = min(place.out_at + STILL_HOT, back)
            hot = [row.at for row in known.rows if place.put_in_at < row.at <= until]
            out = max([place.out_at, *(at + timedelta(seconds=1) for at in hot)])
            found.append(Change(known.hours(out), "out"))
    return sorted(found, key=lambda change: change.at_h)


def _judged(known: Known, shown: Series, place: LoadPlace | None, inside: bool, *, under_way: bool) -> Drying:
    """Judge the series, and fit it where one condition held and something but water doesn't leave with it."""
    rest = answers.value("dry_rest_ppm")
    unreliable = unreliable_by(known.piece, waxed=known.waxed)
    oven = condition_of(shown) == "oven"
    drawing = None if unreliable or not oven else fitted(shown, rest / 10_000)
    disturbed = wet_beside([place]).get(place.pk) if place is not None and inside else None
    set_c = shown.began.set_point_c if shown.began else None
    verdict = verdict_of(known, shown, rest, disturbed, drawing)
    sure = drawing is not None
    left = verdict.remaining if sure else None
    expected = None
    if oven and inside and not sure and not unreliable and place is not None and place.load.purpose == Purpose.DRY:
        expected = dryness.expected(_like_hours(known, place), shown.grams[0])
    return Drying(
        shown,
        known.zero,
        verdict,
        drawing,
        (left.percent, left.low, left.high) if left and under_way else None,
        unreliable=unreliable,
        condition=condition_of(shown),
        inside=inside,
        under_way=under_way,
        set_point_mdegc=None if set_c is None else round(set_c * 1000),
        rest_ppm=rest,
        expected=expected,
        disturbed_at=disturbed,
    )


def shown_of(known: Known) -> tuple[Series, LoadPlace | None, bool]:
    """The series to look at: the last that dried, else the last. With the place in heat it last lay in, and whether
    that series is the one under way."""
    series = dryness.into_series(readings_of(known), known.changes)
    heated = [one for one in series if condition_of(one) in ("oven", Weighing.Condition.SEASON)]
    shown = heated[-1] if heated else series[-1]
    place = next((place for place in reversed(known.places) if place.load.purpose in HEAT), None)
    return shown, place, shown is series[-1]


def verdict_of(
    known: Known, shown: Series, rest_ppm: int, disturbed: datetime | None, drawing: Drawing | None
) -> Verdict:
    """What one series says, by what the studio calls dry. No query."""
    oven = condition_of(shown) == "oven"
    return dryness.judge(
        shown.hours,
        shown.grams,
        step_g=shown.step_g,
        set_point_c=shown.began.set_point_c if oven and shown.began else None,
        thickness_mm=thickness_mm(known.piece),
        rest_percent=rest_ppm / 10_000,
        disturbed_h=known.hours(disturbed) if disturbed else None,
        fit=drawing.fit if drawing else None,
    )


def unreliable_by(piece: Workpiece, *, waxed: bool) -> str:
    """What besides water changes the weight of this wood, in a word; empty where nothing is known to."""
    if piece.species is not None and piece.species.oily:
        return "oily"
    if piece.species is not None and piece.species.resinous:
        return "resinous"
    return "waxed" if waxed else ""


def fitted(series: Series, rest_percent: float) -> Drawing | None:
    """The curve of one series, or None where there is none yet that is sure enough to say anything."""
    if len(series.readings) < 3:
        return None
    try:
        found = _drawn(tuple(series.hours), tuple(series.grams), series.step_g, rest_percent)
    except ValueError:
        return None
    return found if found.fit.high_g - found.fit.low_g <= MOST_DOUBT * found.fit.dry_g else None


@lru_cache(maxsize=256)
def _drawn(hours: tuple[float, ...], grams: tuple[float, ...], step_g: float, rest_percent: float) -> Drawing:
    """The same weights give the same curve: the round and the page ask for it again and again."""
    return dryness.draw(hours, grams, step_g=step_g, rest_percent=rest_percent)


def thickness_mm(piece: Workpiece) -> float | None:
    sides = [side for side in (piece.length_um, piece.width_um, piece.height_um) if side]
    return min(sides) / 1000 if sides else None


def _like_hours(known: Known, place: LoadPlace) -> list[float]:
    """How long like blanks lay in the oven until they came out with a load that dried them. One query.

    Like: the same wood, and where both are known half to twice as heavy going in.
    """
    mine = known.rows[0].mass_mg
    first = Weighing.objects.filter(workpiece__account=OuterRef("account"), struck_out=False).order_by("at", "pk")
    dry = Weighing.objects.filter(
        workpiece__account=OuterRef("account"), struck_out=False, condition=Weighing.Condition.OVEN_DRY
    )
    rows = (
        LoadPlace.objects.filter(
            load__purpose=Purpose.DRY,
            out_why="ended",
            account__workpiece__species=known.piece.species_id,
            account__workpiece__wood_kind=known.piece.wood_kind,
            out_at__gt=F("put_in_at"),
        )
        .exclude(account=place.account_id)
        .annotate(first_mg=Subquery(first.values("mass_mg")[:1]), dry_pk=Subquery(dry.values("pk")[:1]))
        .filter(dry_pk__isnull=False, first_mg__gte=mine // 2, first_mg__lte=mine * 2)
        .order_by("-out_at")
        .values_list("put_in_at", "out_at")[:MOST_LIKE]
    )
    return [(out - begun).total_seconds() / 3600 for begun, out in rows if out is not None]


def _through_the_cut(known: Known, found: Page, told: Drying) -> Drying:
    """Take the dry mass over from what it was cut from, where that was weighed. Two queries."""
    link = next((link for link in found.parents if link.how == Descent.How.CUT), None)
    first = known.rows[0]
    if link is None or first.at - link.at > NEAR_CUT:
        return told
    parent = link.parent
    before = list(Weighing.objects.filter(workpiece=parent, struck_out=False, at__lte=link.at).order_by("at", "pk"))
    if not before or before[-1].condition not in DRYING or link.at - before[-1].at > NEAR_CUT:
        return told
    theirs = Known(parent, before, equipment.places_of([parent.account_id]).get(parent.account_id, []), known.now)
    theirs.changes = changes_of(theirs, [])
    last = dryness.into_series(readings_of(theirs), theirs.changes)[-1]
    dry_g = before[-1].mass_mg / 1000 if before[-1].condition == Weighing.Condition.OVEN_DRY else None
    drawing = fitted(last, told.rest_ppm / 10_000) if dry_g is None and condition_of(last) == "oven" else None
    marks = (dry_g,) * 3 if dry_g else (drawing.fit.dry_g, drawing.fit.high_g, drawing.fit.low_g) if drawing else None
    if marks is None or first.mass_mg > before[-1].mass_mg:
        return told
    now_g = known.rows[-1].mass_mg / 1000
    percents = []
    for mark in marks:
        mine = dryness.carried_dry_g(mark, before[-1].mass_mg, first.mass_mg)
        percents.append(max(100 * (now_g - mine) / mine, 0.0))
    return replace(told, moisture=(percents[0], percents[1], percents[2]), carried=True)


def _out(known: Known, told: Drying) -> Drying:
    """Once dried and out, how long it may lie. Three queries; none where it was soaked or cast since."""
    wraps = wraps_of([known.piece.pk]).get(known.piece.pk, [])
    spell = spell_of(known.rows, known.places, wraps, known.now, born=known.piece.made_at)
    if spell is None:
        return told
    soaked = StabilizingItem.objects.filter(workpiece=known.piece, stabilizing__started_at__gte=spell.core_at)
    if soaked.exists():
        return told
    clock = regain(spell=spell, thickness_mm=thickness_mm(known.piece), now=known.now, by_weight=not told.unreliable)
    return replace(told, regain=clock, moisture=None if spell.dry else told.moisture)
