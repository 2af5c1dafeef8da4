"""Asking prices with their reasons and history, and the ways out that are no sale."""

import pytest
from django.db import IntegrityError, transaction

from studio.fields.errors import Refused
from studio.ledger import audit, queries
from studio.ledger.accounts import Component
from studio.people import operations as people
from studio.pieces import guards, operations
from studio.pieces.errors import BelowLowest, HeldForSomeone, NotAsThingsStand, NotLikeThat
from studio.pieces.models import AskingPrice, Piece
from studio.work import operations as work
from studio.work.errors import NotOnTheBench
from studio.work.models import ClosedAs

from .conftest import BEGAN, DAY, MONEY, NOW


def ask(piece, owner, money, **more):
    return operations.set_asking_price(
        piece=piece, amount_micro=int(money * MONEY), at=BEGAN + DAY, by=owner, now=NOW, **more
    )


def asking(piece):
    return Piece.objects.with_asking().get(pk=piece.pk).asking_micro


def test_the_newest_price_counts_and_the_earlier_ones_stay_to_be_seen(bowl, owner):
    ask(bowl, owner, 730)
    ask(bowl, owner, 690, reason="stood for a year")
    assert asking(bowl) == 690 * MONEY
    assert [(row.amount_micro, row.reason) for row in bowl.asking_prices.all()] == [
        (730 * MONEY, ""),
        (690 * MONEY, "stood for a year"),
    ]


def test_below_the_lowest_ask_it_warns_and_takes_a_reason(bowl, owner):
    with pytest.raises(BelowLowest, match="672.00") as stop:
        ask(bowl, owner, 600, lowest_micro=672 * MONEY)
    assert (stop.value.field, stop.value.code, AskingPrice.objects.count()) == ("reason", "reason", 0)
    row = ask(bowl, owner, 600, lowest_micro=672 * MONEY, reason="for the fair")
    assert (row.below_lowest, row.lowest_micro) == (True, 672 * MONEY)
    assert not ask(bowl, owner, 672, lowest_micro=672 * MONEY).below_lowest


def test_the_database_keeps_a_price_below_the_lowest_from_going_without_a_word(bowl, owner):
    row = ask(bowl, owner, 600, lowest_micro=672 * MONEY, reason="for the fair")
    with pytest.raises(IntegrityError), transaction.atomic():
        AskingPrice.objects.filter(pk=row.pk).update(reason="")
    with pytest.raises(IntegrityError), transaction.atomic():
        AskingPrice.objects.filter(pk=row.pk).update(amount_micro=700 * MONEY)


@pytest.mark.parametrize("money", [0, -5, 10**10, 7.305001])
def test_a_price_that_is_none_is_refused(bowl, owner, money):
    with pytest.raises(NotLikeThat) as stop:
        ask(bowl, owner, money)
    assert (stop.value.field, AskingPrice.objects.count()) == ("amount", 0)


def test_a_piece_taken_off_sale_is_asked_nothing_for(bowl, owner):
    with pytest.raises(NotAsThingsStand):
        operations.withdraw_price(piece=bowl, at=BEGAN + DAY, by=owner, now=NOW)
    ask(bowl, owner, 730)
    operations.withdraw_price(piece=bowl, reason="we keep it a while", at=BEGAN + DAY, by=owner, now=NOW)
    assert asking(bowl) is None


@pytest.mark.parametrize("how", ["gift", "kept", "donated", "sample", "own_use"])
def test_each_way_out_takes_the_whole_cost_with_it(bowl, finish, owner, how):
    finish(bowl)
    gone = operations.let_go(piece=bowl, how=how, words="the fair", at=BEGAN + 9 * DAY, by=owner, now=NOW)
    workpiece = gone.workpiece
    workpiece.refresh_from_db()
    assert (workpiece.closed_as, workpiece.account.value_micro, gone.way_out) == (ClosedAs.LEFT, 0, how)
    assert queries.pool_sums()["given_away"] == 115 * MONEY
    moved = {
        line.component: line.value_micro
        for line in queries.entry(gone.way_out_entry_id).lines
        if line.value_micro > 0
    }
    assert moved == {Component.WOOD: 100 * MONEY, Component.ALLOWANCE: 15 * MONEY}
    assert audit.run().differences == ()


def test_what_has_left_does_not_leave_again_and_is_not_priced(bowl, owner):
    operations.let_go(piece=bowl, how="gift", at=BEGAN + DAY, by=owner, now=NOW)
    with pytest.raises(NotOnTheBench):
        operations.let_go(piece=bowl, how="kept", at=BEGAN + DAY, by=owner, now=NOW)
    with pytest.raises(NotOnTheBench):
        ask(bowl, owner, 100)
    assert queries.pool_sums()["given_away"] == 100 * MONEY


def test_a_cost_that_comes_late_follows_it(bowl, owner):
    purchase = bowl.workpiece.purchase
    operations.let_go(piece=bowl, how="gift", at=BEGAN + DAY, by=owner, now=NOW)
    work.add_wood_bill(purchase=purchase, amount_micro=10 * MONEY, what="carriage", at=BEGAN + 2 * DAY, by=owner)
    assert queries.pool_sums()["given_away"] == 110 * MONEY


def test_a_way_out_pressed_by_mistake_is_taken_back_whole(bowl, owner):
    operations.let_go(piece=bowl, how="gift", words="to Maud", at=BEGAN + DAY, by=owner, now=NOW)
    back = operations.come_back(piece=bowl, at=BEGAN + 2 * DAY, by=owner, now=NOW)
    assert (back.way_out, back.way_out_words, back.workpiece.closed_at) == ("", "", None)
    assert queries.cost_of(back.workpiece.account).parts == {Component.WOOD: 100 * MONEY}
    assert audit.run().differences == ()
    with pytest.raises(NotAsThingsStand):
        operations.come_back(piece=bowl, at=BEGAN + 3 * DAY, by=owner, now=NOW)


def test_a_piece_held_for_someone_leaves_only_with_the_holder_s_mark(bowl, owner):
    work.hold(workpiece=bowl.workpiece, reason="the wedding pair", ref="commission:3")
    with pytest.raises(HeldForSomeone, match="the wedding pair"):
        operations.let_go(piece=bowl, how="gift", at=BEGAN + DAY, by=owner, now=NOW)
    operations.let_go(piece=bowl, how="gift", ref="commission:3", at=BEGAN + DAY, by=owner, now=NOW)
    bowl.workpiece.refresh_from_db()
    assert (bowl.workpiece.closed_as, bowl.workpiece.hold_ref) == (ClosedAs.LEFT, "")


def test_a_client_s_own_wood_is_given_back_and_not_away(owner):
    client = people.add_client(name="Maud Harra", by=owner, at=BEGAN)
    theirs = work.take_in_clients_wood(owner=client, at=BEGAN, by=owner)
    piece = operations.become_piece(workpiece=theirs, at=BEGAN, by=owner, now=NOW)
    with pytest.raises(NotAsThingsStand, match="Give it back"):
        operations.let_go(piece=piece, how="gift", at=BEGAN + DAY, by=owner, now=NOW)


def test_rooms_above_may_keep_a_piece_from_leaving(bowl, owner, monkeypatch):
    def at_a_gallery(piece):
        raise Refused("It stands at a gallery.")

    monkeypatch.setattr(guards, "leaving", [])
    guards.before_leaving(at_a_gallery)
    guards.before_leaving(at_a_gallery)
    assert guards.leaving == [at_a_gallery]
    with pytest.raises(Refused, match="stands at a gallery"):
        operations.let_go(piece=bowl, how="gift", at=BEGAN + DAY, by=owner, now=NOW)
    guards.leaving.clear()
    operations.let_go(piece=bowl, how="gift", at=BEGAN + DAY, by=owner, now=NOW)


def test_a_way_out_that_is_none_is_refused(bowl, owner):
    with pytest.raises(NotLikeThat):
        operations.let_go(piece=bowl, how="eaten", at=BEGAN + DAY, by=owner, now=NOW)
    with pytest.raises(IntegrityError), transaction.atomic():
        Piece.objects.filter(pk=bowl.pk).update(way_out="gift")
