from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest

from studio.equipment import operations
from studio.equipment.models import Machine
from studio.ledger.accounts import Account, Kind, open_account
from studio.people import operations as people
from studio.people.models import User

BEGAN = datetime(2025, 3, 10, 8, 0, tzinfo=UTC)
BAR = 100_000
HOUR = timedelta(hours=1)
MONEY = 1_000_000


@pytest.fixture
def owner(db: None) -> User:
    """The owner of a studio that knows its tariff (0.30 a kWh), wage (30) and overhead (12 an hour)."""
    user = people.set_up_studio(
        studio_name="Hollow Tree Studio",
        currency="EUR",
        length_unit="mm",
        temperature_unit="°C",
        pressure_unit="bar",
        time_zone="UTC",
        username="ilse",
        display_name="Ilse Brand",
        password="soft wet shavings fly",  # noqa: S106  an invented one, for tests
        at=BEGAN,
    )
    first = date(2025, 1, 1)
    for key, value in (
        ("tariff_micro", 300_000),
        ("overhead_year_micro", 12_000 * MONEY),
        ("normal_hours_s", 1000 * 3600),
    ):
        people.set_setting(key=key, value=value, by=user, at=BEGAN, from_on=first)
    people.set_wage(person=user, rate_micro=30 * MONEY, paid=False, from_on=first, by=user, at=BEGAN)
    return user


@pytest.fixture
def visitor(owner: User) -> User:
    return people.add_user(
        username="guest",
        display_name="A guest",
        role="visitor",
        password="soft wet shavings fly",  # noqa: S106  an invented one, for tests
        by=owner,
        at=BEGAN,
    )


@pytest.fixture
def oven(owner: User) -> Machine:
    """2 kW at half its power: 1 kWh an hour, 0.30. Costs 600 and lasts 6,000 hours: 0.10 an hour."""
    return operations.add_machine(
        kind="oven",
        name="The brick oven",
        by=owner,
        at=BEGAN,
        power_w=2000,
        duty_ppm=500_000,
        highest_mdegc=200_000,
        price_micro=600 * MONEY,
        life_s=6000 * 3600,
    )


@pytest.fixture
def pot(owner: User) -> Machine:
    return operations.add_machine(
        kind="pressure_pot",
        name="The grey pot",
        by=owner,
        at=BEGAN,
        inside_diameter_um=300_000,
        inside_height_um=350_000,
        certified_pa=6 * BAR,
        relief_pa=5 * BAR,
        unaltered="yes",
    )


@pytest.fixture
def blanks(owner: User) -> Callable[[int], list[Account]]:
    def make(count: int) -> list[Account]:
        return [open_account(Kind.WORKPIECE) for _ in range(count)]

    return make
