import pytest

from studio.people.models import User
from tests.web.small_studio import SmallStudio, open_small_studio


@pytest.fixture
def small(db: None) -> SmallStudio:
    """A studio with one of nearly everything in it."""
    return open_small_studio()


@pytest.fixture
def owner(small: SmallStudio) -> User:
    return small.owner
