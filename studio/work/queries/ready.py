"""Ready to cast or not: what this studio knows of the water in each blank, and by which limit it is refused."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef

from studio.craft import moisture
from studio.craft.regain import Pace
from studio.equipment import queries as equipment
from studio.equipment.models import LoadPlace
from studio.fields.quantity import show
from studio.work.models import (
    Descent,
    Overruled,
    PourFill,
    StabilizingItem,
    Stage,
    Weighing,
    WoodEvent,
    Workpiece,
    Wrap,
)
from studio.work.queries.drying import DRYING, still_waxed, thickness_mm, unreliable_by
from studio.work.queries.lying_out import (
    DRIES,
    OVEN,
    Spell,
    overruled_of,
    spell_of,
    wood_events_of,
    wraps_of,
)
from studio.work.queries.regaining import Regain, learned_pace, regain

BAKED = Weighing.Condition.BAKED
SEEN_HOURS = 48
AGREE = 2
ANYHOW = "or say on its page why it is cast all the same"


@dataclass(frozen=True)
class NotReady:
    """Why one blank isn't ready to cast, and what would help. `refused`: not without words on its page; else nothing
    is known, and it is asked about. `since` is when this spell began: words from before it don't count."""

    workpiece: Workpiece
    reason: str
    help: str
    refused: bool
    since: datetime | None = None

    @property
    def words(self) -> str:
        """41/3 has been out of the oven 31 hours; your limit is 24: an hour back in, or say on its page why …"""
        if self.refused:
            return f"{self.reason}: {self.help}, {ANYHOW}."
        return f"{self.reason}. {self.help}, say so and send again."


@dataclass
class _Seen:
    rows: list[Weighing]
    places: list[LoadPlace]
    wraps: list[Wrap]
    waxed: bool
    baked_at: datetime | None


def not_ready(blanks: Sequence[Workpiece], at: datetime) -> list[NotReady]:
    """Say of which blanks it isn't known that they are dry, in their order. Those that were cast before, or
    baked after a bath, are left out. Nine queries at most, however many there are."""
    wood = _wood([blank.pk for blank in blanks if blank.stage != Stage.CASTING])
    if not wood:
        return []
    seen, soaked, pace = _see(wood, at), _soaked([blank.pk for blank in wood]), _Pace(at)
    found = [_judged(blank, seen[blank.pk], soaked.get(blank.pk), at, pace) for blank in wood]
    said = overruled_of([one.workpiece.pk for one in found if one and one.refused])
    return [one for one in found if one and not _overruled(one, said.get(one.workpiece.pk, []))]


class _Pace:
    """Learned once, and only where it is asked for."""

    def __init__(self, at: datetime) -> None:
        self.at, self.known = at, None

    known: Pace | None

    def __call__(self) -> Pace:
        self.known = self.known or learned_pace(self.at)
        return self.known


def _wood(keys: Sequence[int]) -> list[Workpiece]:
    """The blanks in the order asked for, without those that resin was poured round before. One query."""
    rows = (
        Workpiece.objects.filter(pk__in=keys)
        .exclude(Exists(PourFill.objects.filter(casting=OuterRef("pk"))))
        .select_related("species", "purchase")
        .only(
            "number", "account_id", "made_at", "length_um", "width_um", "height_um", "stage", "species__oily",
            "species__resinous", "purchase__waxed",
        )
    )  # fmt: skip
    found = {row.pk: row for row in rows}
    return [found[key] for key in keys if key in found]


def _see(wood: Sequence[Workpiece], at: datetime) -> dict[int, _Seen]:
    """Three queries, and two more where some of it was bought waxed."""
    keys = [blank.pk for blank in wood]
    places, wraps = equipment.places_of([blank.account_id for blank in wood]), wraps_of(keys)
    waxed = [blank.pk for blank in wood if still_waxed(blank, [])]
    parents: dict[int, list[tuple[int, datetime]]] = {}
    for child, parent, when in _parents(waxed):
        parents.setdefault(child, []).append((parent, when))
    events = wood_events_of({*waxed, *(pk for rows in parents.values() for pk, _ in rows)}) if waxed else {}
    rows: dict[int, list[Weighing]] = {}
    kept = Weighing.objects.filter(workpiece__in=keys, struck_out=False, at__lte=at, condition__in=(*DRYING, BAKED))
    for row in kept.order_by("at", "pk"):
        rows.setdefault(row.workpiece_id, []).append(row)

    def done(pk: int) -> list[WoodEvent]:
        found = list(events.get(pk, []))
        for parent, when in parents.get(pk, []):
            found += [event for event in events.get(parent, []) if event.at <= when]
        return found

    return {
        blank.pk: _Seen(
            [row for row in rows.get(blank.pk, []) if row.condition != BAKED],
            [place for place in places.get(blank.account_id, []) if place.put_in_at <= at],
            wraps.get(blank.pk, []),
            still_waxed(blank, done(blank.pk)),
            max((row.at for row in rows.get(blank.pk, []) if row.condition == BAKED), default=None),
        )
        for blank in wood
    }


def _parents(keys: Sequence[int]) -> list[tuple[int, int, datetime]]:
    rows = Descent.objects.filter(child__in=keys) if keys else Descent.objects.none()
    return list(rows.values_list("child", "parent", "at"))


def _soaked(keys: Sequence[int]) -> dict[int, datetime]:
    """When each was last in a bath. One query."""
    rows = StabilizingItem.objects.filter(workpiece__in=keys).order_by("stabilizing__started_at")
    return dict(rows.values_list("workpiece", "stabilizing__started_at"))


def _judged(piece: Workpiece, seen: _Seen, soaked: datetime | None, at: datetime, pace: _Pace) -> NotReady | None:
    spell = spell_of(seen.rows, seen.places, seen.wraps, at, born=piece.made_at)
    inside = next((place for place in seen.places if place.out_at is None and place.load.purpose in DRIES), None)
    if soaked is not None and inside is None and (spell is None or soaked >= spell.core_at):
        if seen.baked_at is not None and seen.baked_at >= soaked:
            return None
        words = f"{piece.number} was stabilized, so its weight says nothing of water in it"
        return NotReady(piece, words, "If it went dry into the bath and is baked", False)
    last = seen.rows[-1] if seen.rows else None
    since = spell.skin_at if spell else inside.put_in_at if inside else last.at if last else None
    if spell is not None:
        return _lies_out(piece, seen, spell, at, pace)
    words = _by_weights(seen.rows)
    if words:
        return NotReady(piece, f"{piece.number} {words}", "dry it first", True, since)
    if inside is not None and _agreeing(seen.rows):
        return None
    what = "was never weighed" if last is None else "was never weighed dry here"
    return NotReady(piece, f"{piece.number} {what}", "If it is dry all the same", False, since)


def _lies_out(piece: Workpiece, seen: _Seen, spell: Spell, at: datetime, pace: _Pace) -> NotReady | None:
    """Out of the oven: by fog, by what it weighs since, by skin and by core."""

    def refused(reason: str, helps: str) -> NotReady:
        return NotReady(piece, f"{piece.number} {reason}", helps, True, spell.skin_at)

    by_weight = not unreliable_by(piece, waxed=seen.waxed)
    if spell.fogged_at is not None:
        return refused("fogged its bag, so it isn’t dry", "back into the oven with it, or weigh it")
    if spell.dry is None and by_weight and (words := _by_weights(seen.rows)):
        return refused(words, "dry it on")
    clock = regain(
        spell=spell, thickness_mm=thickness_mm(piece), now=at, by_weight=by_weight,
        pace=pace() if spell.dry is not None and by_weight else None,
    )  # fmt: skip
    if clock.over:
        return refused(_too_moist(clock), "dry it again, or weigh it")
    if clock.skin_over:
        out = hours_words(clock.skin.open_h)
        limit = hours_words(clock.skin.limit_h)
        return refused(f"has been out of the oven {out}; your limit is {limit}", "an hour back in, or weigh it")
    return None


def _too_moist(clock: Regain) -> str:
    much, limit = f"{clock.core or 0:.0f} %", show(clock.limit_ppm, "share")
    whose = "by its weight" if clock.weighed else "by the time it lay out"
    return f"is about {much} moist {whose}; your limit is {limit}"


def _by_weights(rows: Sequence[Weighing]) -> str:
    """What its last weights in one condition show against it, or nothing where they don't."""
    series = _last_alike(rows)
    if len(series) < 2:
        return ""
    judged = _steady(series)
    if judged.state == "gained":
        return "gained since its lowest weight"
    return "is still losing water by its weights" if judged.state == "losing" else ""


def _agreeing(rows: Sequence[Weighing]) -> bool:
    series = _last_alike(rows)
    return len(series) > 1 and _steady(series).agreeing >= AGREE


def _steady(series: Sequence[Weighing]) -> moisture.Steadiness:
    hours = [(row.at - series[0].at).total_seconds() / 3600 for row in series]
    return moisture.steady(hours, [row.mass_mg / 1000 for row in series], step_g=series[-1].step_mg / 1000)


def _last_alike(rows: Sequence[Weighing]) -> list[Weighing]:
    """The last weights under one condition, one for each moment."""
    if not rows:
        return []
    how = "oven" if rows[-1].condition in OVEN else rows[-1].condition
    series: list[Weighing] = []
    for row in reversed(rows):
        if ("oven" if row.condition in OVEN else row.condition) != how:
            break
        if not series or row.at < series[-1].at:
            series.append(row)
    return series[::-1]


def _overruled(one: NotReady, said: Sequence[Overruled]) -> bool:
    """Whether somebody said in words, in this spell, that it is cast all the same."""
    return any(
        row.what == Overruled.What.CAST and (one.since is None or row.at >= one.since) for row in said
    )


def hours_words(hours: float) -> str:
    """31 hours, 40 min, 5 days."""
    if hours >= SEEN_HOURS * 2:
        return f"{round(hours / 24)} days"
    if hours >= 2:
        return f"{round(hours)} hours"
    return show(round(hours * 60) * 60, "duration")
