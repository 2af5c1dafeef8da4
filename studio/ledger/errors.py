"""Why the journal says no."""

from datetime import date, datetime

from studio.fields.errors import Refused
from studio.ledger.accounts import Account


class NotBalanced(Refused):
    """Values or amounts that don't add up to nothing: a fault of the program, never of the person."""


class NotWholeCoins(Refused):
    """A fraction of the smallest coin on cash, a debt, a deposit or tax."""


class WrongAccount(Refused):
    """A line on an account that can't take it."""


class InTheFuture(Refused):
    def __init__(self, at: datetime) -> None:
        super().__init__(
            f"{at:%d %B %Y, %H:%M} is still to come. Enter what has happened; give the time it happened.",
            field="at",
        )


class BooksAreClosed(Refused):
    def __init__(self, until: date) -> None:
        super().__init__(
            f"The books are closed up to {until:%d %B %Y}. Give a later day, or enter it today as a correction.",
            field="at",
        )


class CurrencyIsFrozen(Refused):
    def __init__(self) -> None:
        super().__init__(
            "The books are kept in another money already, and it can't be changed any more. "
            "Another studio, with data of its own, can count in this one.",
            field="currency",
        )


class RunsOut(Refused):
    """There is less left than was asked for."""

    def __init__(self, account: Account, *, has: int, wants: int) -> None:
        super().__init__(f"{account} has less left than that.", code="runs_out")
        self.account = account
        self.has = has
        self.wants = wants


class RanOutLater(Refused):
    def __init__(self, account: Account, on: date) -> None:
        super().__init__(
            f"With that much gone on {on:%d %B %Y}, {account} would have had less than nothing "
            "on that day or a later one. "
            "Give the day it really happened, or enter it today.",
            field="at",
            code="ran_out_later",
        )
        self.account = account


class AlreadyReversed(Refused):
    """An entry is reversed once, and a reversal never."""


class CannotReverse(Refused):
    """The balance can't bear the reversal any more; an adjustment is the way."""
