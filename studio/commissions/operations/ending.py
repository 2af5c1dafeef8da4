"""Delivered, which is a sale that takes the deposit in; or called off, and what becomes of the deposit."""

from datetime import datetime
from typing import Any

from django.db import transaction

from studio.commissions.errors import DepositTrouble
from studio.commissions.models import WORDS_LENGTH, Commission, State, What
from studio.commissions.operations.deposits import give_deposit_back, keep_deposit
from studio.commissions.trail import deposit_held, held, money, note_down, past, words, written
from studio.fields.models import Submission
from studio.people.models import User
from studio.people.roles import require
from studio.pieces.models import Piece
from studio.selling import operations as selling
from studio.work import operations as work


def deliver(
    *,
    commission: Commission,
    piece: Piece,
    at: datetime,
    by: User,
    paid_now: bool = True,
    card: bool = False,
    tax_micro: int | None = None,
    card_fee_micro: int | None = None,
    other_cost_micro: int = 0,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Commission:
    """Will hand the piece over at the price agreed: a sale to the client, the deposit taken in.

    The rest is paid now, or the client owes it. Whatever else was set aside is let go. Raises as
    `selling.sell` does, and where the piece is set aside for somebody else.
    """
    require(by, "sell")
    with transaction.atomic():
        row = held(commission, State.AGREED)
        assert row.price_micro is not None
        sale = selling.sell(
            piece=piece,
            price_micro=row.price_micro,
            client=row.client,
            deposit_account=row.deposit_account,
            deposit_micro=deposit_held(row),
            paid_now=paid_now,
            card=card,
            tax_micro=tax_micro,
            card_fee_micro=card_fee_micro,
            other_cost_micro=other_cost_micro,
            ref=row.ref,
            at=at,
            by=by,
            submission=submission,
            now=now,
        )
        work.release(ref=row.ref)
        row.sale, row.state, row.ended_at = sale, State.DELIVERED, at
        row.save(update_fields=["sale", "state", "ended_at"])
        note_down(
            row,
            What.DELIVERED,
            at=at,
            by=by,
            words=str(sale.piece),
            amount_micro=row.price_micro,
            entry_id=sale.entry_id,
        )
        return row


def take_back_delivery(
    *,
    commission: Commission,
    why: str,
    at: datetime,
    by: User,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Commission:
    """Will undo a delivery: the sale is taken back, the deposit is held again, the piece is set aside again."""
    require(by, "sell")
    with transaction.atomic():
        row = held(commission, State.DELIVERED)
        assert row.sale is not None
        sale = selling.take_back_sale(
            sale=row.sale, why=why, ref=row.ref, at=at, by=by, submission=submission, now=now
        )
        work.hold(workpiece=sale.piece.workpiece, reason=f"for commission {row.number}", ref=row.ref)
        row.sale, row.state, row.ended_at = None, State.AGREED, None
        row.save(update_fields=["sale", "state", "ended_at"])
        note_down(row, What.DELIVERY_BACK, at=at, by=by, words=sale.taken_back_why, entry_id=sale.taken_back_entry_id)
        return row


def call_off(
    *,
    commission: Commission,
    why: str,
    at: datetime,
    by: User,
    give_back_micro: int | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Commission:
    """Will end a commission without a piece. Of a deposit held, `give_back_micro` goes back, the rest is kept.

    Where a deposit is held it must be said what becomes of it (code "deposit"): nothing is decided silently.
    """
    require(by, "commissions")
    past(at, now)
    said = words(why, "why", most=WORDS_LENGTH, missing="Say in a word why it is called off.")
    with transaction.atomic():
        row = held(commission, State.ASKED, State.AGREED)
        has = deposit_held(row)
        if has and give_back_micro is None:
            raise DepositTrouble(
                f"A deposit of {written(has)} is held. Say how much of it goes back to the client.",
                field="give_back",
                code="deposit",
            )
        back = money(give_back_micro or 0, "give_back")
        if back > has:
            raise DepositTrouble(f"{written(has)} is held, no more can go back.", field="give_back")
        more: dict[str, Any] = {"at": at, "by": by, "why": said, "submission": submission, "now": now}
        if back:
            give_deposit_back(commission=row, amount_micro=back, **more)
        if has - back:
            keep_deposit(commission=row, amount_micro=has - back, **more)
        work.release(ref=row.ref)
        row.state, row.ended_at = State.CALLED_OFF, at
        row.save(update_fields=["state", "ended_at"])
        note_down(row, What.CALLED_OFF, at=at, by=by, words=said)
        return row
