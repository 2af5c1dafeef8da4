from collections.abc import Iterator

import pytest
from django.db import connection

from studio.ledger import triggers
from studio.people.models import Role, User
from tests.ledger.books import Books


@pytest.fixture
def maker(db: None) -> User:
    return User.objects.create(username="orla", display_name="Orla", role=Role.MAKER)


@pytest.fixture
def books(maker: User) -> Books:
    return Books(maker)


@pytest.fixture
def unguarded(db: None) -> Iterator[None]:
    """The journal with its triggers and checks taken away, as somebody with a file editor finds it."""
    triggers.remove()
    if connection.vendor != "sqlite":
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA ignore_check_constraints = ON")
        cursor.execute("PRAGMA defer_foreign_keys = ON")
        yield
        cursor.execute("PRAGMA ignore_check_constraints = OFF")
