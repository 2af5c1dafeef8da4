"""Pours in their moulds, and after."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Prefetch, QuerySet

from studio.equipment.models import Load, LoadPlace
from studio.work.models import Outcome, Pour, PourColorant, PourFill


@dataclass(frozen=True)
class PourUnderWay:
    """A pour still in its moulds. `ready`: nothing says that it is too early. `pot`: the load it lies in."""

    pour: Pour
    fills: tuple[PourFill, ...]
    ready: bool
    pot: Load | None

    @property
    def numbers(self) -> tuple[str, ...]:
        return tuple(fill.casting.number for fill in self.fills)


def pours_under_way(now: datetime) -> list[PourUnderWay]:
    """Pours not yet out of their moulds, the one that may come out first at the head. Three queries."""
    rows = list(_with_fills(Pour.objects.filter(demoulded_at=None)))
    pots = _pots([fill.casting.account_id for row in rows for fill in row.fills.all()])
    found = [_under_way(row, pots, now) for row in rows]
    return sorted(found, key=lambda one: (one.pour.demould_not_before or one.pour.at, one.pour.pk))


def pour_page(pk: int, now: datetime) -> PourUnderWay | None:
    """One pour, out of its moulds or not, with fills, castings, what was seen of them, and colours; None if there is
    none. Five queries."""
    colorants = PourColorant.objects.select_related("material__commodity").order_by("pk")
    seen = Prefetch("fills__outcomes", Outcome.objects.order_by("at", "pk"))
    row = _with_fills(Pour.objects.filter(pk=pk)).prefetch_related(Prefetch("colorants", colorants), seen).first()
    if row is None:
        return None
    return _under_way(row, _pots([fill.casting.account_id for fill in row.fills.all()]), now)


def _with_fills(rows: QuerySet[Pour]) -> QuerySet[Pour]:
    castings = PourFill.objects.select_related("mould", "casting__account", "casting__species")
    # Who may not see what things cost reads this page too.
    fills = castings.defer("casting__account__value_micro").order_by("pk")
    return rows.select_related("system", "by", "load__machine").prefetch_related(Prefetch("fills", fills))


def _pots(account_ids: Sequence[int]) -> dict[int, Load]:
    places = LoadPlace.objects.inside().filter(account__in=account_ids).select_related("load__machine")
    return {place.account_id: place.load for place in places}


def _under_way(row: Pour, pots: dict[int, Load], now: datetime) -> PourUnderWay:
    fills = tuple(row.fills.all())
    pot = next((pots[fill.casting.account_id] for fill in fills if fill.casting.account_id in pots), None)
    ready = row.demoulded_at is None and (row.demould_not_before is None or row.demould_not_before <= now)
    return PourUnderWay(row, fills, ready, pot)
