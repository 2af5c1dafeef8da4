from datetime import date, timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from studio.ledger.accounts import Kind
from studio.ledger.operations import pay_bill
from studio.people.models import Supplier
from studio.pictures.models import Picture
from studio.wood import operations, queries
from studio.wood.errors import NotLikeThat, PostedAlready
from studio.wood.models import Bill, Purchase, PurchasePicture, Species

from .conftest import AT, COIN


@pytest.fixture
def supplier(owner):
    return Supplier.objects.create(name="Old saw yard", added_by=owner, added_at=AT)


@pytest.fixture
def picture(owner):
    return Picture.objects.create(
        sha256="a" * 64,
        name="b" * 32,
        width=10,
        height=10,
        large_sha256="c" * 64,
        small_sha256="d" * 64,
        uploaded_by=owner,
        at=AT,
    )


@pytest.fixture
def some_entry(owner) -> int:
    return pay_bill(what=Kind.OVERHEAD, value=COIN, at=AT, by=owner).entry_id


def whole(supplier) -> dict:
    return {
        "species": Species.objects.get(common_name="Olive"),
        "species_certainty": "likely",
        "kind": "burr",
        "where_it_stood": "below the mill",
        "country": "IT",
        "supplier": supplier,
        "waxed": "no",
    }


def test_at_the_truck_only_the_price_is_asked_and_the_rest_waits(owner):
    bought = operations.record_purchase(paid_micro=80 * COIN, at=AT, by=owner)
    assert bought.bought_on == date(2025, 3, 10)
    assert len(bought.still_to_fill_in) == 7
    assert queries.purchases_with_rest_waiting() == [bought]


def test_what_is_filled_in_later_leaves_the_desk_list(owner, supplier):
    bought = operations.record_purchase(paid_micro=80 * COIN, at=AT, by=owner)
    given = whole(supplier)
    last = given.popitem()
    changed = operations.describe_purchase(purchase=bought, at=AT, by=owner, **given)
    assert changed.still_to_fill_in == ("waxed or not",)
    assert queries.purchases_with_rest_waiting() == [bought]
    changed = operations.describe_purchase(purchase=bought, at=AT, by=owner, **dict([last]))
    assert changed.still_to_fill_in == ()
    assert queries.purchases_with_rest_waiting() == []


@pytest.mark.parametrize("missing", ["species", "species_certainty", "kind", "where_it_stood", "country",
                                     "supplier", "waxed"])  # fmt: skip
def test_the_list_and_the_row_agree_on_what_is_missing(owner, supplier, missing):
    given = whole(supplier)
    del given[missing]
    bought = operations.record_purchase(paid_micro=COIN, at=AT, by=owner, **given)
    assert len(bought.still_to_fill_in) == 1
    assert queries.purchases_with_rest_waiting() == [bought]


def test_found_wood_came_from_nobody(owner, supplier):
    given = whole(supplier)
    del given["supplier"]
    found = operations.record_purchase(how="found", market_value_micro=40 * COIN, at=AT, by=owner, **given)
    assert found.still_to_fill_in == ()
    assert queries.purchases_with_rest_waiting() == []


def test_when_nobody_will_ever_know_more_it_leaves_the_list(owner):
    bought = operations.record_purchase(paid_micro=COIN, at=AT, by=owner)
    operations.describe_purchase(purchase=bought, that_is_all=True, at=AT, by=owner)
    assert queries.purchases_with_rest_waiting() == []


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"paid_micro": -COIN}, "paid"),
        ({"paid_micro": 1}, "paid"),
        ({"carriage_micro": 5}, "carriage"),
        ({"how": "gift", "paid_micro": COIN}, "paid"),
        ({"how": "stolen"}, "how"),
        ({"market_value_micro": COIN}, "market_value"),
        ({"bought_on": date(2025, 3, 11)}, "bought_on"),
        ({"country": "XX"}, "country"),
        ({"kind": "brick"}, "kind"),
        ({"species_certainty": "quite"}, "species_certainty"),
        ({"waxed": ""}, "waxed"),
        ({"where_it_stood": "x" * 201}, "where_it_stood"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field_and_nothing_is_stored(owner, wrong, field):
    with pytest.raises(NotLikeThat) as refused:
        operations.record_purchase(at=AT, by=owner, **wrong)
    assert refused.value.field == field
    assert not Purchase.objects.exists()


def test_a_gift_may_cost_its_carriage(owner):
    given = operations.record_purchase(
        how="gift", market_value_micro=90 * COIN, carriage_micro=8 * COIN, at=AT, by=owner
    )
    assert given.cash_micro == 8 * COIN


def test_the_database_itself_keeps_gifts_free(owner):
    with pytest.raises(IntegrityError), transaction.atomic():
        Purchase.objects.create(how="gift", paid_micro=COIN, bought_on=AT.date(), at=AT, by=owner)


def test_the_price_is_put_right_until_it_lies_on_the_lumps(owner, some_entry):
    bought = operations.record_purchase(paid_micro=80 * COIN, at=AT, by=owner)
    fixed = operations.correct_payment(purchase=bought, how="bought", paid_micro=60 * COIN, at=AT, by=owner)
    assert fixed.paid_micro == 60 * COIN
    operations.charged_to(row=bought, entry_id=some_entry)
    with pytest.raises(PostedAlready):
        operations.correct_payment(purchase=bought, how="bought", paid_micro=50 * COIN, at=AT, by=owner)
    with pytest.raises(PostedAlready):
        operations.charged_to(row=bought, entry_id=some_entry)


def test_filling_in_the_rest_never_touches_the_money(owner, supplier, some_entry):
    bought = operations.record_purchase(paid_micro=80 * COIN, at=AT, by=owner)
    operations.charged_to(row=bought, entry_id=some_entry)
    with pytest.raises(TypeError):
        operations.describe_purchase(purchase=bought, paid_micro=1, at=AT, by=owner)
    changed = operations.describe_purchase(purchase=bought, at=AT, by=owner, **whole(supplier))
    assert (changed.paid_micro, changed.entry_id) == (80 * COIN, some_entry)


def test_a_later_bill_comes_after_the_wood_and_is_something(owner):
    bought = operations.record_purchase(paid_micro=COIN, at=AT, by=owner)
    later = AT + timedelta(days=9)
    bill = operations.record_bill(purchase=bought, amount_micro=12 * COIN, what="carriage", at=later, by=owner)
    assert (bill.on, bill.entry_id) == (date(2025, 3, 19), None)
    for wrong in (
        {"amount_micro": 0},
        {"amount_micro": 5},
        {"what": " "},
        {"on": date(2025, 3, 9)},
        {"on": date(2025, 3, 20)},
    ):
        given = {"amount_micro": COIN, "what": "sawing", **wrong}
        with pytest.raises(NotLikeThat):
            operations.record_bill(purchase=bought, at=later, by=owner, **given)
    assert Bill.objects.count() == 1


def test_what_is_on_no_lump_yet_is_listed(owner, some_entry):
    free = operations.record_purchase(how="found", at=AT, by=owner)
    bought = operations.record_purchase(paid_micro=COIN, at=AT, by=owner)
    bill = operations.record_bill(purchase=bought, amount_micro=COIN, what="sawing", at=AT, by=owner)
    assert queries.uncharged() == ([bought], [bill])
    operations.charged_to(row=bought, entry_id=some_entry)
    operations.charged_to(row=bill, entry_id=some_entry)
    assert queries.uncharged() == ([], [])
    assert free.entry_id is None


def test_the_same_photograph_lies_with_a_purchase_once(owner, picture):
    bought = operations.record_purchase(at=AT, by=owner)
    first = operations.add_picture(purchase=bought, picture=picture, caption="on the truck", at=AT, by=owner)
    again = operations.add_picture(purchase=bought, picture=picture, at=AT, by=owner)
    assert first == again
    assert PurchasePicture.objects.get().caption == "on the truck"
    operations.remove_picture(link=first, at=AT, by=owner)
    assert not PurchasePicture.objects.exists()


def test_every_list_takes_as_many_queries_at_1000_rows_as_at_10(owner, supplier):
    olive = Species.objects.get(common_name="Olive")

    def make(count: int) -> None:
        rows = Purchase.objects.bulk_create(
            Purchase(bought_on=AT.date(), at=AT, by=owner, species=olive, supplier=supplier, paid_micro=COIN)
            for _ in range(count)
        )
        Bill.objects.bulk_create(
            Bill(purchase=rows[0], amount_micro=COIN, what="sawing", on=AT.date(), at=AT, by=owner)
            for _ in range(count)
        )
        Species.objects.bulk_create(
            Species(common_name=f"wood {row.pk}", name_search=f"wood {row.pk}") for row in rows
        )

    def counted() -> dict[str, int]:
        first = Purchase.objects.order_by("pk").first()
        asked = {
            "waiting": lambda: [
                (row.species.common_name, row.still_to_fill_in) for row in queries.purchases_with_rest_waiting()
            ],
            "waits": lambda: [one.reason for one in queries.waits(AT)],
            "purchases": lambda: [(str(row.species), str(row.supplier)) for row in queries.purchases()],
            "one": lambda: [str(bill.by) for bill in queries.purchase(first.pk).bills.all()],
            "uncharged": lambda: [bill.purchase.paid_micro for bill in queries.uncharged()[1]],
            "species": lambda: [row.common_name for row in queries.species_list("wood")],
        }
        found = {}
        for name, ask in asked.items():
            with CaptureQueriesContext(connection) as seen:
                ask()
            found[name] = len(seen)
        return found

    make(10)
    ten = counted()
    make(990)
    assert counted() == ten
    assert (ten["waiting"], ten["one"]) == (1, 3)


def test_the_desk_list_reads_no_money(owner):
    operations.record_purchase(paid_micro=80 * COIN, at=AT, by=owner)
    with CaptureQueriesContext(connection) as seen:
        queries.purchases_with_rest_waiting()
        queries.purchases(costs=False)
    sql = " ".join(query["sql"] for query in seen.captured_queries)
    assert "paid_micro" not in sql.replace('NOT ("wood_purchase"."paid_micro"', "")


def test_the_desk_hears_what_is_still_to_be_filled_in(owner, supplier):
    given = whole(supplier)
    del given["where_it_stood"]
    bought = operations.record_purchase(paid_micro=COIN, at=AT, by=owner, **given)
    operations.record_purchase(paid_micro=COIN, at=AT, by=owner, **whole(supplier))
    (told,) = queries.waits(AT)
    assert (told.place, told.subject, told.about) == (
        "desk",
        "Olive of 10 March 2025",
        ("wood.purchase", bought.pk),
    )
    assert told.reason == "still open: where it stood"
