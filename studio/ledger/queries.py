"""Reading the journal: balances, components, what an account went through, one entry."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Max, Q, QuerySet, Sum

from studio.ledger.accounts import PAID_OUT, Account, Component, Kind
from studio.ledger.journal import BooksClosed, Entry, Line

ENTRY_WORDS = {
    "buy": "Bought",
    "draw": "Drawn from the stores",
    "pour": "Poured",
    "stabilize": "Drank stabilizing resin",
    "fill_bath": "Filled the bath",
    "bath_loss": "Lost from the bath",
    "count": "Counted",
    "write_off": "Written off",
    "hours": "Hours at the bench",
    "hours_back": "Hours put right",
    "load": "Oven, chamber or pot",
    "wood": "Wood bought",
    "late_cost": "Late bill",
    "cut": "Cut",
    "cast": "Cast",
    "join": "Joined",
    "salvage": "Saved from a loss",
    "loss": "Lost",
    "allowance": "Share of lost pieces",
    "sale": "Sold",
    "payment": "Paid to us",
    "deposit": "Deposit taken",
    "deposit_back": "Deposit given back",
    "deposit_kept": "Deposit kept",
    "way_out": "Left without a sale",
    "bill": "Bill paid",
    "wages": "Wages paid",
    "reversal": "Taken back",
    "adjustment": "Put right",
}


@dataclass(frozen=True)
class Cost:
    """What lies on an account, by component, in millionths of the currency."""

    parts: Mapping[Component, int]

    @property
    def paid_out(self) -> int:
        return sum(value for part, value in self.parts.items() if part in PAID_OUT)

    @property
    def all_in(self) -> int:
        return sum(self.parts.values())


@dataclass(frozen=True)
class EntryLine:
    account_id: int
    account_kind: str
    component: str
    commodity_id: int | None
    towards_id: int | None
    amount: int
    value_micro: int


@dataclass(frozen=True)
class EntryView:
    pk: int
    kind: str
    words: str
    step: str
    effective_at: datetime
    effective_on: date
    recorded_at: datetime
    by_id: int | None
    reverses_id: int | None
    reversed_by_id: int | None
    lines: tuple[EntryLine, ...]


@dataclass(frozen=True)
class Movement:
    """What one entry brought to the batches of a material or took from them, and the accounts it went to."""

    entry_id: int
    words: str
    effective_at: datetime
    amount: int
    value_micro: int | None
    towards: tuple[int, ...] = ()


@dataclass(frozen=True)
class AccountLine:
    """One line as an account's history shows it."""

    entry_id: int
    kind: str
    words: str
    step: str
    effective_at: datetime
    component: str
    value_micro: int
    reversed: bool


def cost_of(account: Account) -> Cost:
    """Value on one account by component. One query."""
    return costs_of([account.pk]).get(account.pk, Cost({}))


def costs_of(account_ids: Iterable[int] | None = None) -> dict[int, Cost]:
    """Value by component for many accounts (all workpieces when none are named). One query."""
    rows = Line.objects.all()
    if account_ids is None:
        rows = rows.filter(account__kind=Kind.WORKPIECE)
    else:
        rows = rows.filter(account__in=list(account_ids))
    found: dict[int, dict[Component, int]] = defaultdict(dict)
    for pk, part, value in rows.values_list("account", "component").annotate(total=Sum("value_micro")).order_by():
        if value:
            found[pk][Component(part)] = value
    return {pk: Cost(parts) for pk, parts in found.items()}


def history(account: Account) -> list[AccountLine]:
    """Every line that put value on an account or took it off, oldest first. One query."""
    rows = (
        Line.objects.filter(account=account)
        .exclude(value_micro=0)
        .select_related("entry", "entry__reversed_by")
        .order_by("entry__effective_at", "pk")
    )
    return [
        AccountLine(
            line.entry_id,
            line.entry.kind,
            ENTRY_WORDS.get(line.entry.kind, line.entry.kind),
            line.entry.step,
            line.entry.effective_at,
            line.component,
            line.value_micro,
            line.entry.reverses_id is not None or hasattr(line.entry, "reversed_by"),
        )
        for line in rows
    ]


def used_by(account_ids: Iterable[int]) -> dict[int, dict[int, int]]:
    """Amount of each commodity used up towards each account: {account: {commodity: amount}}. One query."""
    found: dict[int, dict[int, int]] = defaultdict(dict)
    for pk, commodity, amount in (
        Line.objects.filter(towards__in=list(account_ids), account__kind=Kind.USED_UP)
        .values_list("towards", "commodity")
        .annotate(total=Sum("amount"))
        .order_by()
    ):
        if amount:
            found[pk][commodity] = amount
    return found


def movements(commodity_id: int, *, costs: bool = True) -> QuerySet:
    """Entries that moved a commodity in or out of its batches, newest first: read a part of it with `as_movements`.

    Without `costs` no value is read. One query when read, one to count.
    """
    rows = Line.objects.filter(commodity=commodity_id, account__kind=Kind.BATCH).exclude(amount=0)
    sums = {"moved": Sum("amount"), **({"worth": Sum("value_micro")} if costs else {})}
    return (
        rows.values("entry", "entry__kind", "entry__effective_at")
        .annotate(**sums)
        .order_by("-entry__effective_at", "-entry")
    )


def as_movements(rows: Iterable[dict], commodity_id: int) -> list[Movement]:
    """Name what some rows of `movements` were for. One query."""
    wanted = list(rows)
    towards: dict[int, list[int]] = defaultdict(list)
    for pk, account in (
        Line.objects.filter(entry__in=[row["entry"] for row in wanted], commodity=commodity_id, towards__isnull=False)
        .order_by("pk")
        .values_list("entry", "towards")
    ):
        if account not in towards[pk]:
            towards[pk].append(account)
    return [
        Movement(
            row["entry"],
            ENTRY_WORDS.get(row["entry__kind"], row["entry__kind"]),
            row["entry__effective_at"],
            row["moved"],
            row.get("worth"),
            tuple(towards[row["entry"]]),
        )
        for row in wanted
    ]


def entry(entry_id: int) -> EntryView | None:
    """One entry with its lines, or None. Two queries."""
    row = Entry.objects.select_related("reversed_by").filter(pk=entry_id).first()
    if row is None:
        return None
    lines = tuple(
        EntryLine(
            line.account_id,
            line.account.kind,
            line.component,
            line.commodity_id,
            line.towards_id,
            line.amount,
            line.value_micro,
        )
        for line in Line.objects.filter(entry=row).select_related("account").order_by("pk")
    )
    mirror = getattr(row, "reversed_by", None)
    return EntryView(
        row.pk,
        row.kind,
        ENTRY_WORDS.get(row.kind, row.kind),
        row.step,
        row.effective_at,
        row.effective_on,
        row.recorded_at,
        row.by_id,
        row.reverses_id,
        mirror.pk if mirror else None,
        lines,
    )


def sums_of_entries(entry_ids: Iterable[int]) -> dict[int, dict[str, int]]:
    """Value each of these entries posted, by kind of account: {entry: {kind: millionths}}. One query."""
    found: dict[int, dict[str, int]] = defaultdict(dict)
    for pk, kind, value in (
        Line.objects.filter(entry__in=list(entry_ids))
        .values_list("entry", "account__kind")
        .annotate(total=Sum("value_micro"))
        .order_by()
    ):
        found[pk][kind] = value
    return found


def moved_by_entries(entry_ids: Iterable[int]) -> dict[int, tuple[str, dict[int, int]]]:
    """What each of these entries is and did to each account: {entry: (kind, {account: millionths})}. One query."""
    found: dict[int, tuple[str, dict[int, int]]] = {}
    rows = Line.objects.filter(entry__in=list(entry_ids)).values_list("entry", "entry__kind", "account")
    for pk, kind, account, value in rows.annotate(total=Sum("value_micro")).order_by():
        found.setdefault(pk, (kind, {}))[1][account] = value
    return found


def pool_sums(*, since: date | None = None, until: date | None = None) -> dict[str, int]:
    """Value of every pool, millionths, over the days named (all days otherwise). One query."""
    when = Q()
    if since:
        when &= Q(entry__effective_on__gte=since)
    if until:
        when &= Q(entry__effective_on__lte=until)
    rows = (
        Line.objects.filter(when)
        .exclude(account__kind__in=[Kind.BATCH, Kind.BATH, Kind.WORKPIECE])
        .values_list("account__kind")
        .annotate(total=Sum("value_micro"))
        .order_by()
    )
    return dict(rows)


def balances(account_ids: Iterable[int]) -> dict[int, int]:
    """Summed value of accounts that carry no balance (what galleries and clients owe). One query."""
    rows = (
        Line.objects.filter(account__in=list(account_ids))
        .values_list("account")
        .annotate(total=Sum("value_micro"))
        .order_by()
    )
    return dict(rows)


def lines_frame() -> list[tuple]:
    """Every line as (account, account kind, component, commodity, amount, value, day). One query.

    The second computation of the reports starts here and shares nothing with the balances.
    """
    return list(
        Line.objects.order_by("pk").values_list(
            "account",
            "account__kind",
            "component",
            "commodity",
            "amount",
            "value_micro",
            "entry__effective_on",
        )
    )


def last_moved_at(account_ids: Iterable[int]) -> dict[int, datetime]:
    """When something last happened on each account, by the time it happened. One query."""
    rows = (
        Line.objects.filter(account__in=list(account_ids))
        .values_list("account")
        .annotate(last=Max("entry__effective_at"))
        .order_by()
    )
    return dict(rows)


def newest_entry_id() -> int:
    """Key of the newest entry, 0 in an empty journal: what a stored computation compares itself with."""
    return Entry.objects.order_by("-pk").values_list("pk", flat=True).first() or 0


def closed_until() -> date | None:
    return BooksClosed.objects.order_by("-pk").values_list("until", flat=True).first()
