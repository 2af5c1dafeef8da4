"""A deposit is the client's money until the piece is delivered: held, given back, or kept where that was agreed."""

from datetime import datetime

from django.db import transaction

from studio.commissions.errors import DepositTrouble
from studio.commissions.models import WORDS_LENGTH, Commission, CommissionEvent, State, What
from studio.commissions.trail import deposit_held, held, money, note_down, words, written
from studio.fields.models import Submission
from studio.ledger.accounts import Component, Kind
from studio.ledger.operations import Leg, Posted, post
from studio.people.models import User
from studio.people.roles import require


def take_deposit(
    *,
    commission: Commission,
    amount_micro: int,
    at: datetime,
    by: User,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> CommissionEvent:
    """Will take a deposit in, in whole coins, up to the price agreed. It is owed to the client until delivery."""
    require(by, "sell")
    money(amount_micro, "amount", at_least=1)
    with transaction.atomic():
        row = held(commission, State.AGREED)
        already = deposit_held(row)
        assert row.price_micro is not None
        if already + amount_micro > row.price_micro:
            has = f", and {written(already)} of it is paid" if already else ""
            raise DepositTrouble(
                f"The price is {written(row.price_micro)}{has}. Take no more than that as a deposit.", field="amount"
            )
        posted = _moved(row, amount_micro, "deposit", Kind.CASH, at, by, submission, now)
        return note_down(row, What.DEPOSIT, at=at, by=by, amount_micro=amount_micro, entry_id=posted.entry_id)


def give_deposit_back(
    *,
    commission: Commission,
    amount_micro: int,
    at: datetime,
    by: User,
    why: str = "",
    submission: Submission | None = None,
    now: datetime | None = None,
) -> CommissionEvent:
    """Will give a deposit, or part of it, back to the client."""
    require(by, "sell")
    money(amount_micro, "amount", at_least=1)
    said = words(why, "why", most=WORDS_LENGTH)
    with transaction.atomic():
        row = held(commission)
        _refuse_more_than_held(row, amount_micro)
        posted = _moved(row, -amount_micro, "deposit_back", Kind.CASH, at, by, submission, now)
        return note_down(
            row, What.DEPOSIT_BACK, at=at, by=by, words=said, amount_micro=amount_micro, entry_id=posted.entry_id
        )


def keep_deposit(
    *,
    commission: Commission,
    amount_micro: int,
    why: str,
    at: datetime,
    by: User,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> CommissionEvent:
    """Will keep a deposit, or part of it, as agreed with the client: it becomes a sale of nothing. Wants words."""
    require(by, "sell")
    money(amount_micro, "amount", at_least=1)
    said = words(why, "why", most=WORDS_LENGTH, missing="Say why the deposit is kept, as it was agreed.")
    with transaction.atomic():
        row = held(commission)
        _refuse_more_than_held(row, amount_micro)
        posted = _moved(row, -amount_micro, "deposit_kept", Kind.REVENUE, at, by, submission, now)
        return note_down(
            row, What.DEPOSIT_KEPT, at=at, by=by, words=said, amount_micro=amount_micro, entry_id=posted.entry_id
        )


def _refuse_more_than_held(row: Commission, amount: int) -> None:
    has = deposit_held(row)
    if amount > has:
        raise DepositTrouble(
            f"{written(has)} is held for commission {row.number}, no more."
            if has
            else f"No deposit is held for commission {row.number}.",
            field="amount",
        )


def _moved(
    row: Commission,
    amount: int,
    kind: str,
    other: Kind,
    at: datetime,
    by: User,
    submission: Submission | None,
    now: datetime | None,
) -> Posted:
    """Post an amount onto the deposit from the other side, or, below nothing, off it."""
    return post(
        kind=kind,
        legs=[
            Leg(row.deposit_account, Component.MONEY, value=-amount),
            Leg(other, Component.MONEY, value=amount),
        ],
        at=at,
        by=by,
        submission=submission,
        now=now,
    )
