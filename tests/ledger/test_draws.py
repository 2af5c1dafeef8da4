from itertools import permutations

import pytest

from studio.ledger import operations, queries
from studio.ledger.accounts import Component, Kind
from studio.ledger.errors import RanOutLater, RunsOut, WrongAccount
from studio.ledger.journal import Line
from studio.ledger.operations import Draw
from tests.ledger.books import MONEY, NOW, Books, counted, day, differences, fresh, parts_of


def test_a_draw_leaves_at_the_batchs_own_cost_and_reaches_the_workpiece(books: Books) -> None:
    batch, piece = books.batch(1000, 50 * MONEY), books.workpiece()
    books.draw((batch, 250), to=[(piece, 1)], step="cast")
    assert (fresh(batch).amount, fresh(batch).value_micro) == (750, 37_500_000)
    assert parts_of(piece) == {"resin": 12_500_000}
    assert differences() == []


def test_the_last_unit_takes_the_rest(books: Books) -> None:
    batch, piece = books.batch(3, 10 * MONEY), books.workpiece()
    drawn = []
    for on in (2, 3, 4):
        before = fresh(batch).value_micro
        books.draw((batch, 1), to=[(piece, 1)], on=on)
        drawn.append(before - fresh(batch).value_micro)
    assert drawn == [3_333_333, 3_333_333, 3_333_334]
    assert (fresh(batch).amount, fresh(batch).value_micro) == (0, 0)
    assert fresh(piece).value_micro == 10 * MONEY


def test_draws_on_one_batch_commute(books: Books) -> None:
    """To within a millionth for each draw, and exactly in what they come to together."""
    found = []
    for order in permutations((170, 301, 77)):
        batch = books.batch(997, 50 * MONEY)
        pieces = {amount: books.workpiece() for amount in order}
        for amount in order:
            books.draw((batch, amount), to=[(pieces[amount], 1)])
        worth = [fresh(pieces[amount]).value_micro for amount in sorted(pieces)]
        assert sum(worth) + fresh(batch).value_micro == 50 * MONEY
        found.append(worth)
    for values in zip(*found, strict=True):
        assert max(values) - min(values) <= 1


def test_a_back_dated_draw_reprices_nothing_else(books: Books) -> None:
    batch, early, late = books.batch(1000, 50 * MONEY, on=1), books.workpiece(), books.workpiece()
    books.draw((batch, 100), to=[(late, 1)], on=50)
    before = parts_of(late)
    books.draw((batch, 100), to=[(early, 1)], on=2)
    assert parts_of(late) == before == parts_of(early)
    assert differences() == []


def test_more_than_there_is_is_refused_and_says_how_much_there_is(books: Books) -> None:
    batch, piece = books.batch(1000), books.workpiece()
    before = counted()
    with pytest.raises(RunsOut) as stop:
        books.draw((batch, 1001), to=[(piece, 1)])
    assert (stop.value.code, stop.value.account, stop.value.has, stop.value.wants) == ("runs_out", batch, 1000, 1001)
    assert counted() == before


def test_a_draw_dated_before_the_purchase_is_refused(books: Books) -> None:
    batch, piece = books.batch(on=10), books.workpiece()
    with pytest.raises(RanOutLater) as stop:
        books.draw((batch, 1), to=[(piece, 1)], on=9)
    assert (stop.value.field, stop.value.account) == ("at", batch)
    books.draw((batch, 1), to=[(piece, 1)], on=10)


def test_a_back_dated_draw_that_leaves_a_later_day_short_is_refused(books: Books) -> None:
    """A bath that ran low and was filled again: today's balance would bear it, the day in between would not."""
    batch = books.batch(1000, 50 * MONEY, on=1)
    bath = operations.open_account(Kind.BATH, commodity=batch.commodity)
    piece = books.workpiece()
    _fill(books, batch, bath, 100, on=2)
    books.draw((bath, 90), to=[(piece, 1)], on=5, component=Component.STABILIZING)
    _fill(books, batch, bath, 100, on=9)
    with pytest.raises(RanOutLater):
        books.draw((bath, 11), to=[(piece, 1)], on=4, component=Component.STABILIZING)
    books.draw((bath, 10), to=[(piece, 1)], on=4, component=Component.STABILIZING)
    books.draw((bath, 11), to=[(piece, 1)], on=9, component=Component.STABILIZING)
    assert differences() == []


def test_a_bath_gives_at_the_average_cost_of_what_went_into_it(books: Books) -> None:
    material = operations.new_commodity()
    cheap = books.batch(1000, 10 * MONEY, commodity=material)
    dear = books.batch(1000, 30 * MONEY, commodity=material)
    bath = operations.open_account(Kind.BATH, commodity=material)
    _fill(books, cheap, bath, 500, on=2)
    _fill(books, dear, bath, 500, on=2)
    piece = books.workpiece()
    books.draw((bath, 100), to=[(piece, 1)], on=3, component=Component.STABILIZING)
    assert fresh(piece).value_micro == 2 * MONEY


def test_a_draw_across_batches_says_which_and_costs_each_at_its_own(books: Books) -> None:
    material = operations.new_commodity()
    old = books.batch(100, 1 * MONEY, commodity=material)
    new = books.batch(100, 3 * MONEY, commodity=material)
    piece = books.workpiece()
    posted = books.draw((old, 100), (new, 50), to=[(piece, 1)])
    taken = Line.objects.filter(entry=posted.entry_id, amount__lt=0).values_list("account", "amount", "value_micro")
    assert set(taken) == {(old.pk, -100, -1 * MONEY), (new.pk, -50, -1_500_000)}
    assert fresh(piece).value_micro == 2_500_000


def test_two_draws_on_one_batch_in_one_entry_are_taken_one_after_the_other(books: Books) -> None:
    batch, piece = books.batch(3, 10 * MONEY), books.workpiece()
    books.draw((batch, 1), (batch, 2), to=[(piece, 1)])
    assert (fresh(batch).amount, fresh(batch).value_micro) == (0, 0)
    again = books.batch(3, 10 * MONEY)
    with pytest.raises(RunsOut):
        books.draw((again, 2), (again, 2), to=[(piece, 1)])


def test_a_draw_is_shared_by_weight_to_the_last_millionth_and_milligram(books: Books) -> None:
    batch = books.batch(1000, 50 * MONEY)
    pieces = [books.workpiece() for _ in range(3)]
    books.draw((batch, 100), to=[(pieces[0], 1), (pieces[1], 1), (pieces[2], 1)])
    assert [fresh(piece).value_micro for piece in pieces] == [1_666_667, 1_666_667, 1_666_666]
    used = queries.used_by([piece.pk for piece in pieces])
    assert [used[piece.pk][batch.commodity_id] for piece in pieces] == [34, 33, 33]


def test_free_material_is_used_up_like_any_other(books: Books) -> None:
    batch, piece = books.batch(100, 0), books.workpiece()
    books.draw((batch, 40), to=[(piece, 1)])
    assert fresh(piece).value_micro == 0
    assert queries.used_by([piece.pk]) == {piece.pk: {batch.commodity_id: 40}}
    assert differences() == []


def test_what_goes_into_no_workpiece_is_not_used_up_by_one(books: Books) -> None:
    batch = books.batch()
    with pytest.raises(WrongAccount):
        operations.use_up(
            draws=[Draw(batch, 5, Component.RESIN)],
            shares=[(operations.pool(Kind.OVERHEAD), 1)],
            at=day(2),
            by=books.by,
            now=NOW,
        )


def _fill(books: Books, batch, bath, amount: int, *, on: int) -> None:  # type: ignore[no-untyped-def]
    held = operations.lock([batch, bath])
    row = held[batch.pk]
    value = row.value_micro * amount // row.amount
    operations.post(
        kind="fill_bath",
        legs=[
            operations.Leg(batch, Component.STABILIZING, -value, -amount, batch.commodity),
            operations.Leg(bath, Component.STABILIZING, value, amount, batch.commodity),
        ],
        at=day(on),
        by=books.by,
        now=NOW,
    )
