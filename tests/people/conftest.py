from collections.abc import Iterator
from datetime import UTC, datetime

import pytest

from studio.people import contacts, operations, settings
from studio.people.models import User

AT = datetime(2025, 3, 10, 9, 30, tzinfo=UTC)
PASSWORD = "soft wet shavings fly"  # noqa: S105  an invented one, for tests


@pytest.fixture
def at() -> datetime:
    return AT


@pytest.fixture
def owner(db: None) -> User:
    return operations.set_up_studio(
        studio_name="Hollow Tree Studio",
        currency="EUR",
        length_unit="mm",
        temperature_unit="°C",
        pressure_unit="bar",
        time_zone="Europe/Berlin",
        username="Ilse",
        display_name="Ilse Brand",
        password=PASSWORD,
        at=AT,
    )


@pytest.fixture
def add(owner: User):
    def _add(role: str, username: str = "") -> User:
        return operations.add_user(
            username=username or role,
            display_name=f"The {role}",
            role=role,
            password=PASSWORD,
            by=owner,
            at=AT,
        )

    return _add


@pytest.fixture(autouse=True)
def no_guards() -> Iterator[None]:
    """Guards are registered for a whole process; a test's own must not outlive it."""
    before, erasing = (
        {key: list(checks) for key, checks in settings.guards.items()},
        list(contacts.erase_guards),
    )
    yield
    settings.guards.clear()
    settings.guards.update(before)
    contacts.erase_guards[:] = erasing
