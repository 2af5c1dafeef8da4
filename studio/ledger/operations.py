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
from studio.ledger.closing import close_account, live, reopen_account
from studio.ledger.errors import AlreadyReversed, CannotReverse, RanOutLater, RunsOut, WrongAccount
from studio.ledger.journal import BooksClosed, Entry, Leg, Line, Posted, lock, post
from studio.ledger.late import spread_late_cost
from studio.people import settings as studio_settings
from studio.people.models import User

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
    by: User | None = None,
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


def draw_legs(draws: Sequence[Draw], shares: Sequence[tuple[Account, int]], held: Mapping[int, Account]) -> list[Leg]:
    """Legs that take draws out at their cost and charge them to accounts by weight.

    `held` comes from `lock`. Value is value_left × n // amount_left, the last unit takes the rest, so draws
    on one batch commute. Amounts and values are shared by largest remainder. Several draws on one account are
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
        legs.append(Leg(draw.account, draw.component, -value, -draw.amount, commodity=draw.account.commodity))
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
    by: User | None = None,
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
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Posted:
    """Will add values by component to an account (a closed one: to its successor), each against a pool."""
    target = live(account)
    legs = [leg for part, value in values.items() for leg in _pair(target, against[part], part, value)]
    return post(kind=kind, legs=legs, at=at, step=step, by=by, submission=submission, now=now)


def _pair(target: Account, against: Account | Kind, part: Component, value: int) -> list[Leg]:
    return [Leg(target, part, value=value), Leg(against, part, value=-value)]


def share_legs(
    source: Account, shares: Sequence[tuple[Account | Kind, int]], parts: Mapping[Component, int]
) -> list[Leg]:
    """Legs that hand the components in `parts` from one account to others by weight, each for itself."""
    legs: list[Leg] = []
    weights = [weight for _, weight in shares]
    for part, value in parts.items():
        if not value:
            continue
        legs.append(Leg(source, part, value=-value))
        for (target, _), worth in zip(shares, split(value, weights), strict=True):
            legs.append(Leg(target, part, value=worth))
    return legs


def reverse(
    *,
    entry_id: int,
    at: datetime,
    by: User | None = None,
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
        if at < entry.effective_at:
            raise CannotReverse(
                "It can't be taken back before it happened. Give a later time.", field="at", code="too_early"
            )
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
    by: User | None = None,
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


def close_books(*, until: date, at: datetime, by: User | None = None) -> None:
    """Will refuse from now on whatever is dated on or before `until`. It can be moved on, never back."""
    if until >= studio_settings.local_date(at):
        raise WrongAccount("Only days that are over can be closed. Give yesterday or an earlier day.", field="until")
    with transaction.atomic():
        newest = BooksClosed.objects.order_by("-pk").first()
        if newest and until < newest.until:
            raise WrongAccount(f"The books are closed up to {newest.until:%d %B %Y} already; that stays.")
        BooksClosed.objects.create(until=until, at=at, by=by)


def closed_until() -> date | None:
    return BooksClosed.objects.order_by("-pk").values_list("until", flat=True).first()
