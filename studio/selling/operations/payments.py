"""Money that galleries and clients pay on what they owe."""

from datetime import datetime

from django.db import transaction

from studio.fields.models import Submission
from studio.fields.quantity import show
from studio.ledger import operations as ledger
from studio.ledger.accounts import Account, Component, Kind
from studio.ledger.queries import balances
from studio.people import settings as studio_settings
from studio.people.models import Client, User
from studio.people.roles import require
from studio.selling import typed
from studio.selling.errors import CannotTakeBack, MoreThanOwed, NotLikeThat
from studio.selling.models import NOTE_LENGTH, ClientAccount, Gallery, Payment
from studio.selling.operations.galleries import held_gallery


def record_payment(
    *,
    amount_micro: int,
    at: datetime,
    by: User,
    gallery: Gallery | None = None,
    client: Client | None = None,
    confirm: bool = False,
    note: str = "",
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Payment:
    """Will take money in from a gallery or a client, in whole coins.

    More than is owed raises `MoreThanOwed` (code "more_than_owed") unless confirmed: it then stands to their
    credit against what they owe next.
    """
    require(by, "sell")
    typed.money(amount_micro, "amount", at_least=1, missing="Give what was paid.")
    with transaction.atomic():
        account, name = _account(gallery, client)
        owed = balances([account.pk]).get(account.pk, 0)
        if amount_micro > owed and not confirm:
            owes = f"owes {_money(owed)}" if owed > 0 else "owes nothing"
            raise MoreThanOwed(
                f"{name} {owes}, and this is {_money(amount_micro)}. "
                "Look at the figure again, or confirm that it was really paid: it then stands to their credit.",
                field="amount",
                code="more_than_owed",
            )
        return _posted(account, amount_micro, gallery, client, at, by, note, submission, now)


def give_back(
    *,
    amount_micro: int,
    at: datetime,
    by: User,
    gallery: Gallery | None = None,
    client: Client | None = None,
    note: str = "",
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Payment:
    """Will pay back what stands to a gallery's or a client's credit, up to all of it."""
    require(by, "sell")
    typed.money(amount_micro, "amount", at_least=1, missing="Give what was paid back.")
    with transaction.atomic():
        account, name = _account(gallery, client)
        credit = max(0, -balances([account.pk]).get(account.pk, 0))
        if amount_micro > credit:
            raise MoreThanOwed(
                f"{_money(credit)} stands to the credit of {name}, and no more can be paid back.",
                field="amount",
            )
        return _posted(account, -amount_micro, gallery, client, at, by, note, submission, now)


def take_back_payment(
    *,
    payment: Payment,
    at: datetime,
    by: User,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Payment:
    """Will undo a payment entered by mistake; its entry is reversed and both stay in the books."""
    require(by, "sell")
    with transaction.atomic():
        payment = Payment.objects.select_for_update(of=("self",)).get(pk=payment.pk)
        if payment.taken_back_at is not None:
            raise CannotTakeBack("That payment was taken back already. Nothing was changed.")
        posted = ledger.reverse(entry_id=payment.entry_id, at=at, by=by, submission=submission, now=now)
        payment.taken_back_at, payment.taken_back_entry_id = at, posted.entry_id  # type: ignore[attr-defined]
        payment.save(update_fields=["taken_back_at", "taken_back_entry"])
        return payment


def account_of_client(client: Client) -> Account:
    """The account of what a client owes, held until the transaction ends; made when first needed."""
    Client.objects.select_for_update().get(pk=client.pk)
    row = ClientAccount.objects.filter(client=client).select_related("account").first()
    if row is None:
        account = ledger.open_account(Kind.CLIENT_OWES)
        row = ClientAccount.objects.create(client=client, account=account)
    return row.account


def _money(micro: int) -> str:
    return show(micro, "money", formats=studio_settings.formats())


def _account(gallery: Gallery | None, client: Client | None) -> tuple[Account, str]:
    if (gallery is None) == (client is None):
        raise NotLikeThat("Say who paid: one gallery or one client.", field="who")
    if gallery is not None:
        held = held_gallery(gallery)
        return held.account, str(held)
    assert client is not None
    return account_of_client(client), str(client)


def _posted(
    account: Account,
    amount: int,
    gallery: Gallery | None,
    client: Client | None,
    at: datetime,
    by: User,
    note: str,
    submission: Submission | None,
    now: datetime | None,
) -> Payment:
    posted = ledger.post(
        kind="payment",
        legs=[
            ledger.Leg(Kind.CASH, Component.MONEY, value=amount),
            ledger.Leg(account, Component.MONEY, value=-amount),
        ],
        at=at,
        by=by,
        submission=submission,
        now=now,
    )
    return Payment.objects.create(
        gallery=gallery,
        client=client,
        amount_micro=amount,
        at=at,
        on=studio_settings.local_date(at),
        note=typed.words(note, "note", most=NOTE_LENGTH, lines=True),
        entry_id=posted.entry_id,
        by=by,
    )
