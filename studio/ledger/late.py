"""A bill that comes after the material has been drawn on, shared out where the material went."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.db.models import Sum

from studio.craft.costing import split
from studio.fields.models import Submission
from studio.ledger.accounts import RUNS_OUT_BY_AMOUNT, Account, Component, Kind, pool
from studio.ledger.closing import live
from studio.ledger.errors import WrongAccount
from studio.ledger.journal import Leg, Line, Posted, lock, post
from studio.people.models import User

Share = tuple[Account, int]


def spread_late_cost(
    *,
    account: Account,
    value: int,
    component: Component,
    at: datetime,
    paid_from: Account | Kind = Kind.CASH,
    kind: str = "late_cost",
    corrects_id: int | None = None,
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Posted:
    """Will share a late bill (below nothing: a refund) on a batch between what is left and who drew on it.

    By net amounts, dated today; what went through a bath goes on to those who drew on the bath. A drawer that
    is closed hands its share to its successor: the cost of sales where the piece was sold, the losses where
    it was lost. Of a refund nobody bears more than lies on him; the rest lowers the overhead.
    """
    if account.kind not in RUNS_OUT_BY_AMOUNT:
        raise WrongAccount("A late cost is spread over a batch or a bath.")
    with transaction.atomic():
        # All are held at once, in key order; then looked at again, for who drew may have changed till then.
        lock([account, *(target for target, _ in _carriers(account))])
        shares = _carriers(account)
        if not shares:
            raise WrongAccount("Nothing was ever in that batch; the cost has nowhere to go.")
        worths = split(value, [weight for _, weight in shares])
        if value < 0:
            worths = _bearable(shares, worths, component)
        legs = [Leg(target, component, value=worth) for (target, _), worth in zip(shares, worths, strict=True)]
        legs.append(Leg(Kind.OVERHEAD, component, value=value - sum(worths)))
        legs.append(Leg(paid_from, Component.MONEY, value=-value))
        return post(kind=kind, legs=legs, at=at, by=by, corrects_id=corrects_id, submission=submission, now=now)


def _carriers(account: Account, through: frozenset[int] = frozenset()) -> list[Share]:
    """What is left in a batch and who drew on it, by amount; a bath that drew stands for its own drawers."""
    row = Account.objects.get(pk=account.pk)
    found: dict[int, int] = {row.pk: row.amount} if row.amount else {}
    accounts = {row.pk: row}
    for target, amount in _who_drew(row):
        parts = [(target, amount)]
        if target.kind == Kind.BATH and target.pk not in through:
            beyond = _carriers(target, through | {row.pk})
            if beyond:
                weights = split(amount, [weight for _, weight in beyond])
                parts = [(heir, part) for (heir, _), part in zip(beyond, weights, strict=True)]
        for heir, part in parts:
            found[heir.pk] = found.get(heir.pk, 0) + part
            accounts[heir.pk] = heir
    return [(accounts[pk], amount) for pk, amount in found.items() if amount]


def _who_drew(account: Account) -> list[Share]:
    """Net amounts that left this batch, by where they went: workpieces by name, pools as themselves."""
    by_entry: dict[int, list[Line]] = {}
    entries = Line.objects.filter(account=account, commodity=account.commodity).values("entry")
    for line in Line.objects.filter(entry__in=entries, commodity=account.commodity).select_related("account"):
        by_entry.setdefault(line.entry_id, []).append(line)
    went: dict[int, int] = {}
    for lines in by_entry.values():
        for line in lines:
            if line.account_id == account.pk or line.account.kind in (Kind.OUTSIDE, Kind.FOUND):
                continue
            target = line.towards_id or line.account_id
            went[target] = went.get(target, 0) + _our_part(account, lines, line.amount)
    rows = Account.objects.in_bulk([pk for pk, amount in went.items() if amount > 0])
    merged: dict[int, int] = {}
    heirs: dict[int, Account] = {}
    for pk in sorted(rows):
        heir = live(rows[pk])
        if heir.kind == Kind.GONE:
            heir = pool(Kind.SHRINKAGE)
        merged[heir.pk] = merged.get(heir.pk, 0) + went[pk]
        heirs[heir.pk] = heir
    return [(heirs[pk], amount) for pk, amount in merged.items()]


def _our_part(account: Account, lines: Sequence[Line], amount: int) -> int:
    """Of what reached one place in an entry that drew on several batches, the part that came out of this one.

    In a reversal all signs are turned, so the sources are simply the lines of the other sign; rounded toward
    nothing, so that a draw and its reversal leave exactly nothing.
    """
    sources = [line for line in lines if (line.amount < 0) == (amount > 0) and line.account.runs_out]
    total = abs(sum(line.amount for line in sources))
    ours = abs(sum(line.amount for line in sources if line.account_id == account.pk))
    part = abs(amount) * ours // total if total else 0
    return part if amount > 0 else -part


def _bearable(shares: Sequence[Share], worths: Sequence[int], component: Component) -> tuple[int, ...]:
    """Parts of a refund cut down to what lies on each: a drawer may have handed its cost on since."""
    sums = dict(
        Line.objects.filter(account__in=[target.pk for target, _ in shares], component=component)
        .values_list("account")
        .annotate(total=Sum("value_micro"))
        .order_by()
    )
    room = [
        target.value_micro if target.kind in RUNS_OUT_BY_AMOUNT else sums.get(target.pk, 0) for target, _ in shares
    ]
    return tuple(max(worth, -max(most, 0)) for worth, most in zip(worths, room, strict=True))
