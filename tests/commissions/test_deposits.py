import pytest

from studio.commissions import operations
from studio.commissions.errors import DepositTrouble, NotLikeThat, NotNow
from studio.commissions.models import State, What
from studio.commissions.trail import deposit_held
from studio.ledger.accounts import Component, Kind
from studio.ledger.operations import Leg, post
from tests.selling.shelf import COIN, MONEY, day, differences, pool


def test_a_deposit_is_owed_to_the_client_and_is_no_sale(ordered, owner):
    event = operations.take_deposit(commission=ordered, amount_micro=150 * MONEY, at=day(2), by=owner)
    assert (deposit_held(ordered), pool(Kind.CASH), pool(Kind.DEPOSIT)) == (150 * MONEY, 150 * MONEY, -150 * MONEY)
    assert pool(Kind.REVENUE) == 0
    assert (event.what, event.amount_micro) == (What.DEPOSIT, 150 * MONEY)
    assert differences() == ()


def test_no_deposit_is_taken_before_a_price_is_agreed(order, orla, owner):
    row = order(orla, agreed=False)
    with pytest.raises(NotNow, match="Agree on a price"):
        operations.take_deposit(commission=row, amount_micro=MONEY, at=day(2), by=owner)


def test_deposits_together_stay_within_the_price(ordered, owner):
    operations.take_deposit(commission=ordered, amount_micro=300 * MONEY, at=day(2), by=owner)
    with pytest.raises(DepositTrouble, match=r"300\.00 of it is paid") as stop:
        operations.take_deposit(commission=ordered, amount_micro=201 * MONEY, at=day(3), by=owner)
    assert stop.value.field == "amount"
    operations.take_deposit(commission=ordered, amount_micro=200 * MONEY, at=day(3), by=owner)
    assert deposit_held(ordered) == 500 * MONEY


@pytest.mark.parametrize("amount", [0, -MONEY, COIN // 2, 2.0])
def test_an_amount_that_cannot_stand_is_refused(ordered, owner, amount):
    with pytest.raises(NotLikeThat) as stop:
        operations.take_deposit(commission=ordered, amount_micro=amount, at=day(2), by=owner)
    assert stop.value.field == "amount"


def test_a_deposit_is_given_back_in_part_and_never_more_than_is_held(order, orla, owner):
    row = order(orla, paid=150)
    operations.give_deposit_back(commission=row, amount_micro=50 * MONEY, why="smaller bowl", at=day(3), by=owner)
    assert (deposit_held(row), pool(Kind.CASH)) == (100 * MONEY, 100 * MONEY)
    for too_much in (operations.give_deposit_back, operations.keep_deposit):
        with pytest.raises(DepositTrouble, match=r"100\.00 is held"):
            too_much(commission=row, amount_micro=101 * MONEY, why="x", at=day(3), by=owner)
    assert differences() == ()


def test_a_deposit_kept_becomes_income_and_wants_words(order, orla, owner):
    row = order(orla, paid=150)
    with pytest.raises(NotLikeThat) as stop:
        operations.keep_deposit(commission=row, amount_micro=150 * MONEY, why=" ", at=day(3), by=owner)
    assert stop.value.field == "why"
    operations.keep_deposit(commission=row, amount_micro=150 * MONEY, why="as agreed", at=day(3), by=owner)
    assert (deposit_held(row), pool(Kind.REVENUE)) == (0, -150 * MONEY)
    assert differences() == ()


def test_calling_off_asks_what_becomes_of_the_deposit(order, orla, owner):
    row = order(orla, paid=150)
    with pytest.raises(DepositTrouble) as stop:
        operations.call_off(commission=row, why="moved away", at=day(9), by=owner)
    assert (stop.value.code, stop.value.field) == ("deposit", "give_back")
    with pytest.raises(DepositTrouble):
        operations.call_off(commission=row, why="moved away", give_back_micro=151 * MONEY, at=day(9), by=owner)
    row.refresh_from_db()
    assert (row.state, deposit_held(row)) == (State.AGREED, 150 * MONEY)


def test_calling_off_gives_part_back_and_keeps_the_rest(order, orla, owner):
    row = order(orla, paid=150)
    operations.call_off(commission=row, why="moved away", give_back_micro=100 * MONEY, at=day(9), by=owner)
    row.refresh_from_db()
    assert (row.state, row.ended_at, deposit_held(row)) == (State.CALLED_OFF, day(9), 0)
    assert (pool(Kind.CASH), pool(Kind.REVENUE)) == (50 * MONEY, -50 * MONEY)
    assert [event.what for event in row.events.all()][-3:] == [
        What.DEPOSIT_BACK, What.DEPOSIT_KEPT, What.CALLED_OFF,
    ]  # fmt: skip
    assert differences() == ()


def test_a_commission_called_off_takes_nothing_more(order, orla, owner):
    row = order(orla)
    operations.call_off(commission=row, why="moved away", at=day(9), by=owner)
    with pytest.raises(NotNow, match="called off"):
        operations.take_deposit(commission=row, amount_micro=MONEY, at=day(10), by=owner)
    with pytest.raises(NotNow, match="called off"):
        operations.call_off(commission=row, why="again", at=day(10), by=owner)
    with pytest.raises(NotNow, match="called off"):
        operations.change(commission=row, price_micro=MONEY, at=day(10), by=owner)


def test_a_deposit_overdrawn_beneath_the_verbs_is_seen_by_the_audit(ordered, owner):
    legs = [
        Leg(ordered.deposit_account, Component.MONEY, value=MONEY),
        Leg(Kind.CASH, Component.MONEY, value=-MONEY),
    ]
    post(kind="adjustment", legs=legs, at=day(2), by=owner)
    assert "commissions: commission 1 holds a deposit of less than nothing." in differences()
