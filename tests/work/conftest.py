from datetime import UTC, date, datetime, timedelta

import pytest

from studio.equipment import operations as equipment
from studio.equipment.models import Machine
from studio.people import operations as people
from studio.people.models import User
from studio.stores import operations as stores
from studio.stores.models import Material, ResinSystem
from studio.work import operations as work
from studio.work.models import Workpiece

BEGAN = datetime(2025, 3, 10, 8, 0, tzinfo=UTC)
NOW = datetime(2025, 6, 1, 12, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
DAY = timedelta(days=1)
MONEY = 1_000_000
GRAM = 1000
KILO = 1_000_000


@pytest.fixture
def owner(db: None) -> User:
    """The owner: power 0.30 a kWh, 30 an hour, overhead 12,000 over 1,000 normal hours."""
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
def lump(owner: User) -> Workpiece:
    """Lump 41: 12 kg for 90 and 10 carriage."""
    return work.take_in_lump(
        number="41", mass_mg=12 * KILO, paid_micro=90 * MONEY, carriage_micro=10 * MONEY, at=BEGAN, by=owner
    )


@pytest.fixture
def blanks(lump: Workpiece, owner: User) -> list[Workpiece]:
    return work.cut(
        parent=lump,
        blanks=[work.BlankSpec(weight=mass, mass_mg=mass) for mass in (3 * KILO, 2 * KILO, 5 * KILO)],
        at=BEGAN + HOUR,
        by=owner,
    )


@pytest.fixture
def oven(owner: User) -> Machine:
    return equipment.add_machine(
        kind="oven", name="The brick oven", by=owner, at=BEGAN, power_w=2000, duty_ppm=500_000,
        highest_mdegc=200_000, price_micro=600 * MONEY, life_s=6000 * 3600,
    )  # fmt: skip


@pytest.fixture
def part_a(owner: User) -> Material:
    return _bought(owner, "Clear A", "resin_a", 4 * KILO, 80)


@pytest.fixture
def part_b(owner: User) -> Material:
    return _bought(owner, "Clear B", "resin_b", 4 * KILO, 60)


@pytest.fixture
def blue(owner: User) -> Material:
    return _bought(owner, "Slate blue", "colorant", 50 * GRAM, 10)


def _bought(owner: User, name: str, kind: str, amount: int, money: int) -> Material:
    material = stores.add_material(name=name, kind=kind, by=owner, at=BEGAN)
    stores.buy(material=material, amount=amount, paid_micro=money * MONEY, by=owner, at=BEGAN)
    return material


@pytest.fixture
def resin(owner: User, part_a: Material, part_b: Material) -> ResinSystem:
    return stores.add_resin_system(
        name="Clear casting resin", part_a=part_a, part_b=part_b, parts_a=1000, parts_b=1000,
        mixed_density_kgm3=1050, demould_s=4 * 3600, full_cure_s=24 * 3600, smallest_mg=100 * GRAM,
        largest_mg=5 * KILO, ratio_tolerance_ppm=20_000, colorant_limit_ppm=30_000, by=owner, at=BEGAN,
    )  # fmt: skip
