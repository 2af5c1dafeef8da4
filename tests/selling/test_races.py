"""Two people at once, each in a thread with a connection of its own, on a database of their own.

Beside the race for a payment stands what happens without the guard, so that the race is known to be one.
"""

import json

import pytest

from tests.ledger.conftest import scratch, scratch_template
from tests.ledger.scratch import Scratch

__all__ = ["scratch", "scratch_template"]

pytestmark = pytest.mark.race

TOGETHER = """
import json, threading
from django.db import connection
from studio.fields.errors import Refused
from studio.ledger.accounts import Kind
from studio.ledger.queries import balances
from studio.selling import operations
from studio.selling.models import Placement, Sale
from tests.selling.shelf import BEGAN, MONEY, PER_CENT, a_piece, day, differences, pool, set_up

def together(*deeds):
    gate, found = threading.Barrier(len(deeds)), [None] * len(deeds)
    def do(place, deed):
        try:
            gate.wait(30)
            found[place] = type(deed()).__name__
        except Refused as stop:
            found[place] = type(stop).__name__
        finally:
            connection.close()
    threads = [threading.Thread(target=do, args=pair) for pair in enumerate(deeds)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    return sorted(map(str, found))

User.objects.all().delete()
owner = set_up()
bowl = a_piece(owner, "41")
rooms = [operations.add_gallery(name=name, share_ppm=40 * PER_CENT, at=BEGAN, by=owner) for name in ("One", "Two")]
"""
SELL = """
def sell(price):
    return lambda: operations.sell(piece=bowl, price_micro=price * MONEY, at=day(2), by=owner)

found = together(sell(300), sell(310))
print(json.dumps([found, Sale.objects.count(), pool(Kind.COST_OF_SALES) // MONEY, differences()]))
"""
LEAVE = """
def leave(room):
    return lambda: operations.leave_with(pieces=[bowl], gallery=room, at=day(2), by=owner)

found = together(*map(leave, rooms))
print(json.dumps([found, Placement.objects.count()]))
"""
OWED = """
operations.leave_with(pieces=[bowl], gallery=rooms[0], at=day(2), by=owner)
operations.sell(piece=bowl, gallery=rooms[0], price_micro=300 * MONEY, at=day(3), by=owner)

def paid(deed):
    found = together(deed, deed)
    print(json.dumps([found, pool(Kind.GALLERY_OWES) // MONEY]))
"""
PAY = """
paid(lambda: operations.record_payment(gallery=rooms[0], amount_micro=180 * MONEY, at=day(4), by=owner))
"""
# Looks at what is owed, then takes the money: as a program would that holds no row in between.
PAY_UNGUARDED = """
looked = threading.Barrier(2)

def pay():
    account = rooms[0].account
    owed = balances([account.pk])[account.pk]
    looked.wait(30)
    if owed >= 180 * MONEY:
        legs = [operations.payments.ledger.Leg(Kind.CASH, Component.MONEY, value=180 * MONEY),
                operations.payments.ledger.Leg(account, Component.MONEY, value=-180 * MONEY)]
        return operations.payments.ledger.post(kind="payment", legs=legs, at=day(4), by=owner)

paid(pay)
"""


def told(scratch: Scratch, code: str) -> list:
    return json.loads(scratch.python(TOGETHER + code))


def test_of_two_who_sell_one_piece_in_the_same_moment_one_is_told(scratch: Scratch) -> None:
    assert told(scratch, SELL) == [["CannotSell", "Sale"], 1, 100, []]


def test_of_two_who_leave_one_piece_with_two_galleries_one_is_told(scratch: Scratch) -> None:
    assert told(scratch, LEAVE) == [["CannotLeave", "list"], 1]


def test_two_payments_of_all_that_is_owed_do_not_both_go_through(scratch: Scratch) -> None:
    assert told(scratch, OWED + PAY) == [["MoreThanOwed", "Payment"], 0]


def test_without_holding_the_gallerys_row_both_would(scratch: Scratch) -> None:
    assert told(scratch, OWED + PAY_UNGUARDED) == [["Posted", "Posted"], -180]
