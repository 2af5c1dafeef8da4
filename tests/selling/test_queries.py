from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.ledger.accounts import Kind
from studio.ledger.operations import open_account
from studio.people.models import Client
from studio.selling import operations, queries
from studio.selling.models import ClientAccount, Gallery
from tests.selling.shelf import BEGAN, MM, MONEY, PER_CENT, a_piece, day, many


def counted(read) -> int:
    with CaptureQueriesContext(connection) as seen:
        read()
    return len(seen)


def test_the_list_says_what_each_gallery_holds_asks_and_owes(make, harbour, mill, owner):
    one, two, three = make("41"), make("42", asking=450), make("43")
    operations.leave_with(pieces=[one, two], gallery=harbour, at=day(2), by=owner)
    operations.leave_with(pieces=[three], gallery=mill, at=day(2), by=owner)
    operations.sell(piece=three, gallery=mill, price_micro=300 * MONEY, at=day(3), by=owner)
    first, second = queries.galleries()
    assert (first.gallery, first.held, first.asking_micro, first.debt) == (harbour, 2, 750 * MONEY, queries.Debt())
    assert (second.gallery, second.held, second.asking_micro) == (mill, 0, 0)
    assert (second.debt.owed_micro, second.debt.oldest_on) == (150 * MONEY, day(3).date())
    assert [second.debt.overdue(day(n).date()) for n in (33, 34)] == [False, True]
    assert [row.gallery for row in queries.galleries(search="MILL")] == [mill]


def test_a_gallerys_page_shows_what_it_holds_since_when_and_what_passed(make, harbour, owner):
    early, late, gone = make("41"), make("42"), make("43")
    operations.leave_with(pieces=[late], gallery=harbour, at=day(4), by=owner)
    operations.leave_with(pieces=[early, gone], gallery=harbour, at=day(2), by=owner)
    sale = operations.sell(piece=gone, gallery=harbour, price_micro=300 * MONEY, at=day(5), by=owner)
    payment = operations.record_payment(gallery=harbour, amount_micro=80 * MONEY, at=day(6), by=owner)
    page = queries.gallery_page(harbour.pk)
    assert [row.piece for row in page.held] == [early, late]
    assert (page.asking_micro, page.sales, page.payments) == (600 * MONEY, (sale,), (payment,))
    assert (page.debt.owed_micro, page.debt.oldest_on) == (100 * MONEY, day(5).date())
    assert queries.gallery_page(0) is None


def test_sold_like_takes_the_form_and_the_longest_side(owner):
    prices = []
    for number, wide, form, price in (
        ("41", 100, "bowl", 200), ("42", 200, "bowl", 300), ("43", 400, "bowl", 900), ("44", 200, "vase", 500),
    ):  # fmt: skip
        piece = a_piece(owner, number, form=form, diameter_um=wide * MM)
        operations.sell(piece=piece, price_micro=price * MONEY, at=day(1) + timedelta(days=wide), by=owner)
        prices.append(price)
    a_piece(owner, "45", diameter_um=200 * MM)
    assert queries.sold_like("bowl") == [(200 * MONEY, 100), (300 * MONEY, 200), (900 * MONEY, 400)]
    assert queries.sold_like("bowl", 150 * MM, 250 * MM) == [(300 * MONEY, 200)]
    assert queries.sold_like("platter") == []
    assert (queries.unsold_like("bowl"), queries.unsold_like("bowl", 201 * MM), queries.unsold_like("vase")) == (
        1,
        0,
        0,
    )


def test_a_sale_taken_back_is_no_price_to_go_by(bowl, owner):
    sale = operations.sell(piece=bowl, price_micro=300 * MONEY, at=day(2), by=owner)
    operations.take_back_sale(sale=sale, why="wrong bowl", at=day(3), by=owner)
    assert (queries.sold_like("bowl"), queries.unsold_like("bowl")) == ([], 1)


def test_the_list_of_sales_is_searched_and_bounded(make, harbour, orla, owner):
    one, two = make("41"), make("42")
    operations.leave_with(pieces=[two], gallery=harbour, at=day(2), by=owner)
    first = operations.sell(piece=one, client=orla, price_micro=300 * MONEY, at=day(3), by=owner)
    second = operations.sell(piece=two, gallery=harbour, price_micro=300 * MONEY, at=day(9), by=owner)
    assert list(queries.sold()) == [second, first]
    assert list(queries.sold(text="Bowl 41")) == [first]
    assert list(queries.sold(gallery_id=harbour.pk)) == [second]
    assert list(queries.sold(client_id=orla.pk)) == [first]
    assert list(queries.sold(since=day(4).date())) == [second]
    assert list(queries.sold(until=day(4).date())) == [first]


@pytest.fixture
def clients_who_owe(owner):
    def add(count: int) -> None:
        people = Client.objects.bulk_create(
            [Client(name=f"C {n}", name_search=f"c {n}", added_by=owner, added_at=BEGAN) for n in range(count)]
        )
        accounts = [open_account(Kind.CLIENT_OWES) for _ in people]
        ClientAccount.objects.bulk_create(
            [ClientAccount(client=client, account=account) for client, account in zip(people, accounts, strict=True)]
        )

    return add


def read_all(gallery: Gallery, keys: list[int]):
    """Every list, named, read the way a page reads it."""
    return {
        "galleries": lambda: queries.galleries(),
        "gallery_page": lambda: [str(row.piece) for row in queries.gallery_page(gallery.pk).held],
        "sales on the page": lambda: [str(row.piece) for row in queries.gallery_page(gallery.pk).sales],
        "where_is": lambda: [there.words for there in queries.where_is(keys).values()],
        "sold": lambda: [(str(row.piece), str(row.gallery), row.piece.title) for row in queries.sold()],
        "sold_like": lambda: queries.sold_like("bowl", 1, 10**9),
        "unsold_like": lambda: queries.unsold_like("bowl", 1, 10**9),
        "clients_owing": lambda: queries.clients_owing(),
        "waits": lambda: queries.waits(day(100)),
    }


def test_every_list_reads_as_often_at_a_thousand_rows_as_at_ten(harbour, owner, clients_who_owe):
    rows = many(harbour, 10, sold=False) + many(harbour, 10, sold=True, start=2000)
    clients_who_owe(10)
    few = {name: counted(read) for name, read in read_all(harbour, [row.pk for row in rows]).items()}
    rows += many(harbour, 990, sold=False, start=10_000) + many(harbour, 990, sold=True, start=20_000)
    clients_who_owe(990)
    for number in range(100):
        late = operations.add_gallery(name=f"G {number}", share_ppm=PER_CENT, at=BEGAN, by=owner)
        many(late, 1, sold=True, start=50_000 + number)
    keys = [row.pk for row in rows]
    lots = {name: counted(read) for name, read in read_all(harbour, keys).items()}
    assert lots == few
    assert few["galleries"] == 4
    assert few["where_is"] == 3
    assert few["sold"] == 1
    assert (len(queries.sold_like("bowl")), queries.unsold_like("bowl")) == (1100, 1000)
    assert len(queries.waits(day(100))) == 101
    (row,) = [row for row in queries.galleries() if row.gallery == harbour]
    assert (row.held, row.debt.owed_micro) == (1000, 1000 * MONEY)


def test_a_counter_that_reads_each_row_is_seen_by_that_test(harbour):
    few = many(harbour, 2, sold=False)
    lots = [*few, *many(harbour, 5, sold=False, start=5000)]

    def one_by_one(rows):
        return lambda: [queries.where_is([row.pk]) for row in rows]

    assert counted(one_by_one(few)) != counted(one_by_one(lots))
