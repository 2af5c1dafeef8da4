"""What the weights of many workpieces say at once: the verdict of each one's page, in the few words of a list."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.db.models import Q

from studio.craft.dryness import Series, Verdict
from studio.equipment import queries as equipment
from studio.equipment.models import LoadPlace, Purpose
from studio.fields.quantity import show
from studio.people import settings as answers
from studio.work.models import Descent, Weighing, Workpiece
from studio.work.queries.beside import WET_BESIDE, wet_beside
from studio.work.queries.drying import (
    DRYING,
    Known,
    changes_of,
    condition_of,
    fitted,
    shown_of,
    still_waxed,
    unreliable_by,
    verdict_of,
)
from studio.work.queries.lying_out import wood_events_of

WANTED = 3
ONCE, NEVER = "weighed once so far", "never weighed"
NOT_SINCE, ONCE_IN = "not weighed since it went in", "weighed once since it went in"


@dataclass(frozen=True)
class Told:
    """`words`: still losing 0.4 % an hour; `short`: still losing, steady 2 of 3, gained!. `done`: it may come out of
    its oven, since `since`; `last` is when it was weighed the last time."""

    words: str
    short: str
    done: bool = False
    since: datetime | None = None
    last: datetime | None = None


@dataclass
class _Read:
    """What was read once for all of them."""

    rows: dict[int, list[Weighing]]
    places: dict[int, list[LoadPlace]]
    events: dict[int, list]
    parents: dict[int, list[Descent]]
    cuts: dict[int, list[Descent]]
    anew: dict[int, datetime]


def told_of(pieces: Sequence[Workpiece], now: datetime, *, fits: bool = True) -> dict[int, Told]:
    """Say of each what its weights tell, by key. Five queries, however many; species and purchase are to be read with
    the pieces. Without `fits` no curve is fitted, nothing is called dry, and neither of them is asked for."""
    if not pieces:
        return {}
    read, rest = _read(pieces), answers.value("dry_rest_ppm") if fits else 0
    found = {}
    for piece in pieces:
        kept = read.rows.get(piece.pk)
        found[piece.pk] = replace(_told(piece, read, rest, now, fits), last=kept[-1].at if kept else None)
    return found


def _read(pieces: Sequence[Workpiece]) -> _Read:
    keys = [piece.pk for piece in pieces]
    rows: dict[int, list[Weighing]] = {}
    for row in Weighing.objects.filter(workpiece__in=keys, struck_out=False).order_by("at", "pk"):
        rows.setdefault(row.workpiece_id, []).append(row)
    parents: dict[int, list[Descent]] = {}
    cuts: dict[int, list[Descent]] = {}
    for link in Descent.objects.filter(Q(child__in=keys) | Q(parent__in=keys, how=Descent.How.CUT)).order_by("pk"):
        parents.setdefault(link.child_id, []).append(link)
        if link.how == Descent.How.CUT:
            cuts.setdefault(link.parent_id, []).append(link)
    places = equipment.places_of([piece.account_id for piece in pieces])
    above = [link.parent_id for links in parents.values() for link in links]
    inside = [place for mine in places.values() for place in mine if place.out_at is None]
    return _Read(rows, places, wood_events_of([*keys, *above]), parents, cuts, wet_beside(inside))


def _told(piece: Workpiece, read: _Read, rest: int, now: datetime, fits: bool) -> Told:
    kept = read.rows.get(piece.pk, [])
    rows = [row for row in kept if row.condition in DRYING]
    if len(kept) < 2 or not rows or rows[-1] is not kept[-1]:
        words = "" if len(kept) > 1 else ONCE if kept else NEVER
        return Told(words, words)
    known = _known(piece, rows, read, now, fits)
    shown, place, running = shown_of(known)
    inside = place is not None and place.out_at is None
    put_in = known.hours(place.put_in_at) if place is not None and inside else None
    if put_in is not None and (not running or shown.hours[-1] < put_in):
        return Told(NOT_SINCE, NOT_SINCE)
    if not running or len(shown.readings) < 2 and not inside:
        return Told("", "")
    anew = read.anew.get(place.pk) if place is not None and inside else None
    verdict = _verdict(known, shown, rest, anew, fits)
    if anew is not None and not any(hour >= known.hours(anew) for hour in shown.hours[:-1]):
        return Told(WET_BESIDE, WET_BESIDE)
    done = inside and place is not None and place.load.purpose == Purpose.DRY and _done(shown, verdict)
    since = known.zero + timedelta(hours=shown.hours[-verdict.agreeing or -1]) if done else None
    if verdict.percent_per_hour is None and inside:
        return Told(ONCE_IN, ONCE_IN)
    return Told(verdict_words(verdict, condition_of(shown)), _short(verdict), done, since)


def _known(piece: Workpiece, rows: list[Weighing], read: _Read, now: datetime, fits: bool) -> Known:
    known = Known(piece, rows, read.places.get(piece.account_id, []), now)
    known.done = read.events.get(piece.pk, [])
    links = read.parents.get(piece.pk, [])
    before = [event for link in links for event in read.events.get(link.parent_id, []) if event.at <= link.at]
    known.waxed = fits and still_waxed(piece, [*known.done, *before])
    known.changes = changes_of(known, read.cuts.get(piece.pk, []))
    return known


def _verdict(known: Known, shown: Series, rest: int, anew: datetime | None, fits: bool) -> Verdict:
    """A curve is fitted only where it is all that is wanting to call it dry."""
    verdict = verdict_of(known, shown, rest, anew, None)
    if not fits or condition_of(shown) != "oven" or unreliable_by(known.piece, waxed=known.waxed):
        return verdict
    if not (_ended(verdict) and verdict.criterion("step").met):
        return verdict
    return verdict_of(known, shown, rest, anew, fitted(shown, rest / 10_000))


def _ended(verdict: Verdict) -> bool:
    return verdict.state != "gained" and bool(verdict.criterion("astm").met or verdict.criterion("en").met)


def _done(shown: Series, verdict: Verdict) -> bool:
    """Dry; or three that agree where nothing more can be told: an endpoint is met, and no curve says that more is
    left than the studio allows."""
    if condition_of(shown) != "oven":
        return False
    steady = verdict.agreeing >= WANTED and _ended(verdict) and verdict.criterion("rest").met is not False
    return verdict.state == "dry" or steady


def verdict_words(verdict: Verdict, condition: str) -> str:
    """`still losing 0.4 % an hour`, `steady at two of three weighings`, `dry: steady at 98 °C`, `oven-dry`."""
    if verdict.oven_dry or verdict.state in ("dry", "gained"):
        point = verdict.set_point_c
        called = verdict.called("" if point is None else show(round(point * 1000), "temperature"))
        if verdict.state != "dry" or verdict.oven_dry:
            return called
        return "dry by its weights" if point is None else f"dry: {called}"
    if verdict.state == "steady":
        return f"steady at {'three' if verdict.agreeing >= WANTED else 'two of three'} weighings"
    rate = verdict.percent_per_hour
    if rate is None:
        return ONCE
    if rate <= 0:
        return "not steady yet"
    return (
        f"still losing {percent(rate)} an hour"
        if condition == "oven"
        else f"still losing {percent(rate * 168)} a week"
    )


def _short(verdict: Verdict) -> str:
    if verdict.state == "gained":
        return "gained!"
    if verdict.state == "dry":
        return "oven-dry" if verdict.oven_dry else "dry"
    if verdict.state == "steady":
        return f"steady {min(verdict.agreeing, WANTED)} of {WANTED}"
    if verdict.percent_per_hour is None:
        return ONCE
    return "still losing" if verdict.percent_per_hour > 0 else "not steady yet"


def percent(share: float, figures: int = 1) -> str:
    """A share in percent with one figure that counts (or more): 0.4 %, 0.03 %."""
    ppm = max(round(share * 10_000), 0)
    step = 10 ** max(len(str(ppm)) - figures, 0)
    return show((ppm + step // 2) // step * step, "share")
