"""What this room asks of the rooms below: whose name can't be erased yet, what the audit looks at too."""

from collections.abc import Iterator

from studio.commissions.models import Commission, State
from studio.fields.errors import Refused
from studio.ledger.queries import balances
from studio.people.models import Client, Contact


def refuse_erasing_client(contact: Contact) -> None:
    """Raise where something is on order for a client who is about to be erased, or his deposit is held."""
    if not isinstance(contact, Client):
        return
    orders = list(Commission.objects.filter(client=contact).order_by("number"))
    waiting = next((order for order in orders if order.is_open), None)
    if waiting:
        raise Refused(f"{contact} has commission {waiting.number} on order. Deliver it or call it off first.")
    if any(balances([order.deposit_account_id for order in orders]).values()):
        raise Refused(f"A deposit of {contact} is still held. Give it back first.")


def differences() -> Iterator[str]:
    """Deposits that lie where they can't, and deliveries whose sale doesn't stand: one sentence for each."""
    orders = list(Commission.objects.select_related("sale").order_by("pk"))
    held = balances([order.deposit_account_id for order in orders])
    for order in orders:
        deposit = -held.get(order.deposit_account_id, 0)
        if deposit < 0:
            yield f"{order} holds a deposit of less than nothing."
        if order.state == State.DELIVERED:
            if deposit:
                yield f"{order} is delivered and still holds a deposit of {deposit}."
            if order.sale is None or order.sale.taken_back_at is not None:
                yield f"{order} is delivered by a sale that doesn't stand."
