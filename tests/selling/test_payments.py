import pytest
from django.db import IntegrityError, transaction

from studio.fields.errors import Refused
from studio.ledger.accounts import Kind
from studio.ledger.errors import InTheFuture
from studio.people import operations as people
from studio.selling import operations, queries
from studio.selling.errors import CannotTakeBack, MoreThanOwed, NotLikeThat
from studio.selling.models import Payment
from tests.selling.shelf import COIN, DAY, MONEY, a_piece, day, differences, pool


@pytest.fixture
def sold(bowl, harbour, owner):
    """Sold at 300: the harbour owes 180 from the third day on."""
    operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)
    return operations.sell(piece=bowl, gallery=harbour, price_micro=300 * MONEY, at=day(3), by=owner)


def owes(gallery):
    return queries.gallery_page(gallery.pk).debt.owed_micro


def test_a_payment_lowers_what_is_owed_and_comes_into_the_cash(sold, harbour, owner):
    operations.record_payment(gallery=harbour, amount_micro=100 * MONEY, at=day(9), by=owner)
    assert (owes(harbour), pool(Kind.CASH)) == (80 * MONEY, 0)  # the lump had cost 100
    operations.record_payment(gallery=harbour, amount_micro=80 * MONEY, at=day(10), by=owner)
    assert owes(harbour) == 0
    assert differences() == ()


def test_more_than_is_owed_is_asked_about_and_taken_when_confirmed(sold, harbour, owner):
    with pytest.raises(MoreThanOwed, match=r"owes 180\.00, and this is 190\.00") as stop:
        operations.record_payment(gallery=harbour, amount_micro=190 * MONEY, at=day(9), by=owner)
    assert (stop.value.code, stop.value.field, Payment.objects.count()) == ("more_than_owed", "amount", 0)
    operations.record_payment(gallery=harbour, amount_micro=190 * MONEY, confirm=True, at=day(9), by=owner)
    assert owes(harbour) == -10 * MONEY


def test_what_stands_to_their_credit_is_paid_back_and_no_more(sold, harbour, owner):
    operations.record_payment(gallery=harbour, amount_micro=190 * MONEY, confirm=True, at=day(9), by=owner)
    with pytest.raises(MoreThanOwed):
        operations.give_back(gallery=harbour, amount_micro=11 * MONEY, at=day(10), by=owner)
    operations.give_back(gallery=harbour, amount_micro=10 * MONEY, at=day(10), by=owner)
    assert owes(harbour) == 0
    assert differences() == ()


def test_a_sale_taken_back_after_it_was_paid_stands_to_the_gallerys_credit(sold, harbour, owner):
    operations.record_payment(gallery=harbour, amount_micro=180 * MONEY, at=day(9), by=owner)
    operations.take_back_sale(sale=sold, why="came back", at=day(12), by=owner)
    assert owes(harbour) == -180 * MONEY
    assert queries.waits(day(400)) == []


@pytest.mark.parametrize("amount", [0, -MONEY, COIN // 2, 1.5])
def test_an_amount_that_cannot_stand_is_refused_beside_its_field(sold, harbour, owner, amount):
    with pytest.raises(NotLikeThat) as stop:
        operations.record_payment(gallery=harbour, amount_micro=amount, at=day(9), by=owner)
    assert stop.value.field == "amount"


def test_a_payment_names_one_gallery_or_one_client(sold, harbour, orla, owner):
    for who in ({}, {"gallery": harbour, "client": orla}):
        with pytest.raises(NotLikeThat) as stop:
            operations.record_payment(amount_micro=MONEY, at=day(9), by=owner, **who)
        assert stop.value.field == "who"
    payment = operations.record_payment(gallery=harbour, amount_micro=MONEY, at=day(9), by=owner)
    with pytest.raises(IntegrityError), transaction.atomic():
        Payment.objects.filter(pk=payment.pk).update(client=orla)


def test_a_payment_still_to_come_is_refused(sold, harbour, owner):
    with pytest.raises(InTheFuture):
        operations.record_payment(gallery=harbour, amount_micro=MONEY, at=day(9) + DAY, now=day(9), by=owner)


def test_a_payment_entered_by_mistake_is_taken_back_once(sold, harbour, owner):
    payment = operations.record_payment(gallery=harbour, amount_micro=180 * MONEY, at=day(9), by=owner)
    operations.take_back_payment(payment=payment, at=day(10), by=owner)
    assert owes(harbour) == 180 * MONEY
    with pytest.raises(CannotTakeBack):
        operations.take_back_payment(payment=payment, at=day(10), by=owner)
    assert differences() == ()


def test_a_client_who_pays_later_owes_the_price_with_its_tax(bowl, orla, owner):
    sale = operations.sell(
        piece=bowl, client=orla, price_micro=300 * MONEY, tax_micro=30 * MONEY, paid_now=False, at=day(2), by=owner
    )
    assert (sale.owed_micro, queries.owed_by(orla)) == (330 * MONEY, 330 * MONEY)
    ((client, debt),) = queries.clients_owing()
    assert (client, debt.oldest_on, debt.days(day(12).date())) == (orla, day(2).date(), 10)
    operations.record_payment(client=orla, amount_micro=330 * MONEY, at=day(12), by=owner)
    assert queries.clients_owing() == []
    assert differences() == ()


def test_a_client_who_owes_cannot_be_erased_until_he_has_paid(bowl, orla, owner):
    operations.sell(piece=bowl, client=orla, price_micro=300 * MONEY, paid_now=False, at=day(2), by=owner)
    with pytest.raises(Refused, match=r"still owes 300\.00"):
        people.erase_client(client=orla, by=owner, at=day(3))
    operations.record_payment(client=orla, amount_micro=300 * MONEY, at=day(4), by=owner)
    assert people.erase_client(client=orla, by=owner, at=day(5)).name == ""


def test_payments_settle_the_oldest_sale_first(sold, harbour, owner):
    for number, on in (("42", 10), ("43", 20)):
        piece = a_piece(owner, number)
        operations.leave_with(pieces=[piece], gallery=harbour, at=day(4), by=owner)
        operations.sell(piece=piece, gallery=harbour, price_micro=300 * MONEY, at=day(on), by=owner)
    seen = []
    for paid in (100, 80, 180):
        seen.append(queries.gallery_page(harbour.pk).debt.oldest_on)
        operations.record_payment(gallery=harbour, amount_micro=paid * MONEY, at=day(30), by=owner)
    seen.append(queries.gallery_page(harbour.pk).debt.oldest_on)
    assert seen == [day(3).date(), day(3).date(), day(10).date(), day(20).date()]


def test_a_gallery_that_is_late_waits_at_the_desk_from_the_day_after_it_was_due(sold, harbour, owner):
    due = sold.due_on
    assert (due - sold.sold_on).days == 30
    assert queries.waits(day(33)) == []
    (wait,) = queries.waits(day(34))
    assert (wait.place, wait.subject, wait.about) == ("desk", "Harbour Rooms", ("selling.gallery", harbour.pk))
    assert wait.reason == "owes 180.00, unpaid for 31 days"
    assert wait.late(day(34))
    operations.record_payment(gallery=harbour, amount_micro=180 * MONEY, at=day(34), by=owner)
    assert queries.waits(day(40)) == []


def test_a_payment_changed_beneath_its_entry_is_seen_by_the_audit(sold, harbour, owner):
    payment = operations.record_payment(gallery=harbour, amount_micro=180 * MONEY, at=day(9), by=owner)
    Payment.objects.update(amount_micro=181 * MONEY)
    assert differences() == (f"selling: payment {payment.pk} says 181000000; its entry says 180000000.",)
