"""What was done to a material or a bath: counted, thrown away, poured in, billed since. Read by `stores.queries`."""

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet

from studio.stores.models import Bath, Count, Filling, LateBill, Material, WriteOff


@dataclass(frozen=True)
class Happening:
    """Something that was done to a material, for its page. Value is None where costs weren't asked for."""

    what: str
    at: datetime
    by: object
    amount: int | None
    value_micro: int | None
    entry_id: int | None
    words: str


def happenings(material: Material, *, costs: bool = True) -> list[Happening]:
    """Counts, write-offs, fillings of baths and bills since of a material, newest first. Four queries.

    Without `costs` no bill and no value is read.
    """
    gone = WriteOff.objects.filter(Q(batch__material=material) | Q(bath__material=material))
    found = _changes(Count.objects.filter(material=material), gone, costs)
    unread = () if costs else ("value_micro",)
    for filling in Filling.objects.filter(bath__material=material).select_related("by").defer(*unread):
        found.append(_happening("into the bath", filling, -filling.amount, costs))
    bills = LateBill.objects.filter(batch__material=material).select_related("by")
    for bill in bills if costs else ():
        what = "price put right" if bill.price_put_right else "bill since"
        found.append(_happening(what, bill, None, costs, bill.what))
    return sorted(found, key=lambda row: row.at, reverse=True)


def bath_happenings(bath: Bath, *, costs: bool = True) -> list[Happening]:
    """What was poured into one bath, counted in it and thrown away of it, newest first. Three queries.

    Without `costs` no value is read.
    """
    found = _changes(Count.objects.filter(bath=bath), WriteOff.objects.filter(bath=bath), costs)
    unread = () if costs else ("value_micro",)
    for filling in Filling.objects.filter(bath=bath).select_related("by").defer(*unread):
        found.append(_happening("poured in", filling, filling.amount, costs))
    return sorted(found, key=lambda row: row.at, reverse=True)


def _changes(counts: QuerySet[Count], gone: QuerySet[WriteOff], costs: bool) -> list[Happening]:
    unread = () if costs else ("value_micro",)
    found = [
        _happening("counted", count, count.counted_amount - count.was_amount, costs)
        for count in counts.select_related("by").defer(*unread)
    ]
    for off in gone.select_related("by").defer(*unread):
        found.append(_happening("written off", off, -off.amount, costs, off.words or off.get_why_display()))
    return found


def _happening(
    what: str, row: Count | WriteOff | LateBill | Filling, amount: int | None, costs: bool, words: str = ""
) -> Happening:
    return Happening(what, row.at, row.by, amount, row.value_micro if costs else None, row.entry_id, words)
