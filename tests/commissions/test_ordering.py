from datetime import date

import pytest
from django.db import IntegrityError, transaction

from studio.commissions import operations
from studio.commissions.errors import DepositTrouble, NotLikeThat, NotNow
from studio.commissions.models import Commission, State, What
from studio.fields.errors import Refused
from studio.ledger.errors import InTheFuture
from studio.people import operations as people
from studio.people.models import Role, User
from studio.people.roles import NotAllowed
from tests.commissions.conftest import BY
from tests.selling.shelf import BEGAN, COIN, DAY, MONEY, a_client, day


def trail(row):
    return [(event.what, event.words) for event in row.events.all()]


def test_what_is_asked_for_gets_a_number_and_a_trail(owner, orla):
    first = operations.ask(client=orla, wanted="A pair of goblets", at=BEGAN, by=owner)
    second = operations.ask(
        client=orla, wanted="A platter", form="platter", price_micro=400 * MONEY, by_on=BY, at=BEGAN, by=owner
    )
    assert (first.number, second.number, second.state) == (1, 2, State.ASKED)
    assert first.deposit_account.kind == "deposit" != second.deposit_account_id
    assert trail(second) == [(What.ASKED, "price 400.00, by 1 Jun 2025")]


def test_agreeing_fixes_price_day_and_deposit(order, orla):
    row = order(orla)
    assert (row.state, row.price_micro, row.by_on, row.agreed_on) == (
        State.AGREED, 500 * MONEY, BY, day(1).date(),
    )  # fmt: skip
    assert trail(row)[1] == (What.AGREED, "price 500.00, by 1 Jun 2025, deposit 150.00")


def test_an_agreement_is_made_once_and_changed_afterwards(ordered, owner):
    with pytest.raises(NotNow, match="agreed already"):
        operations.agree(commission=ordered, price_micro=MONEY, by_on=BY, at=day(2), by=owner)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"wanted": "  "}, "wanted"),
        ({"wanted": "x" * 2001}, "wanted"),
        ({"price_micro": 0}, "price"),
        ({"price_micro": 400.0}, "price"),
        ({"price_micro": COIN + 1}, "price"),
        ({"deposit_asked_micro": -MONEY}, "deposit"),
        ({"price_micro": MONEY, "deposit_asked_micro": 2 * MONEY}, "deposit"),
        ({"by_on": date(2025, 3, 9)}, "by_on"),
        ({"by_on": date(2225, 3, 9)}, "by_on"),
    ],
)
def test_what_cannot_stand_is_refused_beside_its_field(owner, orla, given, field):
    with pytest.raises(NotLikeThat) as stop:
        operations.ask(**({"client": orla, "wanted": "A bowl", "at": BEGAN, "by": owner} | given))
    assert stop.value.field == field
    assert not Commission.objects.exists()


def test_what_is_still_to_come_is_refused(owner, orla):
    with pytest.raises(InTheFuture):
        operations.ask(client=orla, wanted="A bowl", at=BEGAN + DAY, now=BEGAN, by=owner)


def test_an_erased_client_orders_nothing(owner, orla):
    gone = people.erase_client(client=orla, by=owner, at=BEGAN)
    with pytest.raises(NotLikeThat) as stop:
        operations.ask(client=gone, wanted="A bowl", at=BEGAN, by=owner)
    assert stop.value.field == "client"


def test_a_change_leaves_what_was_before_in_the_trail(ordered, owner):
    operations.change(
        commission=ordered, price_micro=520 * MONEY, by_on=date(2025, 7, 1), why="a lid as well", at=day(3), by=owner
    )
    ordered.refresh_from_db()
    assert (ordered.price_micro, ordered.by_on) == (520 * MONEY, date(2025, 7, 1))
    assert trail(ordered)[-1] == (
        What.CHANGED,
        "a lid as well. price 500.00 → 520.00; day 1 Jun 2025 → 1 Jul 2025",
    )


def test_a_change_that_changes_nothing_leaves_no_line(ordered, owner):
    operations.change(commission=ordered, price_micro=500 * MONEY, by_on=BY, at=day(3), by=owner)
    assert ordered.events.count() == 2


def test_the_price_does_not_fall_below_the_deposit_held(order, orla, owner):
    row = order(orla, paid=150)
    with pytest.raises(DepositTrouble) as stop:
        operations.change(commission=row, price_micro=149 * MONEY, at=day(3), by=owner)
    assert stop.value.field == "price"
    row.refresh_from_db()
    assert row.price_micro == 500 * MONEY


def test_the_database_wants_price_and_day_of_what_is_agreed(owner, orla):
    row = operations.ask(client=orla, wanted="A bowl", at=BEGAN, by=owner)
    with pytest.raises(IntegrityError), transaction.atomic():
        Commission.objects.filter(pk=row.pk).update(state=State.AGREED)
    with pytest.raises(IntegrityError), transaction.atomic():
        Commission.objects.filter(pk=row.pk).update(state=State.DELIVERED, ended_at=BEGAN)


def test_a_client_with_something_on_order_is_not_erased(ordered, orla, owner):
    with pytest.raises(Refused, match="commission 1 on order"):
        people.erase_client(client=orla, by=owner, at=day(3))
    operations.call_off(commission=ordered, why="moved away", at=day(3), by=owner)
    assert people.erase_client(client=orla, by=owner, at=day(4)).erased_at


def test_another_client_is_erased_meanwhile(ordered, owner):
    other = a_client(owner, "Tam Weir")
    assert people.erase_client(client=other, by=owner, at=day(3)).erased_at


def test_a_bookkeeper_takes_no_orders_and_a_maker_no_deposits(ordered, orla):
    maker = User.objects.create_user(username="maker", display_name="A Maker", role=Role.MAKER)
    clerk = User.objects.create_user(username="clerk", display_name="A Clerk", role=Role.BOOKKEEPER)
    with pytest.raises(NotAllowed):
        operations.ask(client=orla, wanted="A bowl", at=BEGAN, by=clerk)
    with pytest.raises(NotAllowed):
        operations.take_deposit(commission=ordered, amount_micro=MONEY, at=day(2), by=maker)
    assert operations.take_deposit(commission=ordered, amount_micro=MONEY, at=day(2), by=clerk)
    assert operations.ask(client=orla, wanted="A bowl", at=BEGAN, by=maker)
