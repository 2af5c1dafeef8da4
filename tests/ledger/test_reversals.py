import pytest
from django.db import IntegrityError, transaction

from studio.ledger import operations, queries
from studio.ledger.accounts import Kind
from studio.ledger.errors import AlreadyReversed, BooksAreClosed, CannotReverse
from studio.ledger.journal import Entry
from tests.ledger.books import MONEY, NOW, Books, counted, day, differences, fresh, parts_of, pool_value


def test_a_reversal_is_the_mirror_image_and_points_back(books: Books) -> None:
    batch, piece = books.batch(), books.workpiece()
    drawn = books.draw((batch, 333), to=[(piece, 1)], step="cast")
    undone = queries.entry(books.reverse(drawn).entry_id)
    original = queries.entry(drawn.entry_id)
    assert undone is not None and original is not None
    assert (undone.kind, undone.step, undone.reverses_id) == ("reversal", "cast", drawn.entry_id)
    assert original.reversed_by_id == undone.pk
    mirror = {
        (line.account_id, line.component, line.towards_id): (line.amount, line.value_micro) for line in original.lines
    }
    for line in undone.lines:
        amount, value = mirror[line.account_id, line.component, line.towards_id]
        assert (line.amount, line.value_micro) == (-amount, -value)
    assert (fresh(batch).amount, fresh(batch).value_micro) == (1000, 50 * MONEY)
    assert parts_of(piece) == {}
    assert differences() == []


def test_an_entry_is_reversed_once_and_a_reversal_never(books: Books) -> None:
    drawn = books.draw((books.batch(), 10), to=[(books.workpiece(), 1)])
    undone = books.reverse(drawn)
    before = counted()
    for again in (drawn, undone):
        with pytest.raises(AlreadyReversed):
            books.reverse(again)
    assert counted() == before


def test_the_database_itself_takes_one_reversal_only(books: Books) -> None:
    drawn = books.draw((books.batch(), 10), to=[(books.workpiece(), 1)])
    mirror = Entry.objects.get(pk=books.reverse(drawn).entry_id)
    mirror.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        mirror.save(force_insert=True)


def test_a_purchase_that_was_drawn_on_cannot_be_taken_back_and_an_adjustment_is_offered(books: Books) -> None:
    batch = operations.open_account(Kind.BATCH, commodity=operations.new_commodity())
    bought = books.receive(batch, 1000, 50 * MONEY)
    drawn = books.draw((batch, 1), to=[(books.workpiece(), 1)])
    before = counted()
    with pytest.raises(CannotReverse) as stop:
        books.reverse(bought)
    assert stop.value.code == "adjust"
    assert counted() == before
    books.reverse(drawn)
    books.reverse(bought)
    assert (fresh(batch).amount, fresh(batch).value_micro, pool_value(Kind.CASH)) == (0, 0, 0)
    assert differences() == []


def test_a_draw_whose_resin_was_handed_on_cannot_be_taken_back(books: Books) -> None:
    """The lump's whole value would bear it; its resin would not."""
    batch, lump, blank = books.batch(), books.workpiece(wood=900 * MONEY), books.workpiece()
    drawn = books.draw((batch, 100), to=[(lump, 1)])
    books.move(lump, [(blank, 1)], wood=450 * MONEY, resin=2_500_000)
    with pytest.raises(CannotReverse):
        books.reverse(drawn)


def test_what_reached_an_account_that_is_closed_by_now_cannot_be_taken_back(books: Books) -> None:
    batch, piece = books.batch(), books.workpiece()
    drawn = books.draw((batch, 100), to=[(piece, 1)])
    books.move(piece, [(Kind.COST_OF_SALES, 1)], **parts_of(piece))
    operations.close_account(account=piece, successor=Kind.COST_OF_SALES, at=day(4))
    with pytest.raises(CannotReverse):
        books.reverse(drawn)


def test_a_purchase_is_not_taken_back_on_a_day_that_still_needed_it(books: Books) -> None:
    batch = operations.open_account(Kind.BATCH, commodity=operations.new_commodity())
    bought = books.receive(batch, 1000, 50 * MONEY)
    books.reverse(books.draw((batch, 1), to=[(books.workpiece(), 1)], on=5), on=9)
    with pytest.raises(CannotReverse):
        books.reverse(bought, on=7)
    books.reverse(bought, on=9)
    assert differences() == []


def test_nothing_is_taken_back_before_it_happened(books: Books) -> None:
    paid = operations.pay_bill(what=Kind.ENERGY, value=MONEY, at=day(5), by=books.by, now=NOW)
    with pytest.raises(CannotReverse) as stop:
        books.reverse(paid, on=4)
    assert stop.value.field == "at"


def test_a_reversal_into_a_closed_period_is_refused_and_one_dated_today_is_not(books: Books) -> None:
    paid = operations.pay_bill(what=Kind.ENERGY, value=MONEY, at=day(5), by=books.by, now=NOW)
    operations.close_books(until=day(10).date(), at=NOW, by=books.by)
    with pytest.raises(BooksAreClosed):
        books.reverse(paid, on=6)
    books.reverse(paid, on=41)
    assert differences() == []


def test_after_a_reversal_the_right_figure_is_entered_as_a_new_one(books: Books) -> None:
    batch, piece = books.batch(), books.workpiece()
    books.reverse(books.draw((batch, 412), to=[(piece, 1)]))
    books.draw((batch, 214), to=[(piece, 1)], on=31)
    assert fresh(batch).amount == 786
    assert differences() == []
