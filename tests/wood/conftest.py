from datetime import UTC, datetime

import pytest

from studio.people import operations as people
from studio.people.models import User

AT = datetime(2025, 3, 10, 9, 30, tzinfo=UTC)
COIN = 1_000_000


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
