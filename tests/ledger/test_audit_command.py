"""Breaking the books of a studio in a folder of its own, the command, and what the audit costs."""

import re
import sqlite3

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.ledger import audit
from tests.ledger.books import Books, a_draw, differences, fresh, parts_of
from tests.ledger.scratch import Scratch

on_sqlite = pytest.mark.skipif(connection.vendor != "sqlite", reason="this can only be so on SQLite")


BOOKED = """
books = Books(User.objects.get())
batch, piece = books.batch(), books.workpiece()
books.reverse(books.draw((batch, 10), to=[(piece, 1)]))
"""


def _audited(scratch: Scratch, table: str, *statements: str) -> list[str]:
    """What the audit command says once the statements were carried out on a table without its constraints."""
    if scratch.database:
        import psycopg  # there only where PostgreSQL is used

        with psycopg.connect(scratch.database) as on_postgres:
            found = on_postgres.execute(
                "SELECT conname FROM pg_constraint WHERE contype IN ('u', 'f') AND conrelid = %s::regclass", [table]
            )
            on_postgres.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
            for (name,) in found.fetchall():
                on_postgres.execute(f'ALTER TABLE {table} DROP CONSTRAINT "{name}"')
            for statement in statements:
                on_postgres.execute(statement)
    else:
        plain = sqlite3.connect(scratch.file)
        (made,) = plain.execute("SELECT sql FROM sqlite_master WHERE name = ?", [table]).fetchone()
        made = re.sub(r', CONSTRAINT "\w+" UNIQUE \([^)]*\)', "", made).replace(" UNIQUE", "")
        plain.execute(made.replace(f'CREATE TABLE "{table}"', "CREATE TABLE remade"))
        plain.execute(f"INSERT INTO remade SELECT * FROM {table}")
        plain.execute(f"DROP TABLE {table}")
        plain.execute(f"ALTER TABLE remade RENAME TO {table}")
        for statement in statements:
            plain.execute(statement)
        plain.commit()
        plain.close()
    done = scratch.manage("audit")
    assert (done.returncode, done.stderr) == (1, "")
    return done.stdout.splitlines()


def test_rule_10_an_entry_reversed_twice(scratch: Scratch) -> None:
    scratch.python(BOOKED)
    names = "kind, step, effective_at, effective_on, recorded_at, by_id, corrects_id, reverses_id, submission_id"
    lines = "account_id, component, commodity_id, towards_id, amount, value_micro"
    found = _audited(
        scratch,
        "ledger_entry",
        f"INSERT INTO ledger_entry (id, {names}) SELECT 999, {names} FROM ledger_entry WHERE reverses_id IS NOT NULL",
        f"INSERT INTO ledger_line (entry_id, {lines}) SELECT 999, {lines} FROM ledger_line "
        "WHERE entry_id = (SELECT id FROM ledger_entry WHERE reverses_id IS NOT NULL AND id < 999)",
    )
    assert any("was reversed twice, by" in sentence and "and by 999" in sentence for sentence in found), found


def test_rule_12_a_form_carried_out_twice(scratch: Scratch) -> None:
    scratch.python(
        "from studio.fields.submissions import carry_out\n"
        "carry_out(actor=User.objects.get(), key='once', body={}, at=NOW, do=lambda row: 'done')"
    )
    names = "key, body_hash, result, at, actor_id"
    found = _audited(
        scratch,
        "fields_submission",
        f"INSERT INTO fields_submission (id, {names}) SELECT 999, {names} FROM fields_submission",
    )
    assert any("The form once of person" in sentence and "2 times" in sentence for sentence in found), found


def test_rule_1_lines_of_an_entry_that_is_gone(scratch: Scratch) -> None:
    scratch.python(BOOKED)
    found = _audited(scratch, "ledger_line", "UPDATE ledger_line SET entry_id = 999 WHERE entry_id = 1")
    assert "Entry 999 is missing; there are lines of it." in found
    assert found[-1].split(" in ")[0] == f"{len(found) - 1} differences"


@on_sqlite
def test_rule_15_a_key_that_leads_nowhere(scratch: Scratch) -> None:
    scratch.python(BOOKED)
    plain = sqlite3.connect(scratch.file)
    plain.execute("DELETE FROM fields_submission")
    plain.execute("UPDATE ledger_account SET commodity_id = 777 WHERE kind = 'batch'")
    plain.commit()
    plain.close()
    found = scratch.manage("audit").stdout
    assert "of ledger_account points at a row of ledger_commodity that isn't there." in found


# --- the command, and how it reads ------------------------------------------------------------------


def test_the_command_says_that_all_is_well(scratch: Scratch) -> None:
    scratch.python(BOOKED)
    done = scratch.manage("audit")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == f"0 differences in 3 entries, {scratch.python('print(Account.objects.count())')} accounts\n"


def test_the_command_audits_the_demo_where_its_data_are(scratch: Scratch) -> None:
    assert scratch.manage("audit", "--demo").stdout == "0 differences in 0 entries, 0 accounts\n"


def test_the_command_says_when_there_is_no_studio_yet(scratch: Scratch, tmp_path) -> None:  # type: ignore[no-untyped-def]
    from tests.houses import new_database

    (tmp_path / "empty").mkdir()
    done = Scratch(tmp_path / "empty", new_database() if scratch.database else "").manage("audit")
    assert done.returncode == 1
    assert "no studio here yet" in done.stderr


def test_the_audit_takes_the_same_number_of_queries_at_ten_and_at_hundreds_of_entries(books: Books) -> None:
    batch, piece = books.batch(10_000), books.workpiece()
    with CaptureQueriesContext(connection) as short:
        assert differences() == []
    for amount in range(1, 120):
        books.draw((batch, amount), to=[(piece, 1)], on=amount)
    with CaptureQueriesContext(connection) as long:
        assert differences() == []
    assert len(long) == len(short)


def test_the_audit_changes_nothing(books: Books) -> None:
    a_draw(books)
    with CaptureQueriesContext(connection) as queries:
        audit.run()
    assert not [
        query for query in queries if not query["sql"].lstrip("( \n").startswith(("SELECT", "PRAGMA", "DECLARE"))
    ]


def test_parts_of_a_piece_and_its_balance_agree(books: Books) -> None:
    entry, batch, piece = a_draw(books)
    assert sum(parts_of(piece).values()) == fresh(piece).value_micro
