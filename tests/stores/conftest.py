from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from studio.ledger.accounts import Account, Kind
from studio.ledger.operations import open_account
from studio.people import operations as people
from studio.people.models import User
from studio.stores import operations
from studio.stores.models import Batch, Material, MaterialKind

AT = datetime(2025, 3, 10, 9, 30, tzinfo=UTC)
GRAM = 1000
COIN = 1_000_000
DAY_S = 86_400


def day(days: int) -> datetime:
    """The same hour so many days later."""
    return AT + timedelta(days=days)


@pytest.fixture
def owner(db: None) -> User:
    return people.set_up_studio(
        studio_name="Hollow Tree Studio",
        currency="EUR",
        length_unit="mm",
        temperature_unit="°C",
        pressure_unit="bar",
        username="ilse",
        display_name="Ilse Brand",
        password="soft wet shavings fly",
        at=AT,
    )


@pytest.fixture
def resin(owner: User) -> Material:
    return operations.add_material(name="Clear A", kind=MaterialKind.RESIN_A, at=AT, by=owner)


@pytest.fixture
def hardener(owner: User) -> Material:
    return operations.add_material(name="Clear B", kind=MaterialKind.RESIN_B, at=AT, by=owner)


@pytest.fixture
def stabilizer(owner: User) -> Material:
    return operations.add_material(name="Clear bath resin", kind=MaterialKind.STABILIZING, at=AT, by=owner)


@pytest.fixture
def inserts(owner: User) -> Material:
    return operations.add_material(name="Brass insert", kind=MaterialKind.FITTING, counted=True, at=AT, by=owner)


@pytest.fixture
def buy(owner: User) -> Callable[..., Batch]:
    """Buys grams for whole coins on a day."""

    def _buy(material: Material, grams: int, coins: int, *, on: int = 0, **more: object) -> Batch:
        return operations.buy(
            material=material, amount=grams * GRAM, paid_micro=coins * COIN, at=day(on), by=owner, **more
        )

    return _buy


@pytest.fixture
def blank(db: None) -> Account:
    return open_account(Kind.WORKPIECE)


@pytest.fixture
def other_blank(db: None) -> Account:
    return open_account(Kind.WORKPIECE)
