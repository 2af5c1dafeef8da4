from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.models import F
from django.test.utils import CaptureQueriesContext

from studio.fields.whole import LIMIT, NotWhole
from studio.ledger import operations
from studio.ledger.accounts import Account, Commodity, Component, Kind, pool
from studio.ledger.errors import BooksAreClosed, InTheFuture, NotBalanced, RunsOut, WrongAccount
from studio.ledger.journal import Entry, Leg, Line, post
from studio.people import operations as people_operations
from tests.ledger.books import MONEY, NOW, Books, counted, day, differences, fresh

RESIN, WOOD = Component.RESIN, Component.WOOD


def posted(books: Books, *legs: Leg, **more: object) -> Entry:
    given = {"kind": "adjustment", "at": day(5), "by": books.by, "now": NOW} | more
    return Entry.objects.get(pk=post(legs=legs, **given).entry_id)


def test_an_entry_says_what_happened_when_it_counts_when_it_was_written_and_by_whom(books: Books) -> None:
    piece = books.workpiece()
    legs = (Leg(piece, WOOD, 7), Leg(Kind.OVERHEAD, WOOD, -7))
    entry = posted(books, *legs, step="turn")
    assert (entry.kind, entry.step, entry.by) == ("adjustment", "turn", books.by)
    assert (entry.effective_at, entry.effective_on, entry.recorded_at) == (day(5), day(5).date(), NOW)
    assert differences() == []


def test_values_that_do_not_add_up_to_nothing_are_refused_and_nothing_stays_behind(books: Books) -> None:
    piece = books.workpiece()
    before = counted()
    with pytest.raises(NotBalanced):
        posted(books, Leg(piece, WOOD, 7), Leg(Kind.OVERHEAD, WOOD, -6))
    assert counted() == before
    assert fresh(piece).value_micro == 0


def test_amounts_that_do_not_add_up_to_nothing_for_each_material_are_refused(books: Books) -> None:
    one, other = books.batch(), books.batch()
    with pytest.raises(NotBalanced):
        posted(
            books,
            Leg(one, RESIN, amount=-5, commodity=one.commodity),
            Leg(Kind.GONE, RESIN, amount=5, commodity=other.commodity),
        )


def test_a_component_cannot_turn_into_another_on_its_way(books: Books) -> None:
    one, other = books.workpiece(resin=10), books.workpiece()
    with pytest.raises(NotBalanced):
        posted(books, Leg(one, RESIN, -10), Leg(other, WOOD, 10))


def test_nothing_at_all_is_no_entry(books: Books) -> None:
    with pytest.raises(NotBalanced):
        posted(books, Leg(books.workpiece(), WOOD, 0), Leg(Kind.OVERHEAD, WOOD, 0))


@pytest.mark.parametrize("figure", [1.0, True, "7", None, LIMIT + 1])
def test_only_whole_numbers_that_the_journal_can_count_are_posted(books: Books, figure: object) -> None:
    with pytest.raises(NotBalanced):
        posted(books, Leg(books.workpiece(), WOOD, figure), Leg(Kind.OVERHEAD, WOOD, -7))  # type: ignore[arg-type]


def test_lines_that_only_together_pass_the_limit_are_refused_too(books: Books) -> None:
    piece = books.workpiece()
    with pytest.raises(NotBalanced):
        posted(books, Leg(piece, WOOD, LIMIT), Leg(piece, WOOD, LIMIT), Leg(Kind.OVERHEAD, WOOD, -2 * LIMIT))


def test_a_balance_past_the_limit_is_refused_before_the_database_has_to(books: Books) -> None:
    piece = books.workpiece()
    posted(books, Leg(piece, WOOD, LIMIT), Leg(Kind.OVERHEAD, WOOD, -LIMIT))
    with pytest.raises(NotBalanced):
        posted(books, Leg(piece, WOOD, 1), Leg(Kind.OVERHEAD, WOOD, -1))


def test_legs_on_the_same_account_and_component_become_one_line(books: Books) -> None:
    piece = books.workpiece()
    entry = posted(books, Leg(piece, WOOD, 3), Leg(piece, WOOD, 4), Leg(Kind.OVERHEAD, WOOD, -7))
    assert list(entry.lines.filter(account=piece).values_list("value_micro", flat=True)) == [7]


def test_the_database_itself_refuses_a_second_line_of_the_same(books: Books) -> None:
    line = Line.objects.filter(account=books.workpiece(wood=10)).get()
    line.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        line.save(force_insert=True)


def test_the_day_is_the_studios_own_and_stays_when_the_zone_is_changed(books: Books) -> None:
    books.by.role = "owner"
    books.by.save()
    just_past_midnight = datetime(2024, 6, 30, 23, 30, tzinfo=UTC)
    legs = lambda piece: (Leg(piece, WOOD, 1), Leg(Kind.OVERHEAD, WOOD, -1))  # noqa: E731
    people_operations.set_setting(key="time_zone", value="Europe/Berlin", by=books.by, at=day(0))
    entry = posted(books, *legs(books.workpiece()), at=just_past_midnight)
    assert entry.effective_on == date(2024, 7, 1)
    people_operations.set_setting(key="time_zone", value="America/Lima", by=books.by, at=day(0))
    assert Entry.objects.get(pk=entry.pk).effective_on == date(2024, 7, 1)
    assert posted(books, *legs(books.workpiece()), at=just_past_midnight).effective_on == date(2024, 6, 30)
    assert differences() == []


def test_the_order_of_the_books_is_the_key_whatever_the_clock_says(books: Books) -> None:
    first = books.batch(on=9)
    second = books.batch(on=2)
    entries = [Line.objects.get(account=account).entry for account in (first, second)]
    assert entries[0].pk < entries[1].pk
    assert entries[0].effective_at > entries[1].effective_at


def test_what_is_still_to_come_is_refused(books: Books) -> None:
    piece = books.workpiece()
    for early in (timedelta(seconds=1), timedelta(days=400)):
        with pytest.raises(InTheFuture) as stop:
            posted(books, Leg(piece, WOOD, 1), Leg(Kind.OVERHEAD, WOOD, -1), at=NOW + early)
        assert stop.value.field == "at"
    abroad = NOW.astimezone(timezone(timedelta(hours=9)))
    assert posted(books, Leg(piece, WOOD, 1), Leg(Kind.OVERHEAD, WOOD, -1), at=abroad)


def test_closed_books_take_nothing_up_to_their_last_day_and_everything_after_it(books: Books) -> None:
    piece = books.workpiece()
    legs = (Leg(piece, WOOD, 1), Leg(Kind.OVERHEAD, WOOD, -1))
    operations.close_books(until=day(10).date(), at=day(40), by=books.by)
    for on in (1, 10):
        with pytest.raises(BooksAreClosed):
            posted(books, *legs, at=day(on))
    assert posted(books, *legs, at=day(11))
    assert operations.closed_until() == day(10).date()
    assert differences() == []


def test_closed_books_are_closed_on_never_back_and_never_today(books: Books) -> None:
    operations.close_books(until=day(10).date(), at=day(40), by=books.by)
    operations.close_books(until=day(20).date(), at=day(40), by=books.by)
    for until in (day(19), day(40), day(41)):
        with pytest.raises(WrongAccount):
            operations.close_books(until=until.date(), at=day(40), by=books.by)
    assert operations.closed_until() == day(20).date()


def test_a_pool_is_made_when_it_is_first_needed_and_there_is_one_of_it(books: Books) -> None:
    assert pool(Kind.WEAR) == pool(Kind.WEAR)
    with pytest.raises(IntegrityError), transaction.atomic():
        Account.objects.create(kind=Kind.WEAR)
    with pytest.raises(WrongAccount):
        posted(books, Leg(Kind.DEPOSIT, Component.MONEY, MONEY), Leg(Kind.CASH, Component.MONEY, -MONEY))
    with pytest.raises(ValueError):
        pool(Kind.BATCH)
    with pytest.raises(ValueError):
        operations.open_account(Kind.CASH)


def test_a_pool_keeps_no_balance_of_its_own(books: Books) -> None:
    books.batch()
    cash = pool(Kind.CASH)
    assert (cash.amount, cash.value_micro) == (0, 0)
    with pytest.raises(IntegrityError), transaction.atomic():
        Account.objects.filter(pk=cash.pk).update(value_micro=5)


@pytest.mark.parametrize(
    "wrong",
    [{"amount": -1}, {"value_micro": -1}, {"amount": 0, "value_micro": 1}, {"amount": LIMIT + 1}],
)
def test_the_database_itself_refuses_a_balance_that_cannot_be(books: Books, wrong: dict[str, int]) -> None:
    batch = books.batch()
    with pytest.raises(IntegrityError), transaction.atomic():
        Account.objects.filter(pk=batch.pk).update(**wrong)


def test_a_batch_takes_its_own_material_only_and_a_workpiece_takes_none(books: Books) -> None:
    batch, other, piece = books.batch(), operations.new_commodity(), books.workpiece()
    for account in (batch, piece):
        with pytest.raises(WrongAccount):
            posted(
                books,
                Leg(account, RESIN, amount=5, commodity=other),
                Leg(Kind.FOUND, RESIN, amount=-5, commodity=other),
            )


def test_an_amount_without_its_material_is_refused(books: Books) -> None:
    batch = books.batch()
    with pytest.raises(NotBalanced):
        posted(books, Leg(batch, RESIN, amount=-5), Leg(Kind.GONE, RESIN, amount=5))


def test_money_itself_lies_on_no_batch_and_no_workpiece(books: Books) -> None:
    for account in (books.batch(), books.workpiece()):
        with pytest.raises(WrongAccount):
            posted(books, Leg(account, Component.MONEY, MONEY), Leg(Kind.CASH, Component.MONEY, -MONEY))


def test_what_is_used_up_names_the_workpiece_it_went_into(books: Books) -> None:
    batch = books.batch()
    for towards in (None, batch):
        with pytest.raises(WrongAccount):
            posted(
                books,
                Leg(batch, RESIN, amount=-5, commodity=batch.commodity),
                Leg(Kind.USED_UP, RESIN, amount=5, commodity=batch.commodity, towards=towards),
            )


def test_a_workpiece_cannot_hand_on_more_of_a_component_than_lies_on_it(books: Books) -> None:
    piece, other = books.workpiece(wood=100, resin=10), books.workpiece()
    with pytest.raises(RunsOut) as stop:
        books.move(piece, [(other, 1)], resin=11)
    assert (stop.value.account, stop.value.has, stop.value.wants) == (piece, 10, 11)
    books.move(piece, [(other, 1)], resin=10)
    assert differences() == []


def test_counted_things_and_weighed_ones_are_kept_apart(books: Books) -> None:
    counted_ = operations.new_commodity(counted=True)
    assert counted_.measure == "counted"
    assert operations.new_commodity().measure == "weighed"
    assert Commodity.objects.count() == 2


def test_posting_takes_the_same_number_of_queries_however_long_the_history(books: Books) -> None:
    batch, piece = books.batch(amount=10_000), books.workpiece()
    books.draw((batch, 1), to=[(piece, 1)])
    with CaptureQueriesContext(connection) as short:
        books.draw((batch, 1), to=[(piece, 1)])
    for on in range(3, 40):
        books.draw((batch, 1), to=[(piece, 1)], on=on)
    with CaptureQueriesContext(connection) as long:
        books.draw((batch, 1), to=[(piece, 1)])
    assert len(long) == len(short) <= 16


def test_floats_and_decimals_cannot_reach_a_balance_through_an_expression(books: Books) -> None:
    batch = books.batch()
    for amount in (Decimal("2.5"), 2.5):
        with pytest.raises(NotWhole), transaction.atomic():
            Account.objects.filter(pk=batch.pk).update(amount=F("amount") - amount)
    assert fresh(batch).amount == 1000
