from collections.abc import Iterator
from pathlib import Path

import pytest
from django.db import connection

from studio.bootstrap import locked
from studio.ledger import triggers
from studio.people.models import Role, User
from tests import houses
from tests.ledger.books import Books
from tests.ledger.scratch import Scratch


@pytest.fixture
def maker(db: None) -> User:
    return User.objects.create(username="orla", display_name="Orla", role=Role.MAKER)


@pytest.fixture
def books(maker: User) -> Books:
    return Books(maker)


@pytest.fixture
def unguarded(books: Books) -> Iterator[Books]:
    """The books with triggers and constraints taken away, as somebody with a file editor finds them.

    What SQLite makes unique within a table can't be taken away: tests of that remake the table (`Scratch`).
    """
    triggers.remove()
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA ignore_check_constraints = ON")
            cursor.execute("DROP INDEX line_one_row_each")
            yield books
            cursor.execute("PRAGMA ignore_check_constraints = OFF")
            return
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute("DROP INDEX line_one_row_each")
        cursor.execute(
            "SELECT conrelid::regclass, conname FROM pg_constraint WHERE contype IN ('c', 'f', 'u') "
            "AND conrelid::regclass::text ~ '^(ledger_|fields_submission)'"
        )
        for table, name in cursor.fetchall():
            cursor.execute(f'ALTER TABLE {table} DROP CONSTRAINT "{name}"')
    yield books


@pytest.fixture(scope="session")
def scratch_template(run_folder: Path) -> Scratch:
    """An empty migrated studio with one maker in it, made once per run and copied by each test."""
    data, done = run_folder / "scratch-template", run_folder / "scratch-template.done"
    with locked(str(run_folder / "scratch-template.lock")):
        if done.exists():
            return Scratch(data, done.read_text())
        data.mkdir(exist_ok=True)
        made = Scratch(data, houses.new_database())
        migrated = made.manage("migrate", "--verbosity", "0")
        assert migrated.returncode == 0, migrated.stderr
        made.python("User.objects.create(username='orla', display_name='Orla', role='maker')")
        done.write_text(made.database)
        return made


@pytest.fixture
def scratch(scratch_template: Scratch, tmp_path: Path) -> Iterator[Scratch]:
    own = scratch_template.copy(tmp_path / "studio")
    yield own
    own.remove()
