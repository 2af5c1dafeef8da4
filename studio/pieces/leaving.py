"""What is asked for a piece, and the ways out that are no sale."""

from datetime import datetime

from django.db import transaction

from studio.fields.models import Submission
from studio.fields.quantity import show
from studio.ledger import operations as ledger
from studio.ledger.accounts import Kind
from studio.ledger.queries import cost_of
from studio.people import settings as studio_settings
from studio.people.models import User
from studio.pieces import guards, typed
from studio.pieces.asking import way
from studio.pieces.errors import BelowLowest, HeldForSomeone, NotAsThingsStand, NotLikeThat
from studio.pieces.models import WORDS_LENGTH, AskingPrice, Piece, WayOut
from studio.work.models import ClosedAs


def set_asking_price(
    *,
    piece: Piece,
    amount_micro: int,
    at: datetime,
    reason: str = "",
    lowest_micro: int | None = None,
    by: User | None = None,
    now: datetime | None = None,
) -> AskingPrice:
    """Will ask this much from now on, before tax: in whole coins, or what `asking.Way.before` makes of a price with
    tax in whole coins. What was asked before stays to be seen.

    `lowest_micro` is the lowest ask of the day (`pricing.offers.offer`). Below it a reason in words is wanted:
    raises `BelowLowest` (field and code "reason") without one.
    """
    said = way(studio_settings.local_date(at))
    amount = typed.price(amount_micro, said)
    why = typed.words(reason, "reason", most=WORDS_LENGTH)
    below = lowest_micro is not None and amount < lowest_micro
    if below and not why:
        least = show(said.shown(lowest_micro or 0), "money")
        raise BelowLowest(
            f"That is below the lowest ask, {least}: it would cost you money. "
            "Ask more, or say why.",
            field="reason",
            code="reason",
        )
    with transaction.atomic():
        row = typed.held(piece)
        typed.check_time(row, at, now)
        return AskingPrice.objects.create(
            piece=row,
            amount_micro=amount,
            reason=why,
            lowest_micro=lowest_micro,
            below_lowest=below,
            at=at,
            by=by,
        )


def withdraw_price(
    *, piece: Piece, at: datetime, reason: str = "", by: User | None = None, now: datetime | None = None
) -> AskingPrice:
    """Will take a piece off sale: from now on nothing is asked for it. Raises where nothing is."""
    why = typed.words(reason, "reason", most=WORDS_LENGTH)
    with transaction.atomic():
        row = typed.held(piece)
        typed.check_time(row, at, now)
        newest = row.asking_prices.last()
        if newest is None or newest.amount_micro is None:
            raise NotAsThingsStand("Nothing is asked for it as it is.", code="not_priced")
        return AskingPrice.objects.create(piece=row, amount_micro=None, reason=why, at=at, by=by)


def let_go(
    *,
    piece: Piece,
    how: str,
    at: datetime,
    words: str = "",
    ref: str = "",
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Piece:
    """Will let a piece go without a sale: a gift, kept, donated, a sample, own use. Its cost goes with it.

    A piece held for someone leaves only with the holder's own mark (`ref`); one that is a client's own is
    given back instead. Rooms above may refuse too (`guards`): one that stands at a gallery comes back first.
    """
    if how not in WayOut.values:
        raise NotLikeThat("Choose one of the ways out.", field="how")
    kept = typed.words(words, "words", most=WORDS_LENGTH)
    with transaction.atomic():
        row = typed.held(piece)
        typed.check_time(row, at, now)
        workpiece = row.workpiece
        if workpiece.hold_ref and workpiece.hold_ref != ref:
            raise HeldForSomeone(f"It is held: {workpiece.hold_reason}. Release it there first.", code="held")
        if workpiece.client_owned:
            raise NotAsThingsStand("The wood is the client's own. Give it back to them instead.", code="clients")
        for check in guards.leaving:
            check(row)
        workpiece.account = ledger.lock([workpiece.account])[workpiece.account_id]
        parts = cost_of(workpiece.account).parts
        entry_id = None
        if any(parts.values()):
            entry_id = ledger.post(
                kind="way_out",
                legs=ledger.share_legs(workpiece.account, [(Kind.GIVEN_AWAY, 1)], parts),
                at=at,
                by=by,
                submission=submission,
                now=now,
            ).entry_id
        ledger.close_account(account=workpiece.account, successor=Kind.GIVEN_AWAY, at=at)
        workpiece.closed_at, workpiece.closed_as = at, ClosedAs.LEFT
        workpiece.hold_reason = workpiece.hold_ref = ""
        workpiece.save(update_fields=["closed_at", "closed_as", "hold_reason", "hold_ref"])
        row.way_out, row.way_out_at, row.way_out_words = how, at, kept
        row.way_out_entry_id = entry_id  # type: ignore[attr-defined]
        row.save()
        return row


def come_back(
    *,
    piece: Piece,
    at: datetime,
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Piece:
    """Will take a way out back: the piece is on the shelf again at what it had cost.

    Costs that came late, while it was away, stay where they went.
    """
    with transaction.atomic():
        row = typed.locked(piece)
        workpiece = row.workpiece
        if not row.way_out or workpiece.closed_as != ClosedAs.LEFT:
            raise NotAsThingsStand("It has not left without a sale, so there is nothing to take back.")
        ledger.reopen_account(account=workpiece.account)
        if row.way_out_entry_id:  # type: ignore[attr-defined]
            ledger.reverse(
                entry_id=row.way_out_entry_id,  # type: ignore[attr-defined]
                at=at,
                by=by,
                submission=submission,
                now=now,
            )
        workpiece.closed_at, workpiece.closed_as = None, ""
        workpiece.save(update_fields=["closed_at", "closed_as"])
        row.way_out, row.way_out_at, row.way_out_words, row.way_out_entry = "", None, "", None
        row.save()
        return row
