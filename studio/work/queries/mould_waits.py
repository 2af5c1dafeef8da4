"""What lies in its mould: in a pot that is to be opened first, or on the bench."""

from collections.abc import Iterable
from datetime import datetime

from django.db.models import Subquery

from studio.craft.waits import Kind
from studio.equipment.models import LoadPlace, Purpose
from studio.equipment.pot_check import gauge_note, last_read
from studio.work.models import Pour
from studio.work.queries.bench_waits import BenchWait, Tagged, bench_wait, tag_of
from studio.work.queries.cures import recoat
from studio.work.queries.lists import in_the_moulds


def in_a_mould(now: datetime, only: int | None = None) -> Iterable[BenchWait]:
    """Pours that are not out of their moulds; `only` those of this casting. Three queries.

    What stands under pressure is one thing to do a pot: the air is let off and the pot opened before any mould is.
    """
    pours = Pour.objects.filter(demoulded_at=None)
    if only is not None:
        pours = pours.filter(fills__casting=only)
    found = list(pours.select_related("system").prefetch_related(in_the_moulds()).order_by("at"))
    where = _under_pressure(found)
    pots: dict[int, tuple[LoadPlace, list[Pour], list[Tagged]]] = {}
    for pour in found:
        inside: list[Tagged] = []
        for fill in pour.fills.all():
            if fill.casting.closed_at is not None:
                continue
            place = where.get(fill.casting.account_id)
            if place is None:
                inside.append(tag_of(fill.casting))
                continue
            _, held, tags = pots.setdefault(place.load_id, (place, [], []))
            tags.append(tag_of(fill.casting))
            if pour not in held:
                held.append(pour)
        if inside:
            yield _on_the_bench(pour, inside, now)
    for place, held, tags in pots.values():
        yield _in_a_pot(place, held, tags, now)


def _under_pressure(pours: Iterable[Pour]) -> dict[int, LoadPlace]:
    accounts = [fill.casting.account_id for pour in pours for fill in pour.fills.all()]
    inside = LoadPlace.objects.inside().filter(
        account__in=accounts, load__purpose=Purpose.PRESSURE, load__ended_at=None
    )
    shown = inside.select_related("load__machine").annotate(shows_pa=Subquery(last_read("load")))
    return {place.account_id: place for place in shown}


def _on_the_bench(pour: Pour, tags: list[Tagged], now: datetime) -> BenchWait:
    kind: Kind = "not before" if pour.demould_not_before else "since"
    at, about = pour.demould_not_before or pour.at, ("work.pour", pour.pk)
    note = _second(pour, now)
    return bench_wait("mixing bench", "take out of the mould", tags, kind, at, str(pour.system), about, note=note)


def _in_a_pot(place: LoadPlace, pours: list[Pour], tags: list[Tagged], now: datetime) -> BenchWait:
    load = place.load
    load.shows_pa = place.shows_pa  # type: ignore[attr-defined]
    ends = [end for end in (load.not_before, *(pour.demould_not_before for pour in pours)) if end is not None]
    kind: Kind = "not before" if ends else "since"
    at = max(ends, default=load.started_at)
    resins = ", ".join(dict.fromkeys(str(pour.system) for pour in pours))
    notes = [gauge_note(load), *dict.fromkeys(_second(pour, now) for pour in pours)]
    return bench_wait(
        "pressure pot",
        "let the air off and take out",
        tags,
        kind,
        at,
        f"{resins}, in {load.machine.name}",
        ("equipment.load", load.pk),
        note=" ".join(filter(None, notes)),
        load=load.pk,
    )


def _second(pour: Pour, now: datetime) -> str:
    """Until when a second layer bonds to it by itself, while that is still to come."""
    found = recoat(pour)
    return "" if found is None or found.past(now) else found.short(now)
