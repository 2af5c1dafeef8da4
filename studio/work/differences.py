"""What this room can compute a second time: shares of cuts, closed workpieces, and the entries they point at."""

from collections.abc import Iterable, Iterator
from itertools import groupby

from django.db.models import F, Q

from studio.ledger import queries as ledger
from studio.ledger.accounts import Component, Kind
from studio.work.making import CAME_OF_IT
from studio.work.models import ClosedAs, Descent, Workpiece

PPM = 1_000_000
BATCH = 500
# Who takes what comes late of a workpiece that left in this way; of a cut or joined one it is what came of it.
HEIRS: dict[str, tuple[Kind, ...]] = {
    ClosedAs.LOST: (Kind.LOSS_EXPECTED, Kind.LOSS_UNUSUAL),
    ClosedAs.SOLD: (Kind.COST_OF_SALES,),
    ClosedAs.LEFT: (Kind.GIVEN_AWAY,),
    ClosedAs.RETURNED: (Kind.GIVEN_AWAY,),
}


def differences() -> Iterator[str]:
    """One sentence for each thing at the bench that does not agree with the books or with itself."""
    yield from _shares_of_cuts()
    yield from _closed_workpieces()
    yield from _entries_of_descents()


def _shares_of_cuts() -> Iterator[str]:
    """Rule 7: the shares of one cut are the whole where nothing was kept back, and never more than the whole."""
    rows = (
        Descent.objects.filter(how=Descent.How.CUT)
        .order_by("parent", "at", "pk")
        .values_list("parent", "at", "share_ppm", "parent__number", "parent__closed_as")
    )
    for (_, number, closed_as), of_parent in groupby(rows.iterator(), key=lambda row: (row[0], row[3], row[4])):
        sums = [(at, sum(row[2] for row in cut)) for at, cut in groupby(of_parent, key=lambda row: row[1])]
        for place, (at, total) in enumerate(sums, start=1):
            when = f"the cut of {number} on {at:%Y-%m-%d %H:%M} shares out {total} of a million"
            if total > PPM:
                yield f"{when}: more than there was."
            elif closed_as == ClosedAs.CUT and place == len(sums) and total != PPM:
                yield f"{when}, and nothing of it was kept."


def _closed_workpieces() -> Iterator[str]:
    """Rule 9: a workpiece and its account are closed together, and what comes late goes where the piece went."""
    rows = Workpiece.objects.order_by("pk")
    torn = Q(closed_at__isnull=True, account__closed_at__isnull=False) | Q(
        closed_at__isnull=False, account__closed_at__isnull=True
    )
    for number, closed in rows.filter(torn).values_list("number", "closed_at"):
        open_one = "its account is open" if closed else "its account is closed"
        yield f"{number} {'has left the bench' if closed else 'lies on the bench'} and {open_one}."
    both = rows.filter(closed_at__isnull=False, account__closed_at__isnull=False)
    for how, kinds in HEIRS.items():
        for number in both.filter(closed_as=how).exclude(account__successor__kind__in=kinds).values_list(
            "number", flat=True
        ):
            yield f"{number} was {ClosedAs(how).label}, and what comes late for it goes elsewhere."
    for how, ways in CAME_OF_IT.items():
        children = Descent.objects.filter(how__in=ways, child__account=F("parent__account__successor"))
        for number in both.filter(closed_as=how).exclude(pk__in=children.values("parent")).values_list(
            "number", flat=True
        ):
            yield f"{number} was {ClosedAs(how).label}, and what comes late for it goes to nothing that came of it."


def _entries_of_descents() -> Iterator[str]:
    """The entry a descent points at is the one that handed the parent's cost on to the child."""
    rows = Descent.objects.filter(entry__isnull=False).select_related("parent", "child").order_by("pk")
    for some in _batches(rows.iterator()):
        moved = ledger.moved_by_entries({row.entry_id for row in some if row.entry_id})
        for row in some:
            assert row.entry_id is not None
            kind, values = moved.get(row.entry_id, ("", {}))
            handed_on, got = -values.get(row.parent.account_id, 0), values.get(row.child.account_id, 0)
            if kind != row.how or not _handed_on(row, handed_on, got):
                yield (
                    f"{row.child.number} was {row.get_how_display()} {row.parent.number} by entry {row.entry_id}, "
                    "which did not hand that cost on."
                )


def _handed_on(row: Descent, handed_on: int, got: int) -> bool:
    if row.how == Descent.How.CUT:
        # every part of a small share may have been rounded down to nothing
        return handed_on > 0 and (got > 0 or handed_on * row.share_ppm < len(Component) * PPM)
    # what was saved comes out of the losses; a part that was joined may itself have cost nothing
    return got > 0 and (handed_on == 0 if row.how == Descent.How.SALVAGE else handed_on >= 0)


def _batches(rows: Iterable[Descent]) -> Iterator[list[Descent]]:
    some: list[Descent] = []
    for row in rows:
        some.append(row)
        if len(some) == BATCH:
            yield some
            some = []
    if some:
        yield some
