"""Leafing through the journal: its entries in pages, and what the pools took in and gave out, by cause."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Case, Exists, F, IntegerField, OuterRef, QuerySet, Sum, Value, When
from django.db.models.functions import Coalesce

from studio.ledger.accounts import CARRIES_BALANCE, Component, Kind
from studio.ledger.journal import Entry, Line
from studio.ledger.queries import ENTRY_WORDS, Cost


@dataclass(frozen=True)
class EntryRow:
    """One entry as a list shows it. `moved_micro` is the value that changed hands in it."""

    pk: int
    kind: str
    words: str
    step: str
    effective_at: datetime
    effective_on: date
    recorded_at: datetime
    by: str
    moved_micro: int
    reverses_id: int | None
    reversed_by_id: int | None


@dataclass(frozen=True)
class Flow:
    """What entries of one kind did to one pool, by component; an entry taken back counts against its own kind."""

    pool: str
    component: str
    cause: str
    value_micro: int


class Journal:
    """Entries that answer a search, newest first, to be cut into pages: `len()` and a slice, a query each."""

    def __init__(self, rows: QuerySet[Entry]) -> None:
        self._rows = rows

    def __len__(self) -> int:
        return self._rows.count()

    def __getitem__(self, part: slice) -> list[EntryRow]:
        return [_row(entry) for entry in self._rows[part]]


def journal(
    *,
    kind: str = "",
    since: date | None = None,
    until: date | None = None,
    account_id: int | None = None,
) -> Journal:
    """Entries by kind, by day and by an account they touched or that materials went towards, newest first."""
    rows = Entry.objects.all()
    if kind:
        rows = rows.filter(kind=kind)
    if since:
        rows = rows.filter(effective_on__gte=since)
    if until:
        rows = rows.filter(effective_on__lte=until)
    if account_id is not None:
        mine = Line.objects.filter(entry=OuterRef("pk"))
        rows = rows.filter(Exists(mine.filter(account=account_id)) | Exists(mine.filter(towards=account_id)))
    moved = Sum(
        Case(When(lines__value_micro__gt=0, then="lines__value_micro"), default=Value(0)),
        output_field=IntegerField(),
    )
    return Journal(rows.annotate(moved=moved).select_related("by", "reversed_by").order_by("-effective_at", "-pk"))


def _row(entry: Entry) -> EntryRow:
    mirror = getattr(entry, "reversed_by", None)
    return EntryRow(
        entry.pk,
        entry.kind,
        ENTRY_WORDS.get(entry.kind, entry.kind),
        entry.step,
        entry.effective_at,
        entry.effective_on,
        entry.recorded_at,
        str(entry.by) if entry.by else "",
        entry.moved or 0,  # type: ignore[attr-defined]  # annotated above
        entry.reverses_id,
        mirror.pk if mirror else None,
    )


def kind_before(entry_id: int) -> str:
    """The kind of the entry that this one takes back, or nothing. One query."""
    return Entry.objects.filter(reversed_by=entry_id).values_list("kind", flat=True).first() or ""


def flows(*, since: date | None = None, until: date | None = None) -> list[Flow]:
    """What each pool took in and gave out over the days named, by component and by cause. One query."""
    lines = Line.objects.exclude(account__kind__in=CARRIES_BALANCE)
    if since:
        lines = lines.filter(entry__effective_on__gte=since)
    if until:
        lines = lines.filter(entry__effective_on__lte=until)
    rows = (
        lines.annotate(cause=Coalesce(F("entry__reverses__kind"), F("entry__kind")))
        .values_list("account__kind", "component", "cause")
        .annotate(total=Sum("value_micro"))
        .order_by("account__kind", "component", "cause")
    )
    return [Flow(*row) for row in rows]


def moved_by(entry_ids: Iterable[int], kinds: Iterable[Kind]) -> dict[int, Cost]:
    """What entries did to accounts of these kinds, by component: {entry: cost}. One query."""
    found: dict[int, dict[Component, int]] = defaultdict(dict)
    rows = (
        Line.objects.filter(entry__in=list(entry_ids), account__kind__in=list(kinds))
        .values_list("entry", "component")
        .annotate(total=Sum("value_micro"))
        .order_by()
    )
    for pk, part, value in rows:
        if value:
            found[pk][Component(part)] = value
    return {pk: Cost(parts) for pk, parts in found.items()}


def days_covered() -> tuple[date, date] | None:
    """The first and the last day anything is entered for; None in an empty journal. Two queries."""
    days = Entry.objects.order_by("effective_on").values_list("effective_on", flat=True)
    first = days.first()
    last = days.last()
    return (first, last) if first and last else None
