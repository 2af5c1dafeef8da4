"""Computes the books a second time, from the lines alone, and says in sentences where something differs.

Nothing here trusts a balance, a constraint or a trigger: each is looked at as if it could have been switched off.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.db import connection, transaction
from django.db.models import BigIntegerField, Count, F, Q, QuerySet, Sum
from django.db.models.functions import Cast

from studio.fields.whole import LIMIT
from studio.ledger import triggers
from studio.ledger.accounts import (
    CARRIES_BALANCE,
    ONE_EACH,
    POOL_SIGN,
    RUNS_OUT_BY_AMOUNT,
    WHOLE_COINS,
    Account,
    Component,
    Kind,
)
from studio.ledger.audit_entries import CHECKS as ENTRY_CHECKS
from studio.ledger.journal import Entry, Line
from studio.people import settings as studio_settings

A_FEW = 10

Check = Callable[[], Iterable[str]]


@dataclass(frozen=True)
class Result:
    """What the audit found: one sentence for each difference."""

    entries: int
    accounts: int
    differences: tuple[str, ...]

    @property
    def clean(self) -> bool:
        return not self.differences

    @property
    def summary(self) -> str:
        return f"{len(self.differences)} differences in {self.entries} entries, {self.accounts} accounts"


@dataclass(frozen=True)
class _Row:
    kind: str
    commodity: int | None
    amount: int
    value: int
    closed: bool
    successor: int | None


_registered: dict[str, Check] = {}


def register(name: str, check: Check) -> None:
    """Have a room above add what it can compute twice; `check` yields one sentence for each difference."""
    _registered[name] = check


def run() -> Result:
    """Will recompute everything, at one moment even while others post, and change nothing.

    A fixed number of queries whatever the journal holds, one for each time the books were closed, and those of the
    registered checks.
    """
    with _one_moment():
        found = [sentence for check in (*CHECKS, *ENTRY_CHECKS) for sentence in check()]
        for name, check in _registered.items():
            found.extend(f"{name}: {sentence}" for sentence in check())
        return Result(Entry.objects.count(), Account.objects.count(), tuple(found))


@contextmanager
def _one_moment() -> Iterator[None]:
    """Read everything from one snapshot. On SQLite a deferred transaction, so that nobody's posting waits."""
    if connection.in_atomic_block:
        yield
        return
    mode = getattr(connection, "transaction_mode", None)
    if connection.vendor == "sqlite":
        connection.transaction_mode = "DEFERRED"  # type: ignore[attr-defined]
    try:
        with transaction.atomic():
            if connection.vendor == "postgresql":
                with connection.cursor() as cursor:
                    cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield
    finally:
        if connection.vendor == "sqlite":
            connection.transaction_mode = mode  # type: ignore[attr-defined]


def _rows() -> dict[int, _Row]:
    names = ("kind", "commodity", "amount", "value_micro", "closed_at", "successor")
    return {
        pk: _Row(kind, commodity, amount, value, closed is not None, successor)
        for pk, kind, commodity, amount, value, closed, successor in Account.objects.order_by("pk").values_list(
            "pk", *names
        )
    }


def _called(pk: int, kind: str) -> str:
    words = Kind(kind).label if kind in Kind.values else kind
    return f"{words} {pk}"


def balances() -> Iterator[str]:
    """Rule 3: a balance is the sum of its lines; a pool keeps none; nothing is below nothing, today or any day."""
    rows = _rows()
    sums: dict[int, list[int]] = defaultdict(lambda: [0, 0])
    below: set[int] = set()
    by_day = (
        Line.objects.values_list("account", "entry__effective_on")
        .annotate(amount=Sum("amount"), value=Sum("value_micro"))
        .order_by("account", "entry__effective_on")
    )
    for pk, day, amount, value in by_day.iterator():
        pair = sums[pk]
        pair[0] += amount
        pair[1] += value
        if pk in rows and rows[pk].kind in CARRIES_BALANCE and pk not in below and min(pair) < 0:
            below.add(pk)
            yield f"{_called(pk, rows[pk].kind)} held less than nothing at the end of {day}."
    for pk, row in rows.items():
        name, (amount, value) = _called(pk, row.kind), sums[pk]
        if row.kind not in CARRIES_BALANCE:
            if row.amount or row.value:
                yield f"{name} is a pool and carries a balance of its own."
            continue
        if row.amount != amount:
            yield f"{name} says it holds an amount of {row.amount}; its lines add up to {amount}."
        if row.value != value:
            yield f"{name} says it holds {row.value} millionths; its lines add up to {value}."
        if row.kind in RUNS_OUT_BY_AMOUNT and not amount and value:
            yield f"{name} is empty and yet worth {value} millionths."


def draws() -> Iterator[str]:
    """Rule 4: what was used up left its batch or bath at the cost it had there just then.

    In the order of the keys, for that is the order in which the balance was locked. Draws that became one line
    were each rounded, hence the few millionths either way.
    """
    used = set(
        Line.objects.filter(account__kind=Kind.USED_UP, entry__reverses__isnull=True).values_list("entry", flat=True)
    )
    at, left, worth = 0, 0, 0
    lines = Line.objects.filter(account__kind__in=RUNS_OUT_BY_AMOUNT).order_by("account", "pk")
    names = ("account", "account__kind", "entry", "amount", "value_micro")
    for pk, kind, entry, amount, value in lines.values_list(*names).iterator():
        if pk != at:
            at, left, worth = pk, 0, 0
        if not isinstance(amount, int) or not isinstance(value, int):
            continue
        if amount < 0 < left and entry in used:
            own = worth * amount // left
            if abs(own - value) > A_FEW:
                yield f"Entry {entry} took {-value} millionths out of {_called(pk, kind)}, where it cost {-own}."
        left, worth = left + amount, worth + value


def pools() -> Iterator[str]:
    """Rule 3: what each pool adds up to lies on the side its table of signs says."""
    sums = (
        Line.objects.exclude(account__kind__in=CARRIES_BALANCE)
        .values_list("account", "account__kind")
        .annotate(total=Sum("value_micro"))
        .order_by("account")
    )
    for pk, kind, value in sums:
        sign = POOL_SIGN.get(Kind(kind)) if kind in Kind.values else None
        if sign is None:
            yield f"Account {pk} is of a kind nobody knows: {kind}."
        elif (sign == "in" and value < 0) or (sign == "out" and value > 0) or (sign == "zero" and value):
            yield f"{_called(pk, kind)} adds up to {value} millionths: the wrong side for it."


def components() -> Iterator[str]:
    """Rule 6: no component of what lies on a workpiece is below nothing, and money itself lies on none."""
    sums = (
        Line.objects.filter(account__kind__in=CARRIES_BALANCE)
        .filter(Q(account__kind=Kind.WORKPIECE) | Q(component=Component.MONEY))
        .values_list("account", "account__kind", "component")
        .annotate(total=Sum("value_micro"))
        .order_by("account", "component")
    )
    for pk, kind, part, value in sums:
        if part not in Component.values or part == Component.MONEY:
            yield f"{_called(pk, kind)} carries {value} millionths as {part}, which is no part of a cost."
        elif value < 0:
            yield f"{_called(pk, kind)} carries less than nothing of its part {part}: {value} millionths."


def closed_accounts() -> Iterator[str]:
    """Rule 9: a closed account is empty and names a successor, and the successors end at an open account."""
    rows = _rows()
    for pk, row in rows.items():
        name = _called(pk, row.kind)
        if not row.closed:
            if row.successor is not None:
                yield f"{name} is open and yet names a successor."
            continue
        if row.amount or row.value:
            yield f"{name} is closed and yet holds something."
        seen, at = {pk}, row.successor
        while at is not None and at not in seen and at in rows and rows[at].closed:
            seen.add(at)
            at = rows[at].successor
        if at is None:
            yield f"{name} is closed and its successors end nowhere."
        elif at in seen:
            yield f"{name} is closed and its successors go round in a circle."


def whole_numbers() -> Iterator[str]:
    """Rule 2: each figure really is an integer in the cell and within what the journal can count."""
    for model, names in ((Line, ("amount", "value_micro")), (Account, ("amount", "value_micro"))):
        for name in names:
            odd = ~Q((name, Cast(name, BigIntegerField()))) | Q((f"{name}__gt", LIMIT)) | Q((f"{name}__lt", -LIMIT))
            for pk in model.objects.filter(odd).order_by("pk").values_list("pk", flat=True):  # type: ignore[attr-defined]
                yield f"{model._meta.verbose_name} {pk} has something in {name} that is no whole number it may hold."


def whole_coins() -> Iterator[str]:
    """Rule 11: cash, debts, deposits and tax move by whole smallest coins."""
    coin = studio_settings.coin_micro()
    odd = (
        Line.objects.filter(account__kind__in=WHOLE_COINS)
        .annotate(rest=F("value_micro") % coin)
        .exclude(rest=0)
        .order_by("pk")
    )
    for entry, pk, kind, value in odd.values_list("entry", "account", "account__kind", "value_micro"):
        yield f"Entry {entry} moves {value} millionths on {_called(pk, kind)}: a part of a coin."


def materials() -> Iterator[str]:
    """Rules 1 and 5: a batch holds its own material, what is used up names the workpiece, which holds none."""
    lines = Line.objects.order_by("pk")
    for entry in _entries(lines.exclude(amount=0).filter(commodity__isnull=True)):
        yield f"Entry {entry} moves an amount of no material."
    other = lines.filter(account__kind__in=RUNS_OUT_BY_AMOUNT).exclude(amount=0)
    for entry in _entries(other.exclude(commodity=F("account__commodity"))):
        yield f"Entry {entry} puts another material on a batch or bath than it holds."
    nowhere = Q(towards__isnull=True) | ~Q(towards__kind=Kind.WORKPIECE)
    for entry in _entries(lines.filter(nowhere, account__kind=Kind.USED_UP)):
        yield f"Entry {entry} uses something up without naming the workpiece it went into."
    for entry in _entries(lines.filter(account__kind=Kind.WORKPIECE).exclude(amount=0)):
        yield f"Entry {entry} books an amount on a workpiece, which is weighed and never booked."


def _entries(lines: QuerySet[Line]) -> list[int]:
    return sorted(set(lines.values_list("entry", flat=True)))


def guards() -> Iterator[str]:
    """Rule 10: the triggers are in place, and on SQLite every key leads to a row."""
    for name in triggers.missing():
        yield f"The trigger {name} is missing: rows of the journal could be changed."
    for kind, count in Account.objects.values_list("kind").annotate(count=Count("pk")).order_by("kind"):
        if count > 1 and kind in ONE_EACH:
            yield f"There are {count} accounts of the kind {kind}, of which there is one."
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA foreign_key_check")
        for table, row, parent, _ in cursor.fetchall():
            yield f"Row {row} of {table} points at a row of {parent} that isn't there."


CHECKS: tuple[Check, ...] = (
    guards,
    whole_numbers,
    balances,
    draws,
    pools,
    components,
    closed_accounts,
    whole_coins,
    materials,
)
