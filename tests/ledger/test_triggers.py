import pytest
from django.core.checks import run_checks
from django.db import connection

from studio.ledger import triggers
from tests.ledger.books import sql
from tests.ledger.scratch import Scratch

WANTED = [name for table in triggers.TABLES for name in triggers.wanted(connection.vendor, table)]


def _said() -> list[str]:
    return [str(found.msg) for found in run_checks(databases=["default"]) if found.id == "ledger.E001"]


@pytest.mark.django_db
def test_a_migrated_database_has_every_trigger() -> None:
    assert triggers.missing() == []
    assert _said() == []


@pytest.mark.django_db
@pytest.mark.parametrize("name", WANTED)
def test_the_check_names_a_trigger_that_is_gone(name: str) -> None:
    table = next(table for table in triggers.TABLES if name.startswith(table))
    sql(f"DROP TRIGGER {name}" + (f" ON {table}" if connection.vendor == "postgresql" else ""))
    assert triggers.missing() == [name]
    assert _said() == [f"The journal's trigger {name} is missing."]
    triggers.install()
    assert _said() == []


@pytest.mark.django_db
@pytest.mark.postgres
@pytest.mark.parametrize("table", triggers.TABLES)
def test_a_trigger_that_is_switched_off_counts_as_gone(table: str) -> None:
    sql(f"ALTER TABLE {table} DISABLE TRIGGER USER")
    assert triggers.missing() == list(triggers.wanted("postgresql", table))
    triggers.install()
    assert triggers.missing() == []


@pytest.mark.django_db
def test_each_trigger_names_no_table_but_its_own() -> None:
    """SQLite refuses to rename or drop a table that another table's trigger names."""
    for vendor in ("sqlite", "postgresql"):
        for table in triggers.TABLES:
            for body in triggers.wanted(vendor, table).values():
                assert not [other for other in triggers.TABLES if other != table and other in body]


def test_migrate_puts_triggers_back_although_the_check_would_stop_it(scratch: Scratch) -> None:
    scratch.python("triggers.remove()")
    assert scratch.manage("check", "--database", "default").returncode == 1
    done = scratch.manage("migrate", "--verbosity", "0")
    assert done.returncode == 0, done.stderr
    assert scratch.manage("check", "--database", "default").returncode == 0


def test_a_table_remade_by_a_migration_has_its_triggers_again_afterwards(scratch: Scratch) -> None:
    """Remade without the hooks of `migrate` the table loses them (on SQLite); with them it doesn't."""
    remake = (
        "from django.db import connection, models\n"
        "field = models.CharField(max_length=40, blank=True)\n"
        "field.set_attributes_from_name('step')\n"
        "with connection.schema_editor() as editor:\n"
        "    editor.alter_field(Entry, Entry._meta.get_field('step'), field)\n"
    )
    scratch.python(remake)
    if connection.vendor == "sqlite":
        assert scratch.manage("check", "--database", "default").returncode == 1
    assert scratch.manage("migrate", "--verbosity", "0").returncode == 0
    assert scratch.manage("check", "--database", "default").returncode == 0
