"""Closed accounts and who stands for them."""

from datetime import datetime

from django.db import transaction

from studio.ledger.accounts import Account, Kind, pool
from studio.ledger.errors import WrongAccount
from studio.ledger.journal import lock

MOST_SUCCESSORS = 40


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
