"""The verbs of the journal. Every other room changes money and materials through these, and only these."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from studio.craft.costing import draw_value, split
from studio.fields.models import Submission
from studio.ledger.accounts import (
    Account,
    Commodity,
    Component,
    Kind,
    Measure,
    open_account,
    pool,
)
from studio.ledger.errors import AlreadyReversed, CannotReverse, RanOutLater, RunsOut, WrongAccount
from studio.ledger.journal import BooksClosed, Entry, Leg, Line, Posted, lock, post

__all__ = [
    "Draw",
    "Leg",
    "Posted",
    "charge",
    "close_account",
    "close_books",
    "draw_legs",
    "live",
    "lock",
    "new_commodity",
    "open_account",
    "pay_bill",
    "pool",
    "post",
    "receive",
    "reopen_account",
    "reverse",
    "share_legs",
    "spread_late_cost",
    "use_up",
]

MOST_SUCCESSORS = 40


@dataclass(frozen=True)
class Draw:
    """So much (milligrams or thousandths) out of one batch or bath, as this component."""

    account: Account
    amount: int
    component: Component


def new_commodity(*, counted: bool = False) -> Commodity:
    """A new kind of thing for the journal to count: weighed in milligrams, or counted in thousandths."""
    return Commodity.objects.create(measure=Measure.COUNTED if counted else Measure.WEIGHED)


def receive(
    *,
    account: Account,
    amount: int,
    value: int,
    component: Component,
    at: datetime,
    paid_from: Account | Kind = Kind.CASH,
    kind: str = "buy",
    by: object = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Posted:
    """Will put an amount with its value (millionths) into a batch; the money comes from `paid_from`."""
    return post(
        kind=kind,
        at=at,
        by=by,
        submission=submission,
        now=now,
        legs=[
            Leg(account, component, value=value, amount=amount, commodity=account.commodity),
            Leg(Kind.OUTSIDE, component, amount=-amount, commodity=account.commodity),
            Leg(paid_from, Component.MONEY, value=-value),
        ],
    )


def draw_legs(
    draws: Sequence[Draw], shares: Sequence[tuple[Account, int]], held: Mapping[int, Account]
) -> list[Leg]:
    """Legs that take draws out at their cost and charge them to accounts by weight.

    `held` comes from `lock`. Value is value_left × n // amount_left, the last unit takes the rest, so draws on
    one batch commute. Amounts and values are shared by largest remainder. Several draws on one account are
    taken one after another. Raises RunsOut where a batch can't cover its draw.
    """
    legs: list[Leg] = []
    left = {pk: [row.amount, row.value_micro] for pk, row in held.items()}
    weights = [weight for _, weight in shares]
    for draw in draws:
        has = left[draw.account.pk]
        if draw.amount > has[0]:
            raise RunsOut(draw.account, has=has[0], wants=draw.amount)
        value = draw_value(has[1], has[0], draw.amount)
        has[0] -= draw.amount
        has[1] -= value
        legs.append(
            Leg(draw.account, draw.component, -value, -draw.amount, commodity=draw.account.commodity)
        )
        for (target, _), amount, worth in zip(
            shares, split(draw.amount, weights), split(value, weights), strict=True
        ):
            legs.append(
                Leg(
                    Kind.USED_UP,
                    draw.component,
                    amount=amount,
                    commodity=draw.account.commodity,
                    towards=target,
                )
            )
            legs.append(Leg(target, draw.component, value=worth))
    return legs


def use_up(
    *,
    draws: Sequence[Draw],
    shares: Sequence[tuple[Account, int]],
    at: datetime,
    kind: str = "draw",
    step: str = "",
    by: object = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Posted:
    """Will draw materials and charge them, at cost, to the workpieces in `shares` by weight, in one entry."""
    with transaction.atomic():
        held = lock([*(draw.account for draw in draws), *(target for target, _ in shares)])
        legs = draw_legs(draws, shares, held)
        return post(kind=kind, legs=legs, at=at, step=step, by=by, submission=submission, now=now)


def charge(
    *,
    account: Account,
    values: Mapping[Component, int],
    against: Mapping[Component, Account | Kind],
    at: datetime,
    kind: str,
    step: str = "",
    by: object = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Posted:
    """Will add values by component to an account (a closed one hands them to its successor), each against a pool."""
    target = live(account)
    legs = [leg for part, value in values.items() for leg in _pair(target, against[part], part, value)]
    return post(kind=kind, legs=legs, at=at, step=step, by=by, submission=submission, now=now)


def _pair(target: Account, against: Account | Kind, part: Component, value: int) -> list[Leg]:
    return [Leg(target, part, value=value), Leg(against, part, value=-value)]


def share_legs(
    source: Account, shares: Sequence[tuple[Account | Kind, int]], parts: Mapping[Component, int]
) -> list[Leg]:
    """Legs that hand the components in `parts` from one account to others by weight, component by component."""
    legs: list[Leg] = []
    weights = [weight for _, weight in shares]
    for part, value in parts.items():
        if not value:
            continue
        legs.append(Leg(source, part, value=-value))
        for (target, _), worth in zip(shares, split(value, weights), strict=True):
            legs.append(Leg(target, part, value=worth))
    return legs


def live(account: Account) -> Account:
    """The open account that stands for this one: itself, or the last of its successors."""
    seen = 0
    while account.closed_at is not None:
        assert account.successor is not None
        account, seen = account.successor, seen + 1
        if seen > MOST_SUCCESSORS:
            raise WrongAccount("These accounts name each other as successors without end.")
    return account


def close_account(*, account: Account, successor: Account | Kind, at: datetime) -> None:
    """Will close an emptied account and name who takes what comes late. Raises if anything is left in it."""
    with transaction.atomic():
        row = lock([account])[account.pk]
        if row.closed_at is not None:
            raise WrongAccount(f"{row} is closed already.")
        if row.value_micro or row.amount:
            raise WrongAccount(f"{row} still holds something; it can't be closed.")
        heir = successor if isinstance(successor, Account) else pool(successor)
        Account.objects.filter(pk=row.pk).update(closed_at=at, successor=heir)
        account.closed_at, account.successor = at, heir


def reopen_account(*, account: Account) -> None:
    """Will open a closed account again, for what comes back (a sale reversed, a lost number found)."""
    Account.objects.filter(pk=account.pk).update(closed_at=None, successor=None)
    account.closed_at, account.successor = None, None


def reverse(
    *,
    entry_id: int,
    at: datetime,
    by: object = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Posted:
    """Will undo one entry by its mirror image, once. Refused where what came of it has gone on since."""
    with transaction.atomic():
        entry = Entry.objects.select_for_update().get(pk=entry_id)
        if entry.reverses_id:
            raise AlreadyReversed("That entry is itself a reversal. Enter what is right as a new one.")
        if Entry.objects.filter(reverses=entry).exists():
            raise AlreadyReversed("That was taken back before; nothing was changed now.")
        lines = Line.objects.filter(entry=entry).select_related("account", "commodity", "towards")
        legs = [
            Leg(
                line.account,
                Component(line.component),
                -line.value_micro,
                -line.amount,
                line.commodity,
                line.towards,
            )
            for line in lines
        ]
        try:
            return post(
                kind="reversal",
                legs=legs,
                at=at,
                step=entry.step,
                by=by,
                reverses_id=entry.pk,
                corrects_id=entry.pk,
                submission=submission,
                now=now,
            )
        except (RunsOut, RanOutLater, WrongAccount) as stop:
            raise CannotReverse(
                "What came of that entry has gone on since, so it can't be taken back. "
                "Enter the difference as an adjustment dated today.",
                code="adjust",
            ) from stop


def spread_late_cost(
    *,
    account: Account,
    value: int,
    component: Component,
    at: datetime,
    paid_from: Account | Kind = Kind.CASH,
    kind: str = "late_cost",
    corrects_id: int | None = None,
    by: object = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Posted:
    """Will share a late bill (or, below nothing, a refund) on a batch between what is left and all who drew on it.

    By net amounts, dated today. A drawer that is closed hands its share to its successor: the cost of sales
    where the piece was sold, the losses where it was lost.
    """
    with transaction.atomic():
        held = lock([account])
        if not held:
            raise WrongAccount("A late cost is spread over a batch or a bath.")
        shares: list[tuple[Account | Kind, int]] = []
        if held[account.pk].amount:
            shares.append((account, held[account.pk].amount))
        shares += _who_drew(account)
        if not shares:
            raise WrongAccount("Nothing was ever in that batch; the cost has nowhere to go.")
        worths = split(value, [weight for _, weight in shares])
        legs = [Leg(target, component, value=worth) for (target, _), worth in zip(shares, worths, strict=True)]
        legs.append(Leg(paid_from, Component.MONEY, value=-value))
        return post(
            kind=kind, legs=legs, at=at, by=by, corrects_id=corrects_id, submission=submission, now=now
        )


def _who_drew(account: Account) -> list[tuple[Account | Kind, int]]:
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
    heirs: dict[int, Account | Kind] = {}
    for pk in sorted(rows):
        heir = live(rows[pk])
        merged[heir.pk] = merged.get(heir.pk, 0) + went[pk]
        heirs[heir.pk] = Kind.SHRINKAGE if heir.kind == Kind.GONE else heir
    return [(heirs[pk], amount) for pk, amount in merged.items()]


def _our_part(account: Account, lines: Sequence[Line], amount: int) -> int:
    """Of what reached one place in an entry that drew on several batches, the part that came out of this one.

    In a reversal all signs are turned, so the sources are simply the lines of the other sign.
    """
    sources = [line for line in lines if (line.amount < 0) == (amount > 0) and line.account.runs_out]
    total = sum(line.amount for line in sources)
    ours = sum(line.amount for line in sources if line.account_id == account.pk)
    return amount * ours // total if total else 0


BILLS = {
    Kind.ENERGY: Component.ENERGY,
    Kind.OVERHEAD: Component.OVERHEAD,
    Kind.PAID_LABOUR: Component.PAID_LABOUR,
    Kind.SELLING_COST: Component.MONEY,
}


def pay_bill(
    *,
    what: Kind,
    value: int,
    at: datetime,
    by: object = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Posted:
    """Will pay a bill for power, overhead, wages or selling out of cash.

    It fills the pool that the hours empty, so that nothing is counted twice: what stays in the pool is the
    power, overhead or wages that no workpiece carried (IAS 2 paragraph 13: an expense of the period).
    """
    if what not in BILLS:
        raise WrongAccount("A bill is for power, overhead, wages or selling.")
    return post(
        kind="wages" if what == Kind.PAID_LABOUR else "bill",
        legs=[Leg(what, BILLS[what], value=value), Leg(Kind.CASH, Component.MONEY, value=-value)],
        at=at,
        by=by,
        submission=submission,
        now=now,
    )


def close_books(*, until: date, at: datetime, by: object = None) -> None:
    """Will refuse from now on whatever is dated on or before `until`. It can be moved on, never back."""
    with transaction.atomic():
        newest = BooksClosed.objects.order_by("-pk").first()
        if newest and until < newest.until:
            raise WrongAccount(f"The books are closed up to {newest.until:%d %B %Y} already; that stays.")
        BooksClosed.objects.create(until=until, at=at, by=by)


def closed_until() -> date | None:
    return BooksClosed.objects.order_by("-pk").values_list("until", flat=True).first()


