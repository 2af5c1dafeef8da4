"""A piece sold, and a sale taken back. One entry holds all of it: price, share, tax, fee, what is owed, the cost."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db import IntegrityError, transaction

from studio.fields.listing import listed
from studio.fields.models import Submission
from studio.ledger import operations as ledger
from studio.ledger.accounts import Account, Component, Kind
from studio.ledger.operations import Leg
from studio.ledger.queries import Cost, balances, cost_of
from studio.people import settings as studio_settings
from studio.people.models import Client, User
from studio.people.roles import require
from studio.pieces.models import Piece
from studio.selling import typed
from studio.selling.errors import CannotSell, CannotTakeBack, NotThere
from studio.selling.models import NOTE_LENGTH, WHY_LENGTH, Gallery, Placement, Sale
from studio.selling.operations.galleries import held_gallery
from studio.selling.operations.payments import account_of_client
from studio.selling.operations.placing import end, held_pieces, left_the_shop, open_placement
from studio.selling.terms import Terms, part_in_coins, terms_on
from studio.work.models import ClosedAs

SOLD_WORD = "sold"


@dataclass(frozen=True)
class _Deal:
    """The money of one sale, in whole coins."""

    price: int
    tax: int
    share_ppm: int
    share: int
    card_fee: int
    other: int
    deposit: int

    @property
    def to_pay(self) -> int:
        """What the buyer or the gallery has to hand over to us."""
        return self.price + self.tax - self.share - self.deposit


def sell(
    *,
    piece: Piece,
    price_micro: int,
    at: datetime,
    by: User,
    gallery: Gallery | None = None,
    client: Client | None = None,
    card: bool = False,
    paid_now: bool = True,
    tax_micro: int | None = None,
    card_fee_micro: int | None = None,
    other_cost_micro: int = 0,
    deposit_account: Account | None = None,
    deposit_micro: int = 0,
    ref: str = "",
    note: str = "",
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Sale:
    """Will sell a finished piece, from the shelf or out of a gallery that has it, in one entry.

    `price_micro` is before tax. The gallery's share is that of the day; a gallery owes us the rest. From the
    shelf the money comes in at once, or, not `paid_now`, the client owes it. Tax and card fee are reckoned by
    the settings of the day unless given (`people.settings.MissingSetting` where those are asked for first).
    What the piece had cost, by component, becomes cost of sales and its account is closed: a late cost
    follows it there. A deposit held for the buyer is taken in. `ref` is the mark the piece is kept under.
    """
    require(by, "sell")
    _refuse_odd(gallery, client, card, paid_now, deposit_micro)
    typed.money(price_micro, "price", at_least=1, missing="Give the price. What leaves for nothing isn't a sale.")
    said = typed.words(note, "note", most=NOTE_LENGTH, lines=True)
    with transaction.atomic():
        (row,) = held_pieces([piece])
        placement = _refuse_unless_sellable(row, gallery, client, ref, at)
        on = studio_settings.local_date(at)
        terms = terms_on(held_gallery(gallery), on) if gallery else None
        deal = _deal(price_micro, on, terms, card, tax_micro, card_fee_micro, other_cost_micro, deposit_micro)
        if deposit_account is not None:
            _refuse_unless_held(deposit_account, deposit_micro)
        debtor = _debtor(gallery, client, paid_now)
        account = row.workpiece.account = ledger.lock([row.workpiece.account])[row.workpiece.account_id]
        cost = cost_of(account)
        legs = [*_money_legs(deal, debtor, deposit_account), *_cost_legs(account, cost)]
        posted = ledger.post(kind="sale", legs=legs, at=at, by=by, submission=submission, now=now)
        _leave(row, at)
        if placement:
            end(placement, why=SOLD_WORD, at=at, by=by)
        return _stored(
            Sale(
                piece=row,
                gallery=gallery,
                client=client,
                placement=placement,
                sold_at=at,
                sold_on=on,
                due_on=terms.due_on(on) if terms else None,
                card=card,
                paid_now=debtor is None,
                note=said,
                ref=ref,
                entry_id=posted.entry_id,
                by=by,
                **_figures(deal, cost, owed=debtor is not None),
            )
        )


def take_back_sale(
    *,
    sale: Sale,
    why: str,
    at: datetime,
    by: User,
    still_there: bool = False,
    ref: str = "",
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Sale:
    """Will undo a sale: its entry is reversed and the piece, with its cost, is ours again.

    It is back on the shelf, or, `still_there`, at the gallery as if it had never been sold. A deposit that
    was taken in is held again. Money the gallery had paid stands to its credit.
    """
    require(by, "sell")
    words = typed.words(why, "why", most=WHY_LENGTH, missing="Say in a word why the sale is taken back.")
    with transaction.atomic():
        sale = Sale.objects.select_related("piece", "placement__gallery").get(pk=sale.pk)
        (row,) = held_pieces([sale.piece])
        sale.refresh_from_db(fields=["taken_back_at"])
        if sale.taken_back_at is not None:
            raise CannotTakeBack("That sale was taken back already. Nothing was changed.")
        if sale.ref != ref:
            raise CannotTakeBack(f"{row} was delivered as a commission. Take it back there.", code="commission")
        if still_there and sale.placement is None:
            raise CannotTakeBack(f"{row} was sold from the shelf, so it can only go back there.", field="still_there")
        work = row.workpiece
        ledger.reopen_account(account=work.account)
        posted = ledger.reverse(entry_id=sale.entry_id, at=at, by=by, submission=submission, now=now)
        work.closed_at, work.closed_as = None, ""
        work.save(update_fields=["closed_at", "closed_as"])
        if still_there and sale.placement is not None:
            _as_before(sale.placement)
            sale.placement = None
        sale.taken_back_at, sale.taken_back_why = at, words
        sale.taken_back_entry_id = posted.entry_id  # type: ignore[attr-defined]
        sale.save(update_fields=["taken_back_at", "taken_back_why", "taken_back_entry", "placement"])
        return sale


def _refuse_odd(
    gallery: Gallery | None, client: Client | None, card: bool, paid_now: bool, deposit_micro: int
) -> None:
    if gallery and (card or deposit_micro):
        raise CannotSell(
            "The gallery takes the money for what it sells. Sell from the studio for a card or a deposit.",
            field="card" if card else "deposit",
        )
    if card and not paid_now:
        raise CannotSell("What is paid by card is paid at once. Choose one of the two.", field="paid_now")
    if not gallery and not paid_now and client is None:
        raise CannotSell("Say who will owe the money, or take it now.", field="client")


def _refuse_unless_sellable(
    piece: Piece, gallery: Gallery | None, client: Client | None, ref: str, at: datetime
) -> Placement | None:
    """The placement the sale will end, or None from the shelf. Raises where the piece can't be sold like that."""
    gone = left_the_shop(piece)
    if gone:
        raise CannotSell(f"{gone} Nothing was changed.", code="gone")
    work, stands = piece.workpiece, open_placement(piece)
    if stands and (gallery is None or stands.gallery_id != gallery.pk):
        raise NotThere(
            f"{piece} is with {stands.gallery}. Sell it from there, or take it back first.", field="gallery"
        )
    if gallery and stands is None:
        raise NotThere(f"{piece} isn't with {gallery}. Leave it there first, or sell it from the studio.")
    if work.held and work.hold_ref != ref:
        raise CannotSell(f"{piece} is kept: {work.hold_reason}. Let go of it there first.", code="held")
    if work.client_owned and (client is None or client.pk != work.owner_id):
        raise CannotSell(f"{piece} is the client's own wood. Only its owner can be charged for it.", field="client")
    if piece.finished_at is None:
        raise CannotSell(f"{piece} isn't finished: it is still to be {listed(piece.ticks_missing)}.")
    if at < piece.finished_at:
        raise CannotSell(
            f"{piece} was finished on {piece.finished_at:%d %B %Y, %H:%M} only. Give a later time.", field="at"
        )
    return stands


def _deal(
    price: int,
    on: date,
    terms: Terms | None,
    card: bool,
    tax: int | None,
    card_fee: int | None,
    other: int,
    deposit: int,
) -> _Deal:
    """Figure out the money. A gallery that collects the tax keeps it out of these books."""
    if terms and terms.collects_tax:
        if tax:
            raise CannotSell("This gallery hands the tax on itself; leave the tax at nothing.", field="tax")
        tax = 0
    elif tax is None:
        tax = part_in_coins(price, studio_settings.value("sales_tax_ppm", on))
    share = part_in_coins(price, terms.share_ppm) if terms else 0
    typed.money(tax, "tax")
    typed.money(other, "other_cost")
    typed.money(deposit, "deposit")
    if deposit > price + tax:
        raise CannotSell("The deposit is more than the price. Give the rest of it back first.", field="deposit")
    if card and card_fee is None:
        card_fee = part_in_coins(price + tax - deposit, studio_settings.value("card_fee_ppm", on))
    return _Deal(
        price=price,
        tax=tax,
        share_ppm=terms.share_ppm if terms else 0,
        share=share,
        card_fee=typed.money(card_fee or 0, "card_fee"),
        other=other,
        deposit=deposit,
    )


def _refuse_unless_held(deposit_account: Account, deposit: int) -> None:
    Account.objects.select_for_update().get(pk=deposit_account.pk)
    if deposit_account.kind != Kind.DEPOSIT or -balances([deposit_account.pk]).get(deposit_account.pk, 0) < deposit:
        raise CannotSell("No deposit as large as that is held. Look at it again.", field="deposit")


def _debtor(gallery: Gallery | None, client: Client | None, paid_now: bool) -> Account | None:
    """Who owes what is to pay; None where the money comes in at once."""
    if gallery is not None:
        return gallery.account
    if paid_now:
        return None
    assert client is not None
    return account_of_client(client)


def _figures(deal: _Deal, cost: Cost, *, owed: bool) -> dict[str, int]:
    """The sale's columns of money."""
    return {
        "price_micro": deal.price,
        "tax_micro": deal.tax,
        "share_ppm": deal.share_ppm,
        "share_micro": deal.share,
        "card_fee_micro": deal.card_fee,
        "other_cost_micro": deal.other,
        "deposit_used_micro": deal.deposit,
        "owed_micro": deal.to_pay if owed else 0,
        "cost_micro": cost.all_in,
        "paid_out_micro": cost.paid_out,
    }


def _money_legs(deal: _Deal, debtor: Account | None, deposit_account: Account | None) -> list[Leg]:
    money = Component.MONEY
    spent = deal.card_fee + deal.other
    legs = [
        Leg(Kind.REVENUE, money, value=-deal.price),
        Leg(Kind.SALES_TAX, money, value=-deal.tax),
        Leg(Kind.GALLERY_SHARE, money, value=deal.share),
        Leg(Kind.SELLING_COST, money, value=spent),
        Leg(Kind.CASH, money, value=-spent),
        Leg(debtor or Kind.CASH, money, value=deal.to_pay),
    ]
    if deal.deposit:
        if deposit_account is None:
            raise CannotSell("Say which deposit is taken in.", field="deposit")
        legs.append(Leg(deposit_account, money, value=deal.deposit))
    return legs


def _cost_legs(account: Account, cost: Cost) -> list[Leg]:
    return ledger.share_legs(account, [(Kind.COST_OF_SALES, 1)], cost.parts)


def _leave(piece: Piece, at: datetime) -> None:
    work = piece.workpiece
    ledger.close_account(account=work.account, successor=Kind.COST_OF_SALES, at=at)
    work.closed_at, work.closed_as = at, ClosedAs.SOLD
    work.hold_reason = work.hold_ref = ""
    work.save(update_fields=["closed_at", "closed_as", "hold_reason", "hold_ref"])


def _stored(sale: Sale) -> Sale:
    try:
        with transaction.atomic():
            sale.save(force_insert=True)
    except IntegrityError as error:
        raise CannotSell(f"{sale.piece} was sold in the same moment, from another screen.", code="gone") from error
    return sale


def _as_before(placement: Placement) -> None:
    placement.back_at = placement.back_on = placement.back_by = None
    placement.back_why = ""
    placement.save(update_fields=["back_at", "back_on", "back_by", "back_why"])
