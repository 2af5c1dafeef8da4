"""Hands-on hours in a piece, its own and its part of those spent on what it came of."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from studio.craft.costing import split
from studio.craft.rounding import divide
from studio.equipment.models import LoadPlace
from studio.equipment.rates import shares_of
from studio.people import queries as people
from studio.pieces.lineage import Lineage
from studio.work.models import Descent, Step

WHOLE_PPM = 1_000_000
FOREVER = None


@dataclass
class _Booked:
    """What was booked where: (when, seconds) by workpiece, and (when, parts per million) cut off it."""

    hours: dict[int, list[tuple[datetime, int]]] = field(default_factory=lambda: defaultdict(list))
    cuts: dict[int, dict[datetime, int]] = field(default_factory=lambda: defaultdict(lambda: defaultdict(int)))


def own_seconds(line: Lineage, roots: Iterable[int], on: date) -> dict[int, int]:
    """Seconds of unpaid hands-on work in each of these workpieces. Six queries beside `lineage`.

    A step counts whole, from its beginning, for whoever it is booked to; minutes at a load by its hours. A
    cut hands on hours by the share it handed on cost; what was saved from a loss carries none, as it carries
    no labour. People whose hours are paid out on the day `on` are left out: their wage is a cost like any
    other.
    """
    booked = _read(line, on)
    known: dict[tuple[int, datetime | None], int] = {}
    return {root: _seconds(line, booked, root, FOREVER, known) for root in roots}


def _seconds(
    line: Lineage,
    booked: _Booked,
    pk: int,
    until: datetime | None,
    known: dict[tuple[int, datetime | None], int],
) -> int:
    """Seconds that lay in a workpiece just before what happened at `until`."""
    if (pk, until) in known:
        return known[pk, until]
    events: list[tuple[datetime, int, int]] = []
    for link in line.up.get(pk, ()):
        if link.how != Descent.How.SALVAGE:
            before = _seconds(line, booked, link.parent_id, link.at, known)
            events.append((link.at, 0, divide(before * link.share_ppm, WHOLE_PPM)))
    events += [(at, 1, seconds) for at, seconds in booked.hours[pk] if until is FOREVER or at <= until]
    events += [(at, 2, ppm) for at, ppm in booked.cuts[pk].items() if until is FOREVER or at < until]
    total = 0
    for _, what, figure in sorted(events):
        total = total - divide(total * figure, WHOLE_PPM) if what == 2 else total + figure
    known[pk, until] = total
    return total


def _read(line: Lineage, on: date) -> _Booked:
    found = _Booked()
    paid = {person for person, wage in people.wages_on(on).items() if wage.paid}
    steps = Step.objects.filter(workpiece__in=line.rows, hands_on_s__gt=0).values_list(
        "workpiece", "hands_on_s", "person", "started_at", "workpiece__made_at"
    )
    for workpiece, seconds, person, started_at, made_at in steps:
        if person not in paid:
            found.hours[workpiece].append((started_at or made_at, seconds))
    for parent, at, ppm in Descent.objects.filter(parent__in=line.rows, how=Descent.How.CUT).values_list(
        "parent", "at", "share_ppm"
    ):
        found.cuts[parent][at] += ppm
    for workpiece, at, seconds in _at_loads(line, paid):
        found.hours[workpiece].append((at, seconds))
    return found


def _at_loads(line: Lineage, paid: set[int]) -> list[tuple[int, datetime, int]]:
    """(workpiece, when, seconds) of the minutes spent at ovens, chambers and pots."""
    workpiece_of = {row.account_id: pk for pk, row in line.rows.items()}
    mine = LoadPlace.objects.filter(account__in=workpiece_of)
    places = (
        LoadPlace.objects.filter(load__in=mine.values("load"), load__hands_on_s__gt=0, load__ended_at__isnull=False)
        .select_related("load")
        .order_by("load", "put_in_at", "pk")
    )
    loads: dict[int, list[LoadPlace]] = defaultdict(list)
    for place in places:
        loads[place.load_id].append(place)
    found = []
    for held in loads.values():
        load = held[0].load
        if load.hands_on_by_id in paid or load.ended_at is None:
            continue
        hours = shares_of(load, held, load.ended_at)
        for place, seconds in zip(held, split(load.hands_on_s, hours), strict=True):
            if place.account_id in workpiece_of:
                found.append((workpiece_of[place.account_id], place.put_in_at, seconds))
    return found
