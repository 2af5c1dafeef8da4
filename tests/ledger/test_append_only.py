"""Every way a row of the journal might be changed or removed, and that none of them does."""

import sqlite3
from collections.abc import Callable

import pytest
from django.db import DatabaseError, connection, models, transaction

from studio.ledger import operations, triggers
from studio.ledger.journal import BooksClosed, Entry, Line
from tests.ledger.books import Books, day, sql

TABLES: dict[str, tuple[type[models.Model], str, object]] = {
    "ledger_entry": (Entry, "step", "other"),
    "ledger_line": (Line, "value_micro", 777),
    "ledger_booksclosed": (BooksClosed, "until", day(0).date()),
}


def _save(model, column, value) -> None:  # type: ignore[no-untyped-def]
    row = model.objects.first()
    setattr(row, column, value)
    row.save()


def _values(model) -> tuple[list[str], list[object]]:  # type: ignore[no-untyped-def]
    row = model.objects.values().first()
    return [f'"{name}"' for name in row], list(row.values())


def _insert(model, column, value, start: str, end: str = "") -> None:  # type: ignore[no-untyped-def]
    names, values = _values(model)
    values[names.index(f'"{column}"')] = value
    marks = ", ".join(["%s"] * len(values))
    sql(f"{start} INTO {model._meta.db_table} ({', '.join(names)}) VALUES ({marks}) {end}", *values)


ROUTES: dict[str, Callable[..., object]] = {
    "save": _save,
    "queryset update": lambda model, column, value: model.objects.update(**{column: value}),
    "bulk update": lambda model, column, value: model.objects.bulk_update(
        [_changed(row, column, value) for row in model.objects.all()], [column]
    ),
    "delete": lambda model, column, value: model.objects.last().delete(),
    "raw delete by queryset": lambda model, column, value: model.objects.all()._raw_delete("default"),
    "raw update": lambda model, column, value: sql(f'UPDATE {model._meta.db_table} SET "{column}" = %s', value),
    "raw delete": lambda model, column, value: sql(f"DELETE FROM {model._meta.db_table}"),
    "upsert": lambda model, column, value: _insert(
        model, column, value, "INSERT", f'ON CONFLICT (id) DO UPDATE SET "{column}" = excluded."{column}"'
    ),
}
SQLITE_ROUTES = {
    "replace": lambda model, column, value: _insert(model, column, value, "REPLACE"),
    "insert or replace": lambda model, column, value: _insert(model, column, value, "INSERT OR REPLACE"),
    "update or replace": lambda model, column, value: sql(
        f'UPDATE OR REPLACE {model._meta.db_table} SET "{column}" = %s', value
    ),
}
POSTGRES_ROUTES = {
    "truncate": lambda model, column, value: sql(f"TRUNCATE {model._meta.db_table} CASCADE"),
    "merge": lambda model, column, value: sql(
        f"MERGE INTO {model._meta.db_table} t USING (SELECT 1 AS one) s ON true "
        f'WHEN MATCHED THEN UPDATE SET "{column}" = %s',
        value,
    ),
}
ROUTES |= POSTGRES_ROUTES if connection.vendor == "postgresql" else SQLITE_ROUTES


def _changed(row: models.Model, column: str, value: object) -> models.Model:
    setattr(row, column, value)
    return row


@pytest.fixture
def written(books: Books) -> Books:
    books.reverse(books.draw((books.batch(), 10), to=[(books.workpiece(), 1)]))
    operations.close_books(until=day(1).date(), at=day(199), by=books.by)
    if connection.vendor == "postgresql":
        sql("SET CONSTRAINTS ALL IMMEDIATE")
    return books


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("route", ROUTES)
def test_no_route_changes_a_row(written: Books, route: str, table: str) -> None:
    model, column, value = TABLES[table]
    before = list(model.objects.order_by("pk").values())
    with pytest.raises((DatabaseError, models.ProtectedError)), transaction.atomic():
        ROUTES[route](model, column, value)
    assert list(model.objects.order_by("pk").values()) == before


@pytest.mark.parametrize("route", [name for name in ROUTES if name not in ("delete", "truncate")])
def test_without_its_triggers_the_journal_could_be_changed(written: Books, route: str) -> None:
    """The control: the same routes do change the newest table once the triggers are away."""
    model, column, value = TABLES["ledger_booksclosed"]
    triggers.remove()
    before = list(model.objects.order_by("pk").values())
    ROUTES[route](model, column, value)
    assert list(model.objects.order_by("pk").values()) != before


@pytest.mark.skipif(connection.vendor != "sqlite", reason="REPLACE is a way of SQLite's")
@pytest.mark.parametrize("unique", ["reverses_id", "the one line for an account"])
def test_a_client_without_our_settings_cannot_replace_a_row_through_another_unique_column(unique: str) -> None:
    """Recursive triggers are off in a plain shell: REPLACE then removes the row it collides with in silence."""
    plain = sqlite3.connect(":memory:")
    plain.executescript(
        "CREATE TABLE ledger_entry (id INTEGER PRIMARY KEY, reverses_id INTEGER UNIQUE);"
        "CREATE TABLE ledger_line (id INTEGER PRIMARY KEY, entry_id INTEGER, account_id INTEGER, component TEXT, "
        "commodity_id INTEGER, towards_id INTEGER, value_micro INTEGER);"
        "CREATE UNIQUE INDEX one ON ledger_line (entry_id, account_id, component, "
        "coalesce(commodity_id, 0), coalesce(towards_id, 0));"
        "INSERT INTO ledger_entry VALUES (1, NULL), (2, 1);"
        "INSERT INTO ledger_line VALUES (1, 1, 1, 'wood', NULL, NULL, 5);"
    )
    replace = {
        "reverses_id": "INSERT OR REPLACE INTO ledger_entry VALUES (3, 1)",
        "the one line for an account": "INSERT OR REPLACE INTO ledger_line VALUES (9, 1, 1, 'wood', NULL, NULL, 777)",
    }[unique]
    plain.execute("SAVEPOINT control")
    plain.execute(replace)
    rows = "SELECT id, reverses_id FROM ledger_entry UNION ALL SELECT id, value_micro FROM ledger_line"
    assert plain.execute(rows).fetchall() != [(1, None), (2, 1), (1, 5)]
    plain.execute("ROLLBACK TO control")
    for table in ("ledger_entry", "ledger_line"):
        for body in triggers.wanted("sqlite", table).values():
            plain.execute(body)
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        plain.execute(replace)
    assert plain.execute(rows).fetchall() == [(1, None), (2, 1), (1, 5)]
