import pytest

from studio.commissions import operations
from studio.commissions.errors import NotNow
from studio.commissions.models import Commission, State, What
from studio.commissions.trail import deposit_held
from studio.ledger.accounts import Kind
from studio.ledger.queries import sums_of_entries
from studio.selling import operations as selling
from studio.selling import queries as selling_queries
from studio.selling.errors import CannotLeave, CannotSell, NotThere
from studio.selling.models import Sale
from studio.work import operations as work
from studio.work.errors import BadCut, NotOnTheBench
from studio.work.models import Workpiece
from tests.selling.shelf import BEGAN, MONEY, PER_CENT, day, differences, pool, settle


@pytest.fixture
def bowl(make):
    return make("41", cost=120)


def test_delivering_is_a_sale_that_takes_the_deposit_in(order, orla, bowl, owner):
    row = order(orla, paid=150)
    operations.reserve(commission=row, workpieces=[bowl.workpiece], at=day(3), by=owner)
    cash = pool(Kind.CASH)
    row = operations.deliver(commission=row, piece=bowl, at=day(40), by=owner)
    sale = row.sale
    assert sums_of_entries([sale.entry_id])[sale.entry_id] == {
        "revenue": -500 * MONEY,
        "deposit": 150 * MONEY,
        "cash": 350 * MONEY,
        "workpiece": -120 * MONEY,
        "cost_of_sales": 120 * MONEY,
    }
    assert (row.state, sale.client, deposit_held(row), pool(Kind.CASH) - cash) == (
        State.DELIVERED, orla, 0, 350 * MONEY,
    )  # fmt: skip
    assert differences() == ()


def test_the_rest_may_be_owed_and_tax_is_on_the_whole_price(order, orla, bowl, owner):
    settle(owner, sales_tax_ppm=10 * PER_CENT)
    row = order(orla, paid=150)
    row = operations.deliver(commission=row, piece=bowl, paid_now=False, at=day(40), by=owner)
    assert (row.sale.tax_micro, row.sale.owed_micro) == (50 * MONEY, 400 * MONEY)
    assert selling_queries.owed_by(orla) == 400 * MONEY


def test_the_card_fee_is_on_what_is_still_to_pay(order, orla, bowl, owner):
    row = order(orla, paid=150)
    row = operations.deliver(commission=row, piece=bowl, card=True, at=day(40), by=owner)
    assert row.sale.card_fee_micro == 7 * MONEY


def test_a_deposit_of_the_whole_price_leaves_nothing_to_pay(order, orla, bowl, owner):
    row = order(orla, paid=500)
    cash = pool(Kind.CASH)
    operations.deliver(commission=row, piece=bowl, at=day(40), by=owner)
    assert (pool(Kind.CASH), pool(Kind.DEPOSIT), pool(Kind.REVENUE)) == (cash, 0, -500 * MONEY)


def test_what_is_set_aside_goes_to_nobody_else(order, orla, bowl, owner):
    row, other = order(orla), order(orla)
    gallery = selling.add_gallery(name="Harbour Rooms", share_ppm=1, at=BEGAN, by=owner)
    operations.reserve(commission=row, workpieces=[bowl.workpiece], at=day(3), by=owner)
    with pytest.raises(CannotLeave, match="kept: for commission 1"):
        selling.leave_with(pieces=[bowl], gallery=gallery, at=day(4), by=owner)
    with pytest.raises(CannotSell, match="kept: for commission 1"):
        selling.sell(piece=bowl, price_micro=600 * MONEY, at=day(4), by=owner)
    with pytest.raises(CannotSell, match="kept: for commission 1"):
        operations.deliver(commission=other, piece=bowl, at=day(4), by=owner)
    with pytest.raises(NotOnTheBench, match="held already"):
        operations.reserve(commission=other, workpieces=[bowl.workpiece], at=day(4), by=owner)
    other.refresh_from_db()
    assert (other.state, Sale.objects.count()) == (State.AGREED, 0)


def test_without_the_hold_the_same_piece_would_be_sold(bowl, owner):
    assert selling.sell(piece=bowl, price_micro=600 * MONEY, at=day(4), by=owner).pk


def test_several_are_set_aside_together_or_not_at_all(order, orla, make, owner):
    row, other = order(orla), order(orla)
    one, two = make("41").workpiece, make("42").workpiece
    operations.reserve(commission=other, workpieces=[two], at=day(3), by=owner)
    with pytest.raises(NotOnTheBench):
        operations.reserve(commission=row, workpieces=[one, two], at=day(3), by=owner)
    one.refresh_from_db()
    assert one.hold_ref == ""


def test_a_piece_at_a_gallery_comes_back_before_it_is_set_aside(ordered, bowl, owner):
    gallery = selling.add_gallery(name="Harbour Rooms", share_ppm=1, at=BEGAN, by=owner)
    selling.leave_with(pieces=[bowl], gallery=gallery, at=day(2), by=owner)
    with pytest.raises(NotThere, match="Take it back before"):
        operations.reserve(commission=ordered, workpieces=[bowl.workpiece], at=day(3), by=owner)
    bowl.workpiece.refresh_from_db()
    assert bowl.workpiece.hold_ref == ""


def test_what_is_cut_from_wood_set_aside_is_set_aside_too(ordered, owner):
    lump = work.take_in_lump(number="50", paid_micro=90 * MONEY, at=BEGAN, by=owner)
    operations.reserve(commission=ordered, workpieces=[lump], at=day(3), by=owner)
    blanks = work.cut(parent=lump, blanks=[work.BlankSpec(weight=1)] * 2, at=day(4), by=owner)
    assert {blank.hold_ref for blank in blanks} == {ordered.ref}
    assert Workpiece.objects.get(number="50").hold_ref == ""
    joined = work.join(parts=blanks, at=day(5), by=owner)
    assert joined.hold_reason == "for commission 1"


def test_parts_held_for_two_commissions_are_not_joined(order, orla, make, owner):
    for number, row in (("41", order(orla)), ("42", order(orla))):
        operations.reserve(commission=row, workpieces=[make(number).workpiece], at=day(3), by=owner)
    with pytest.raises(BadCut, match="held for different people"):
        work.join(parts=list(Workpiece.objects.filter(number__in=["41", "42"])), at=day(5), by=owner)


def test_one_workpiece_is_let_go_and_the_others_stay(ordered, make, owner):
    one, two = make("41").workpiece, make("42").workpiece
    operations.reserve(commission=ordered, workpieces=[one, two], at=day(3), by=owner)
    operations.let_go_workpiece(commission=ordered, workpiece=one, at=day(4), by=owner)
    one.refresh_from_db()
    two.refresh_from_db()
    assert (one.hold_ref, two.hold_ref) == ("", ordered.ref)
    with pytest.raises(NotNow, match="isn't set aside"):
        operations.let_go_workpiece(commission=ordered, workpiece=one, at=day(4), by=owner)


@pytest.mark.parametrize("ending", ["deliver", "call_off"])
def test_when_it_ends_everything_else_set_aside_is_let_go(ordered, make, owner, ending):
    bowl, spare = make("41"), make("42").workpiece
    operations.reserve(commission=ordered, workpieces=[bowl.workpiece, spare], at=day(3), by=owner)
    if ending == "deliver":
        operations.deliver(commission=ordered, piece=bowl, at=day(9), by=owner)
    else:
        operations.call_off(commission=ordered, why="moved away", at=day(9), by=owner)
    spare.refresh_from_db()
    assert (spare.hold_ref, spare.hold_reason) == ("", "")


def test_an_unfinished_piece_or_an_open_question_is_not_delivered(order, orla, make, owner):
    rough = make("41", finished=False)
    with pytest.raises(CannotSell, match="isn't finished"):
        operations.deliver(commission=order(orla), piece=rough, at=day(9), by=owner)
    with pytest.raises(NotNow, match="Agree on a price"):
        operations.deliver(commission=order(orla, agreed=False), piece=make("42"), at=day(9), by=owner)


def test_it_is_delivered_once(ordered, make, owner):
    operations.deliver(commission=ordered, piece=make("41"), at=day(9), by=owner)
    with pytest.raises(NotNow, match="delivered"):
        operations.deliver(commission=ordered, piece=make("42"), at=day(9), by=owner)


def test_a_delivery_taken_back_holds_deposit_and_piece_again(order, orla, bowl, owner):
    row = order(orla, paid=150)
    row = operations.deliver(commission=row, piece=bowl, at=day(9), by=owner)
    row = operations.take_back_delivery(commission=row, why="wrong bowl", at=day(10), by=owner)
    bowl.workpiece.refresh_from_db()
    assert (row.state, row.sale, deposit_held(row)) == (State.AGREED, None, 150 * MONEY)
    assert (bowl.workpiece.hold_ref, pool(Kind.REVENUE)) == (row.ref, 0)
    assert row.events.last().what == What.DELIVERY_BACK
    assert operations.deliver(commission=row, piece=bowl, at=day(11), by=owner).state == State.DELIVERED
    assert differences() == ()


def test_a_delivery_whose_sale_was_undone_beneath_it_is_seen_by_the_audit(order, orla, bowl, owner):
    row = operations.deliver(commission=order(orla), piece=bowl, at=day(9), by=owner)
    selling.take_back_sale(sale=row.sale, why="wrong", ref=row.ref, at=day(10), by=owner)
    assert differences() == ("commissions: commission 1 is delivered by a sale that doesn't stand.",)
    assert Commission.objects.get().state == State.DELIVERED
