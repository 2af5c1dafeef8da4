"""For each rule of the journal: the data broken beneath it, and the audit saying so."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
from django.db import connection

from studio.fields.models import Submission
from studio.ledger import audit, operations, triggers
from studio.ledger.accounts import Account, Component, Kind, pool
from studio.ledger.journal import Entry, Line
from studio.people.models import User
from tests.ledger.books import MONEY, NOW, Books, a_draw, day, differences, fresh, sql

on_sqlite = pytest.mark.skipif(connection.vendor != "sqlite", reason="this can only be so on SQLite")


def said(*fragments: str) -> bool:
    """Whether the audit has a sentence with each fragment; shows what it did say when not."""
    found = differences()
    missing = [part for part in fragments if not any(part in sentence for sentence in found)]
    assert not missing, found
    return True


def line(entry: Entry, account: Account | Kind) -> Line:
    return entry.lines.get(account=account if isinstance(account, Account) else pool(account))


def shift(line_: Line, by: int) -> None:
    """Change the value of one line and, where its account carries one, the balance with it."""
    sql("UPDATE ledger_line SET value_micro = value_micro + %s WHERE id = %s", by, line_.pk)
    if line_.account.runs_out:
        sql("UPDATE ledger_account SET value_micro = value_micro + %s WHERE id = %s", by, line_.account_id)


def test_an_untouched_journal_shows_no_difference(books: Books) -> None:
    entry, batch, piece = a_draw(books)
    books.move(piece, [(books.workpiece(), 1), (Kind.LOSS_EXPECTED, 2)], resin=3 * MONEY)
    books.late(batch, 7 * MONEY)
    found = audit.run()
    assert found.clean
    assert found.summary == f"0 differences in {Entry.objects.count()} entries, {Account.objects.count()} accounts"
    assert found.entries > 3 < found.accounts


# --- rule 1: entries and lines --------------------------------------------------------------------


def test_rule_1_values_that_leave_something(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    sql("UPDATE ledger_line SET value_micro = value_micro + 1 WHERE id = %s", line(entry, piece).pk)
    assert said(f"Entry {entry.pk}: its values leave 1 millionths", f"Workpiece {piece.pk} says it holds")


def test_rule_1_amounts_that_leave_something(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    sql("UPDATE ledger_line SET amount = amount - 1 WHERE id = %s", line(entry, Kind.USED_UP).pk)
    assert said(f"Entry {entry.pk}: its amounts of commodity {batch.commodity_id} leave -1")


def test_rule_1_two_rows_for_the_same(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    copy = line(entry, piece)
    copy.pk, copy.value_micro = None, 0
    copy.save(force_insert=True)
    assert said(f"Entry {entry.pk} has 2 lines for account {piece.pk} and resin")


def test_rule_1_lines_that_were_removed(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    sql("DELETE FROM ledger_line WHERE entry_id = %s", entry.pk)
    assert said(f"Entry {entry.pk} has 0 lines", f"Batch in the stores {batch.pk} says it holds an amount of 900")


def test_rule_1_a_day_that_is_not_the_day_it_happened(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    sql("UPDATE ledger_entry SET effective_on = %s WHERE id = %s", day(9).date(), entry.pk)
    assert said(f"Entry {entry.pk} counts on {day(9).date()}, which is not the day it happened")


def test_rule_1_written_down_before_it_happened(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    sql("UPDATE ledger_entry SET recorded_at = %s WHERE id = %s", day(1), entry.pk)
    assert said(f"Entry {entry.pk} was written down before it happened")


# --- rule 2: plain integers -----------------------------------------------------------------------


@on_sqlite
@pytest.mark.parametrize("odd", [1.5, "abc", 10.0**15 + 0.5])
def test_rule_2_something_in_a_cell_that_is_no_integer(unguarded: Books, odd: object) -> None:
    entry, batch, piece = a_draw(unguarded)
    target = line(entry, piece).pk
    before = fresh(piece).value_micro
    sql("UPDATE ledger_line SET value_micro = %s WHERE id = %s", odd, target)
    assert said(f"line {target} has something in value_micro that is no whole number")
    sql("UPDATE ledger_line SET value_micro = %s WHERE id = %s", before, target)
    sql("UPDATE ledger_account SET amount = %s WHERE id = %s", odd, batch.pk)
    assert said(f"account {batch.pk} has something in amount that is no whole number")


def test_rule_2_a_figure_past_what_the_journal_counts(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    target = line(entry, piece).pk
    sql("UPDATE ledger_line SET value_micro = %s WHERE id = %s", 10**15 + 1, target)
    assert said(f"line {target} has something in value_micro")


# --- rule 3: balances -----------------------------------------------------------------------------


@pytest.mark.parametrize("column", ["amount", "value_micro"])
def test_rule_3_a_balance_that_is_not_the_sum_of_its_lines(unguarded: Books, column: str) -> None:
    entry, batch, piece = a_draw(unguarded)
    sql(f"UPDATE ledger_account SET {column} = {column} + 1 WHERE id = %s", batch.pk)
    assert said(f"Batch in the stores {batch.pk} says it holds")
    assert len(differences()) == 1


def test_rule_3_a_day_on_which_a_batch_held_less_than_nothing(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    bought = Entry.objects.get(kind="buy")
    sql(
        "UPDATE ledger_entry SET effective_at = %s, effective_on = %s WHERE id = %s", day(4), day(4).date(), bought.pk
    )
    assert differences() == [f"Batch in the stores {batch.pk} held less than nothing at the end of {day(2).date()}."]


def test_rule_3_an_empty_batch_that_is_worth_something(unguarded: Books) -> None:
    batch, piece = unguarded.batch(), unguarded.workpiece()
    entry = Entry.objects.get(pk=unguarded.draw((batch, 1000), to=[(piece, 1)]).entry_id)
    shift(line(entry, batch), 5)
    shift(line(entry, piece), -5)
    assert differences() == [f"Batch in the stores {batch.pk} is empty and yet worth 5 millionths."]


def test_rule_3_a_pool_with_a_balance_of_its_own(unguarded: Books) -> None:
    a_draw(unguarded)
    sql("UPDATE ledger_account SET value_micro = 5 WHERE id = %s", pool(Kind.CASH).pk)
    assert differences() == [f"Cash and bank {pool(Kind.CASH).pk} is a pool and carries a balance of its own."]


def test_rule_3_a_pool_on_its_wrong_side(unguarded: Books) -> None:
    piece = unguarded.workpiece(resin=10)
    posted = unguarded.move(piece, [(Kind.COST_OF_SALES, 1)], resin=4)
    assert differences() == []
    entry = Entry.objects.get(pk=posted.entry_id)
    shift(line(entry, piece), 9)
    shift(line(entry, Kind.COST_OF_SALES), -9)
    assert differences() == [
        f"Cost of what was sold {pool(Kind.COST_OF_SALES).pk} adds up to -5 millionths: the wrong side for it."
    ]


# --- rule 4: what a draw costs --------------------------------------------------------------------


def test_rule_4_a_draw_that_left_at_another_cost_than_the_batchs_own(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    shift(line(entry, batch), -100)
    shift(line(entry, piece), 100)
    assert differences() == [
        f"Entry {entry.pk} took 5000100 millionths out of Batch in the stores {batch.pk}, where it cost 5000000."
    ]


# --- rule 5: grams --------------------------------------------------------------------------------


def test_rule_5_used_up_without_a_workpiece(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    sql("UPDATE ledger_line SET towards_id = NULL WHERE id = %s", line(entry, Kind.USED_UP).pk)
    assert differences() == [f"Entry {entry.pk} uses something up without naming the workpiece it went into."]


def test_rule_5_grams_booked_on_a_workpiece(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    sql("UPDATE ledger_line SET account_id = %s WHERE id = %s", piece.pk, line(entry, Kind.USED_UP).pk)
    assert said(f"Entry {entry.pk} books an amount on a workpiece")


def test_rule_5_another_material_on_a_batch(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    other = operations.new_commodity()
    sql("UPDATE ledger_line SET commodity_id = %s WHERE entry_id = %s AND amount <> 0", other.pk, entry.pk)
    assert differences() == [f"Entry {entry.pk} puts another material on a batch or bath than it holds."]


def test_rule_5_an_amount_of_nothing_named(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    sql("UPDATE ledger_line SET commodity_id = NULL WHERE entry_id = %s", entry.pk)
    assert said(f"Entry {entry.pk} moves an amount of no material")


# --- rules 6 and 8: components --------------------------------------------------------------------


def test_rule_6_a_component_turned_into_another(unguarded: Books) -> None:
    piece = unguarded.workpiece(resin=10)
    posted = unguarded.move(piece, [(unguarded.workpiece(), 1)], resin=4)
    target = Line.objects.get(entry=posted.entry_id, value_micro=4)
    sql("UPDATE ledger_line SET component = 'wood' WHERE id = %s", target.pk)
    assert differences() == [
        f"Entry {posted.entry_id} turns its part resin into another: -4 millionths of it are left over.",
        f"Entry {posted.entry_id} turns its part wood into another: 4 millionths of it are left over.",
    ]


def test_rule_8_labour_that_left_a_loss_as_wood(unguarded: Books) -> None:
    """Salvage that takes hours along under the name of wood: the whole value would bear it."""
    lost, saved = unguarded.workpiece(wood=5, own_labour=10), unguarded.workpiece()
    posted = unguarded.move(lost, [(saved, 1)], wood=5)
    for account, by in ((lost, -3), (saved, 3)):
        shift(Line.objects.get(entry=posted.entry_id, account=account), by)
    assert differences() == [f"Workpiece {lost.pk} carries less than nothing of its part wood: -3 millionths."]


def test_rule_6_money_itself_on_a_workpiece(unguarded: Books) -> None:
    piece = unguarded.workpiece(resin=10)
    sql("UPDATE ledger_line SET component = 'money' WHERE account_id = %s", piece.pk)
    assert said(f"Workpiece {piece.pk} carries 10 millionths as money, which is no part of a cost")


# --- rule 7: what rooms above can compute twice -----------------------------------------------------


def test_rule_7_a_room_above_adds_what_only_it_can_see(books: Books, monkeypatch: pytest.MonkeyPatch) -> None:
    """Descent lies in the room of the work; its shares are looked at in the same audit."""
    monkeypatch.setattr(audit, "_registered", {})
    shares = {"41": [600_000, 400_000]}

    def descent() -> Iterator[str]:
        for number, parts in shares.items():
            if sum(parts) != 1_000_000:
                yield f"the shares of {number} don't add up."

    audit.register("descent", descent)
    assert differences() == []
    shares["41"][0] -= 1
    assert differences() == ["descent: the shares of 41 don't add up."]


# --- rule 9: closed accounts ----------------------------------------------------------------------


def test_rule_9_a_closed_account_that_holds_something(unguarded: Books) -> None:
    piece = unguarded.workpiece(wood=5)
    sql(
        "UPDATE ledger_account SET closed_at = %s, successor_id = %s WHERE id = %s",
        day(5), pool(Kind.COST_OF_SALES).pk, piece.pk,
    )  # fmt: skip
    assert differences() == [f"Workpiece {piece.pk} is closed and yet holds something."]


def test_rule_9_a_closed_account_without_a_successor(unguarded: Books) -> None:
    piece = unguarded.workpiece()
    sql("UPDATE ledger_account SET closed_at = %s WHERE id = %s", day(5), piece.pk)
    assert differences() == [f"Workpiece {piece.pk} is closed and its successors end nowhere."]


def test_rule_9_successors_in_a_circle(unguarded: Books) -> None:
    one, other = unguarded.workpiece(), unguarded.workpiece()
    for account, heir in ((one, other), (other, one)):
        operations.close_account(account=account, successor=heir, at=day(5))
    assert differences() == [
        f"Workpiece {pk} is closed and its successors go round in a circle." for pk in sorted((one.pk, other.pk))
    ]


def test_rule_9_an_open_account_with_a_successor(unguarded: Books) -> None:
    one, other = unguarded.workpiece(), unguarded.workpiece()
    sql("UPDATE ledger_account SET successor_id = %s WHERE id = %s", other.pk, one.pk)
    assert differences() == [f"Workpiece {one.pk} is open and yet names a successor."]


# --- rule 10: never changed, reversed once ---------------------------------------------------------


def test_rule_10_triggers_that_are_missing(unguarded: Books) -> None:
    names = triggers.missing()
    assert names
    assert list(audit.run().differences) == [
        f"The trigger {name} is missing: rows of the journal could be changed." for name in names
    ]


def test_rule_10_a_reversal_that_is_no_mirror_image(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    charged = unguarded.charge(piece, {Component.WOOD: 10})
    mirror = Entry.objects.get(pk=unguarded.reverse(charged).entry_id)
    assert differences() == []
    shift(line(mirror, piece), 3)
    shift(line(mirror, Kind.OVERHEAD), -3)
    assert differences() == [
        f"Entry {mirror.pk} is not the mirror image of entry {charged.entry_id}, which it reverses."
    ]


def test_rule_10_a_reversal_that_is_reversed(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    mirror = unguarded.reverse(operations.Posted(entry.pk, entry.effective_on)).entry_id
    again = unguarded.draw((batch, 100), to=[(piece, 1)], on=40)
    sql("UPDATE ledger_entry SET reverses_id = %s WHERE id = %s", mirror, again.entry_id)
    assert differences() == [f"Entry {again.entry_id} reverses {mirror}, which is itself a reversal."]


def test_rule_10_a_reversal_before_its_entry(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    charged = unguarded.charge(piece, {Component.WOOD: 10}, on=9)
    mirror = unguarded.reverse(charged, on=9)
    unguarded.charge(piece, {Component.WOOD: 99}, on=1)
    sql(
        "UPDATE ledger_entry SET effective_at = %s, effective_on = %s WHERE id = %s",
        day(8), day(8).date(), mirror.entry_id,
    )  # fmt: skip
    assert differences() == [f"Entry {mirror.entry_id} takes back entry {charged.entry_id} before it happened."]


def test_rule_10_something_slipped_into_a_closed_period(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    operations.close_books(until=day(3).date(), at=NOW - timedelta(days=1), by=unguarded.by)
    assert differences() == [
        f"Entry {pk} counts on a day up to {day(3).date()}, closed before it was written."
        for pk in Entry.objects.order_by("pk").values_list("pk", flat=True)
    ]


# --- rule 11: whole coins --------------------------------------------------------------------------


def test_rule_11_a_part_of_a_coin(unguarded: Books) -> None:
    paid = operations.pay_bill(what=Kind.ENERGY, value=MONEY, at=day(3), by=unguarded.by, now=NOW)
    entry = Entry.objects.get(pk=paid.entry_id)
    shift(line(entry, Kind.CASH), 1)
    shift(line(entry, Kind.ENERGY), -1)
    assert differences() == [
        f"Entry {entry.pk} moves -999999 millionths on Cash and bank {pool(Kind.CASH).pk}: a part of a coin."
    ]


# --- rules 12 and 13: who and what ------------------------------------------------------------------


def test_rule_12_an_entry_from_somebody_elses_form(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    other = User.objects.create(username="tam", display_name="Tam")
    form = Submission.objects.create(actor=other, key="k", body_hash="h", at=day(2))
    sql("UPDATE ledger_entry SET submission_id = %s WHERE id = %s", form.pk, entry.pk)
    assert differences() == [f"Entry {entry.pk} came from a form that somebody else sent."]


def test_rule_13_words_about_somebody_in_the_journal(unguarded: Books) -> None:
    entry, batch, piece = a_draw(unguarded)
    sql("UPDATE ledger_entry SET step = 'for Bea' WHERE id = %s", entry.pk)
    assert differences() == ["There are entries with the words 'for Bea' where a code belongs."]


# --- what only a remade table can hold --------------------------------------------------------------
