"""Triggers that refuse to change the journal, for SQLite and PostgreSQL.

A table remade by a migration loses its triggers on SQLite without a word, so they are dropped before every
`migrate` and put back after it, and a check looks that they are there.
"""

from django.core.checks import Error
from django.db import connections

TABLES = ("ledger_entry", "ledger_line", "ledger_booksclosed")
# What is unique besides the key: REPLACE would push out a row that collides there too.
ALSO_UNIQUE = {
    "ledger_entry": ("reverses_id = NEW.reverses_id",),
    "ledger_line": (
        "entry_id = NEW.entry_id AND account_id = NEW.account_id AND component = NEW.component "
        "AND commodity_id IS NEW.commodity_id AND towards_id IS NEW.towards_id",
    ),
}


def _sqlite(table: str) -> dict[str, str]:
    said = f"SELECT RAISE(ABORT, '{table} is append-only: reverse the entry instead')"
    same = ("id = NEW.id", *ALSO_UNIQUE.get(table, ()))
    there = " OR ".join(f"EXISTS (SELECT 1 FROM {table} WHERE {which})" for which in same)
    return {
        f"{table}_no_update": f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} BEGIN {said}; END",
        f"{table}_no_delete": f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} BEGIN {said}; END",
        # INSERT OR REPLACE deletes without firing a delete trigger unless recursive triggers are on
        f"{table}_no_replace": (
            f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} WHEN {there} BEGIN {said}; END"
        ),
    }


def _postgres(table: str) -> dict[str, str]:
    function = f"{table}_is_append_only"
    return {
        f"{table}_no_change": (
            f"CREATE OR REPLACE FUNCTION {function}() RETURNS trigger LANGUAGE plpgsql AS $$ "
            f"BEGIN RAISE EXCEPTION '{table} is append-only: reverse the entry instead'; END $$; "
            f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON {table} "
            f"FOR EACH ROW EXECUTE FUNCTION {function}()"
        ),
        f"{table}_no_truncate": (
            f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
            f"FOR EACH STATEMENT EXECUTE FUNCTION {function}()"
        ),
    }


def wanted(vendor: str, table: str) -> dict[str, str]:
    """Names and statements of the triggers one table of the journal carries."""
    return _postgres(table) if vendor == "postgresql" else _sqlite(table)


def _present(connection) -> set[str]:  # type: ignore[no-untyped-def]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            # One that is switched off is as good as gone.
            cursor.execute("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'")
        else:
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        return {row[0] for row in cursor.fetchall()}


def install(using: str = "default") -> None:
    """Put every trigger in place that is missing."""
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    present = _present(connection)
    with connection.cursor() as cursor:
        for table in TABLES:
            if table not in tables:
                continue
            for name, body in wanted(connection.vendor, table).items():
                if name not in present:
                    cursor.execute(_drop(connection.vendor, table, name))
                    cursor.execute(body)


def remove(using: str = "default") -> None:
    """Take the triggers away so that a migration may remake a table. Only `migrate` does this."""
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for table in TABLES:
            if table not in tables:
                continue
            for name in wanted(connection.vendor, table):
                cursor.execute(_drop(connection.vendor, table, name))


def _drop(vendor: str, table: str, name: str) -> str:
    return f"DROP TRIGGER IF EXISTS {name}" + (f" ON {table}" if vendor == "postgresql" else "")


def missing(using: str = "default") -> list[str]:
    """Names of triggers that should be there and are not."""
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    present = _present(connection)
    return [
        name
        for table in TABLES
        if table in tables
        for name in wanted(connection.vendor, table)
        if name not in present
    ]


def check_triggers(app_configs, databases=None, **kwargs):  # type: ignore[no-untyped-def]
    """System check: the journal without its triggers could be changed."""
    found = []
    for using in databases or []:
        for name in missing(using):
            found.append(
                Error(
                    f"The journal's trigger {name} is missing.",
                    hint="Run `manage.py migrate`: it puts the triggers back.",
                    id="ledger.E001",
                )
            )
    return found
