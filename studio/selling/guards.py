"""What this room asks of the rooms below: who can't be erased, what can't leave, what the audit looks at too."""

from collections.abc import Iterator

from studio.fields.errors import Refused
from studio.fields.quantity import show
from studio.ledger import queries as ledger
from studio.ledger.accounts import Kind
from studio.people import settings as studio_settings
from studio.people.models import Client, Contact
from studio.pieces.models import Piece
from studio.selling.errors import NotThere
from studio.selling.models import ClientAccount, Payment, Placement, Sale

BATCH = 500


def refuse_erasing_debtor(contact: Contact) -> None:
    """Raise where money is still owed between us and a client who is about to be erased."""
    if not isinstance(contact, Client):
        return
    account = ClientAccount.objects.filter(client=contact).values_list("account", flat=True).first()
    owed = ledger.balances([account]).get(account, 0) if account else 0
    if owed:
        amount = show(abs(owed), "money", formats=studio_settings.formats())
        raise Refused(
            f"{contact} still owes {amount}. Take the payment first."
            if owed > 0
            else f"{amount} still stands to the credit of {contact}. Pay it back first."
        )


def refuse_leaving_while_away(piece: Piece) -> None:
    """Raise where a piece about to be given away, or to be unfinished again, stands at a gallery."""
    placement = Placement.objects.open().filter(piece=piece).select_related("gallery").first()
    if placement:
        raise NotThere(f"{piece} is with {placement.gallery}. Take it back first.")


def differences() -> Iterator[str]:
    """What the rows of this room say against what their entries say, one sentence for each difference."""
    yield from _sales_against_entries()
    yield from _payments_against_entries()
    for placement in Placement.objects.open().filter(piece__sales__taken_back_at__isnull=True, piece__sales__gte=1):
        yield f"placement {placement.pk} is open, and its piece is sold."


def _sales_against_entries() -> Iterator[str]:
    """Price, tax, share, fees and cost of each sale are the sums its entry has on those pools."""
    for sale, sums in _with_sums(Sale.objects.order_by("pk")):
        spent = sale.card_fee_micro + sale.other_cost_micro
        debt = sums.get(Kind.GALLERY_OWES, 0) + sums.get(Kind.CLIENT_OWES, 0)
        for words, says, has in (
            ("price", sale.price_micro, -sums.get(Kind.REVENUE, 0)),
            ("tax", sale.tax_micro, -sums.get(Kind.SALES_TAX, 0)),
            ("gallery's share", sale.share_micro, sums.get(Kind.GALLERY_SHARE, 0)),
            ("cost of selling", spent, sums.get(Kind.SELLING_COST, 0)),
            ("deposit", sale.deposit_used_micro, sums.get(Kind.DEPOSIT, 0)),
            ("debt", sale.owed_micro, debt),
            ("cost", sale.cost_micro, sums.get(Kind.COST_OF_SALES, 0)),
        ):
            if says != has:
                yield f"sale {sale.pk} says its {words} is {says}; its entry says {has}."


def _payments_against_entries() -> Iterator[str]:
    for payment, sums in _with_sums(Payment.objects.order_by("pk")):
        if sums.get(Kind.CASH, 0) != payment.amount_micro:
            yield f"payment {payment.pk} says {payment.amount_micro}; its entry says {sums.get(Kind.CASH, 0)}."


def _with_sums(rows):  # type: ignore[no-untyped-def]
    """Each row with what its entry posted, by kind of account; in batches, so that memory stays small."""
    found = list(rows)
    for start in range(0, len(found), BATCH):
        some = found[start : start + BATCH]
        sums = ledger.sums_of_entries([row.entry_id for row in some])
        for row in some:
            yield row, sums.get(row.entry_id, {})
