import pytest

from studio.ledger import operations
from studio.ledger.accounts import Component, Kind
from studio.ledger.errors import WrongAccount
from studio.ledger.journal import Entry, Leg
from tests.ledger.books import MONEY, NOW, Books, day, differences, fresh, parts_of, pool_value
from tests.ledger.test_draws import _fill


def test_a_late_bill_is_shared_between_what_is_left_and_who_drew(books: Books) -> None:
    batch, piece = books.batch(1000, 50 * MONEY), books.workpiece()
    books.draw((batch, 300), to=[(piece, 1)])
    posted = books.late(batch, 10 * MONEY)
    assert fresh(batch).value_micro == 35 * MONEY + 7 * MONEY
    assert parts_of(piece) == {"resin": 18 * MONEY}
    assert posted.effective_on == day(20).date()
    assert pool_value(Kind.CASH) == -60 * MONEY
    assert differences() == []


def test_nothing_that_happened_before_is_changed_by_it(books: Books) -> None:
    batch, piece = books.batch(), books.workpiece()
    drawn = books.draw((batch, 300), to=[(piece, 1)])
    before = list(Entry.objects.get(pk=drawn.entry_id).lines.order_by("pk").values())
    books.late(batch, 10 * MONEY)
    assert list(Entry.objects.get(pk=drawn.entry_id).lines.order_by("pk").values()) == before


def test_a_piece_sold_meanwhile_hands_its_share_to_the_cost_of_sales(books: Books) -> None:
    batch = books.batch(1000, 50 * MONEY)
    sold, lost = books.workpiece(), books.workpiece()
    books.draw((batch, 200), (batch, 200), to=[(sold, 1)])
    books.draw((batch, 100), to=[(lost, 1)])
    for account, heir in ((sold, Kind.COST_OF_SALES), (lost, Kind.LOSS_UNUSUAL)):
        books.move(account, [(heir, 1)], **parts_of(account))
        operations.close_account(account=account, successor=heir, at=day(5))
    sales, losses = pool_value(Kind.COST_OF_SALES), pool_value(Kind.LOSS_UNUSUAL)
    books.late(batch, 10 * MONEY)
    assert pool_value(Kind.COST_OF_SALES) - sales == 4 * MONEY
    assert pool_value(Kind.LOSS_UNUSUAL) - losses == 1 * MONEY
    assert fresh(batch).value_micro == 30 * MONEY
    assert differences() == []


def test_a_draw_taken_back_is_not_counted(books: Books) -> None:
    batch, piece, other = books.batch(1000, 50 * MONEY), books.workpiece(), books.workpiece()
    books.reverse(books.draw((batch, 300), to=[(piece, 1)]), on=4)
    books.draw((batch, 500), to=[(other, 1)], on=5)
    books.late(batch, 10 * MONEY)
    assert parts_of(piece) == {}
    assert parts_of(other) == {"resin": 30 * MONEY}


def test_a_draw_from_two_batches_taken_back_leaves_nothing_of_either(books: Books) -> None:
    """Rounded one way for a draw and the other way for its reversal, a milligram of it would remain."""
    material = operations.new_commodity()
    one = books.batch(101, 1 * MONEY, commodity=material)
    two = books.batch(100, 1 * MONEY, commodity=material)
    piece, other = books.workpiece(), books.workpiece()
    posted = books.draw((one, 1), (two, 2), to=[(piece, 1), (other, 1)])
    books.reverse(posted, on=4)
    books.late(one, 101 * MONEY)
    assert parts_of(piece) == parts_of(other) == {}
    assert fresh(one).value_micro == 102 * MONEY


def test_only_the_part_that_came_out_of_this_batch_bears_its_bill(books: Books) -> None:
    material = operations.new_commodity()
    one = books.batch(100, 1 * MONEY, commodity=material)
    two = books.batch(100, 1 * MONEY, commodity=material)
    piece = books.workpiece()
    books.draw((one, 100), (two, 50), to=[(piece, 1)])
    books.late(two, 10 * MONEY)
    assert parts_of(piece) == {"resin": 1_500_000 + 5 * MONEY}
    assert fresh(two).value_micro == 500_000 + 5 * MONEY


def test_what_went_missing_bears_its_share_in_the_pool_of_what_is_missing(books: Books) -> None:
    batch = books.batch(1000, 50 * MONEY)
    operations.post(
        kind="count",
        legs=[
            Leg(batch, Component.RESIN, -5 * MONEY, -100, batch.commodity),
            Leg(Kind.GONE, Component.RESIN, amount=100, commodity=batch.commodity),
            Leg(Kind.SHRINKAGE, Component.RESIN, 5 * MONEY),
        ],
        at=day(3),
        by=books.by,
        now=NOW,
    )
    books.late(batch, 10 * MONEY)
    assert pool_value(Kind.SHRINKAGE) == 6 * MONEY
    assert differences() == []


def test_a_bill_on_a_batch_that_went_through_a_bath_reaches_those_who_drank(books: Books) -> None:
    """The bath is empty by then and can carry nothing: without going on through it, the bill could not be entered."""
    batch = books.batch(1000, 50 * MONEY)
    bath = operations.open_account(Kind.BATH, commodity=batch.commodity)
    pieces = [books.workpiece(), books.workpiece()]
    _fill(books, batch, bath, 400, on=2)
    books.draw((bath, 100), to=[(pieces[0], 1)], on=3, component=Component.STABILIZING)
    books.draw((bath, 300), to=[(pieces[1], 1)], on=4, component=Component.STABILIZING)
    books.late(batch, 10 * MONEY)
    assert [fresh(piece).value_micro for piece in pieces] == [6 * MONEY, 18 * MONEY]
    assert (fresh(bath).amount, fresh(bath).value_micro) == (0, 0)
    assert fresh(batch).value_micro == 36 * MONEY
    assert differences() == []


def test_what_is_still_in_the_bath_bears_its_share_there(books: Books) -> None:
    batch, piece = books.batch(1000, 50 * MONEY), books.workpiece()
    bath = operations.open_account(Kind.BATH, commodity=batch.commodity)
    _fill(books, batch, bath, 400, on=2)
    books.draw((bath, 100), to=[(piece, 1)], on=3, component=Component.STABILIZING)
    books.late(batch, 10 * MONEY)
    assert fresh(bath).value_micro == 15 * MONEY + 3 * MONEY
    assert fresh(piece).value_micro == 6 * MONEY


def test_a_refund_is_a_late_bill_below_nothing(books: Books) -> None:
    batch, piece = books.batch(1000, 50 * MONEY), books.workpiece()
    books.draw((batch, 300), to=[(piece, 1)])
    books.late(batch, -50 * MONEY)
    assert (fresh(batch).value_micro, fresh(piece).value_micro) == (0, 0)
    assert pool_value(Kind.CASH) == 0
    assert differences() == []


def test_nobody_bears_more_of_a_refund_than_lies_on_him(books: Books) -> None:
    """A lump that was cut since has handed its resin on: the rest of its share lowers the overhead."""
    batch, lump, blank = books.batch(1000, 50 * MONEY), books.workpiece(wood=3 * MONEY), books.workpiece()
    before = pool_value(Kind.OVERHEAD)
    books.draw((batch, 400), to=[(lump, 1)])
    books.move(lump, [(blank, 1)], resin=18 * MONEY)
    books.late(batch, -10 * MONEY)
    assert parts_of(lump) == {"wood": 3 * MONEY}
    assert parts_of(blank) == {"resin": 18 * MONEY}
    assert fresh(batch).value_micro == 24 * MONEY
    assert pool_value(Kind.OVERHEAD) - before == -2 * MONEY
    assert differences() == []


def test_a_refund_of_everything_works_out_though_the_draws_were_rounded(books: Books) -> None:
    batch, piece = books.batch(3, 110_000), books.workpiece()
    books.draw((batch, 1), to=[(piece, 1)])
    books.late(batch, -110_000)
    assert fresh(piece).value_micro >= 0
    assert fresh(batch).value_micro + fresh(piece).value_micro <= 1
    assert differences() == []


def test_a_bill_for_an_untouched_batch_stays_on_it_and_for_an_empty_one_leaves_it(books: Books) -> None:
    batch, piece = books.batch(1000, 50 * MONEY), books.workpiece()
    books.late(batch, 10 * MONEY, on=2)
    assert fresh(batch).value_micro == 60 * MONEY
    books.draw((batch, 1000), to=[(piece, 1)], on=3)
    books.late(batch, 10 * MONEY)
    assert fresh(piece).value_micro == 70 * MONEY
    assert differences() == []


def test_a_late_bill_has_to_have_somewhere_to_go(books: Books) -> None:
    bought = operations.open_account(Kind.BATCH, commodity=operations.new_commodity())
    with pytest.raises(WrongAccount):
        books.late(bought, MONEY)
    with pytest.raises(WrongAccount):
        books.late(books.workpiece(), MONEY)
