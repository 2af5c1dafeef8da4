from collections.abc import Callable
from datetime import date
from functools import partial

import pytest

from studio.commissions import operations
from studio.commissions.models import Commission
from studio.people.models import Client, User
from studio.pieces.models import Piece
from tests.selling.shelf import BEGAN, MONEY, a_client, a_piece, day, set_up

BY = date(2025, 6, 1)


@pytest.fixture
def owner(db: None) -> User:
    return set_up()


@pytest.fixture
def orla(owner: User) -> Client:
    return a_client(owner)


@pytest.fixture
def make(owner: User) -> Callable[..., Piece]:
    return partial(a_piece, owner)


@pytest.fixture
def order(owner: User) -> Callable[..., Commission]:
    """Notes a commission down, agreed at 500 with a deposit of 150 unless told otherwise."""

    def do(client: Client, *, agreed: bool = True, deposit: int = 150, paid: int = 0, by_on: date = BY) -> Commission:
        row = operations.ask(
            client=client,
            wanted="A bowl of the old pear tree\nas wide as it will go",
            deposit_asked_micro=deposit * MONEY,
            at=BEGAN,
            by=owner,
        )
        if agreed:
            row = operations.agree(commission=row, price_micro=500 * MONEY, by_on=by_on, at=day(1), by=owner)
        if paid:
            operations.take_deposit(commission=row, amount_micro=paid * MONEY, at=day(2), by=owner)
        return row

    return do


@pytest.fixture
def ordered(order: Callable[..., Commission], orla: Client) -> Commission:
    return order(orla)
