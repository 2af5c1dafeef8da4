"""A small studio's books for the tests of the ledger: days by number, amounts and values as stored."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from django.db import connection

from studio.ledger import audit, operations
from studio.ledger.accounts import Account, Commodity, Component, Kind
from studio.ledger.journal import Entry, Line
from studio.ledger.operations import Draw, Leg, Posted
from studio.people.models import User

MORNING = datetime(2024, 3, 1, 9, 0, tzinfo=UTC)
COIN = 10_000
MONEY = 1_000_000


def day(number: int) -> datetime:
    return MORNING + timedelta(days=number)


NOW = day(200)


@dataclass
class Books:
    by: User

    def batch(
        self,
        amount: int = 1000,
        value: int = 50 * MONEY,
        *,
        on: int = 1,
        commodity: Commodity | None = None,
        component: Component = Component.RESIN,
    ) -> Account:
        account = operations.open_account(Kind.BATCH, commodity=commodity or operations.new_commodity())
        self.receive(account, amount, value, on=on, component=component)
        return fresh(account)

    def receive(
        self,
        account: Account,
        amount: int,
        value: int,
        *,
        on: int = 1,
        component: Component = Component.RESIN,
        paid_from: Account | Kind = Kind.CASH,
    ) -> Posted:
        return operations.receive(
            account=account,
            amount=amount,
            value=value,
            component=component,
            paid_from=paid_from,
            at=day(on),
            by=self.by,
            now=NOW,
        )

    def workpiece(self, **parts: int) -> Account:
        """A workpiece that carries these parts, reckoned against overhead, the pool that may lie both ways."""
        account = operations.open_account(Kind.WORKPIECE)
        if parts:
            self.charge(account, {Component(part): value for part, value in parts.items()})
        return fresh(account)

    def charge(self, account: Account, values: Mapping[Component, int], *, on: int = 1) -> Posted:
        legs = [Leg(account, part, value=value) for part, value in values.items()]
        legs += [Leg(Kind.OVERHEAD, part, value=-value) for part, value in values.items()]
        return operations.post(kind="wood", legs=legs, at=day(on), by=self.by, now=NOW)

    def draw(
        self,
        *draws: tuple[Account, int],
        to: list[tuple[Account, int]],
        on: int = 2,
        component: Component = Component.RESIN,
        step: str = "",
    ) -> Posted:
        return operations.use_up(
            draws=[Draw(account, amount, component) for account, amount in draws],
            shares=to,
            step=step,
            at=day(on),
            by=self.by,
            now=NOW,
        )

    def move(self, source: Account, to: list[tuple[Account | Kind, int]], *, on: int = 3, **parts: int) -> Posted:
        legs = operations.share_legs(source, to, {Component(part): value for part, value in parts.items()})
        return operations.post(kind="cut", legs=legs, at=day(on), by=self.by, now=NOW)

    def late(self, account: Account, value: int, *, on: int = 20, component: Component = Component.RESIN) -> Posted:
        return operations.spread_late_cost(
            account=account, value=value, component=component, at=day(on), by=self.by, now=NOW
        )

    def reverse(self, posted: Posted, *, on: int = 30) -> Posted:
        return operations.reverse(entry_id=posted.entry_id, at=day(on), by=self.by, now=NOW)


def fresh(account: Account) -> Account:
    return Account.objects.get(pk=account.pk)


def parts_of(account: Account) -> dict[str, int]:
    from studio.ledger.queries import cost_of

    return {str(part): value for part, value in cost_of(account).parts.items()}


def pool_value(kind: Kind) -> int:
    from studio.ledger.queries import pool_sums

    return pool_sums().get(kind, 0)


def counted() -> tuple[int, int]:
    return Entry.objects.count(), Line.objects.count()


def differences() -> list[str]:
    """What the audit says, but for triggers that a test itself has taken away."""
    return [sentence for sentence in audit.run().differences if not sentence.startswith("The trigger ")]


def a_draw(books: Books) -> tuple[Entry, Account, Account]:
    """A draw of 100 from a batch to a piece, in books that are whole: the entry, the batch, the piece."""
    batch, piece = books.batch(), books.workpiece()
    entry = Entry.objects.get(pk=books.draw((batch, 100), to=[(piece, 1)]).entry_id)
    assert differences() == []
    return entry, batch, piece


def sql(statement: str, *params: object) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement, params or None)
