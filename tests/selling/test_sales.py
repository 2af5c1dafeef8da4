import pytest
from django.db import IntegrityError, transaction

from studio.ledger import queries as ledger
from studio.ledger.accounts import Component, Kind
from studio.ledger.errors import AlreadyReversed
from studio.ledger.operations import live
from studio.people.models import DatedSetting
from studio.people.settings import MissingSetting
from studio.pieces import operations as pieces
from studio.selling import operations, queries
from studio.selling.errors import CannotSell, CannotTakeBack, NotLikeThat, NotThere
from studio.selling.models import Placement, Sale
from studio.work import operations as work
from studio.work.models import ClosedAs
from tests.selling.shelf import BEGAN, COIN, MONEY, PER_CENT, a_piece, day, differences, finish, pool, set_up, settle


def sums(sale):
    return ledger.sums_of_entries([sale.entry_id])[sale.entry_id]


def test_a_sale_from_the_shelf_is_one_entry_with_price_money_and_cost(bowl, owner):
    sale = operations.sell(piece=bowl, price_micro=300 * MONEY, at=day(2), by=owner)
    assert sums(sale) == {
        "revenue": -300 * MONEY,
        "cash": 300 * MONEY,
        "workpiece": -100 * MONEY,
        "cost_of_sales": 100 * MONEY,
    }
    assert (sale.cost_micro, sale.paid_out_micro, sale.net_micro) == (100 * MONEY, 100 * MONEY, 300 * MONEY)
    assert differences() == ()


def test_the_cost_of_what_was_sold_keeps_its_components(bowl, owner):
    work.add_hours(person=owner, workpieces=[bowl.workpiece], code="turn", seconds=3600, at=day(1), by=owner)
    sale = operations.sell(piece=bowl, price_micro=300 * MONEY, at=day(2), by=owner)
    lines = [line for line in ledger.entry(sale.entry_id).lines if line.account_kind == "cost_of_sales"]
    assert {line.component: line.value_micro for line in lines} == {
        Component.WOOD: 100 * MONEY,
        Component.OWN_LABOUR: 30 * MONEY,
    }
    assert (sale.cost_micro, sale.paid_out_micro) == (130 * MONEY, 100 * MONEY)


def test_a_gallery_owes_the_price_less_its_share_of_that_day(bowl, harbour, owner):
    operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)
    operations.change_terms(
        gallery=harbour, share_ppm=45 * PER_CENT, days_to_pay=14, from_on=day(5).date(), at=day(3), by=owner
    )
    sale = operations.sell(piece=bowl, gallery=harbour, price_micro=330 * MONEY, at=day(6), by=owner)
    assert sums(sale)["gallery_share"] == sale.share_micro == 148_500_000
    assert sums(sale)["gallery_owes"] == sale.owed_micro == 181_500_000
    assert "cash" not in sums(sale)
    assert (sale.due_on, sale.paid_now) == (day(20).date(), False)
    placement = Placement.objects.get()
    assert (placement.back_at, placement.back_why, sale.placement) == (day(6), "sold", placement)
    assert queries.where_is([bowl.pk])[bowl.pk].words == "sold through Harbour Rooms"
    assert differences() == ()


def test_the_share_is_rounded_half_up_to_whole_coins(bowl, owner):
    third = operations.add_gallery(name="Third", share_ppm=333_333, at=BEGAN, by=owner)
    operations.leave_with(pieces=[bowl], gallery=third, at=day(2), by=owner)
    sale = operations.sell(piece=bowl, gallery=third, price_micro=100 * MONEY + 5 * COIN, at=day(3), by=owner)
    assert sale.share_micro == 33_350_000
    assert sale.share_micro + sale.owed_micro == sale.price_micro


def test_a_share_that_ends_on_half_a_coin_goes_up(bowl, owner):
    half = operations.add_gallery(name="Half", share_ppm=500_000, at=BEGAN, by=owner)
    operations.leave_with(pieces=[bowl], gallery=half, at=day(2), by=owner)
    sale = operations.sell(piece=bowl, gallery=half, price_micro=100 * MONEY + COIN, at=day(3), by=owner)
    assert (sale.share_micro, sale.owed_micro) == (50 * MONEY + COIN, 50 * MONEY)


def test_tax_is_added_held_and_paid_by_the_buyer(bowl, owner):
    settle(owner, sales_tax_ppm=8 * PER_CENT + 7500)
    sale = operations.sell(piece=bowl, price_micro=300 * MONEY, at=day(2), by=owner)
    assert (sale.tax_micro, pool(Kind.SALES_TAX), pool(Kind.REVENUE)) == (26_250_000, -26_250_000, -300 * MONEY)
    assert sums(sale)["cash"] == 326_250_000


def test_a_gallery_that_hands_the_tax_on_keeps_it_out_of_the_books(bowl, harbour, owner):
    settle(owner, sales_tax_ppm=8 * PER_CENT)
    operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)
    with pytest.raises(CannotSell) as stop:
        operations.sell(
            piece=bowl, gallery=harbour, price_micro=300 * MONEY, tax_micro=24 * MONEY, at=day(3), by=owner
        )
    assert stop.value.field == "tax"
    sale = operations.sell(piece=bowl, gallery=harbour, price_micro=300 * MONEY, at=day(3), by=owner)
    assert (sale.tax_micro, sale.owed_micro) == (0, 180 * MONEY)


def test_a_gallery_that_does_not_owes_us_the_tax_as_well(bowl, harbour, owner):
    settle(owner, sales_tax_ppm=8 * PER_CENT)
    operations.change_terms(
        gallery=harbour, share_ppm=40 * PER_CENT, collects_tax=False, from_on=BEGAN.date(), at=day(1), by=owner
    )
    operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)
    sale = operations.sell(piece=bowl, gallery=harbour, price_micro=300 * MONEY, at=day(3), by=owner)
    assert (sale.tax_micro, sale.share_micro, sale.owed_micro) == (24 * MONEY, 120 * MONEY, 204 * MONEY)


def test_the_card_fee_is_taken_on_all_that_goes_through_the_reader(bowl, owner):
    settle(owner, sales_tax_ppm=10 * PER_CENT)
    sale = operations.sell(piece=bowl, price_micro=300 * MONEY, card=True, at=day(2), by=owner)
    assert sale.card_fee_micro == 6_600_000
    assert (sums(sale)["cash"], sums(sale)["selling_cost"]) == (323_400_000, 6_600_000)


def test_other_costs_of_selling_are_paid_out_of_cash(bowl, owner):
    sale = operations.sell(piece=bowl, price_micro=300 * MONEY, other_cost_micro=12 * MONEY, at=day(2), by=owner)
    assert (sums(sale)["selling_cost"], sums(sale)["cash"]) == (12 * MONEY, 288 * MONEY)


def test_a_tax_nobody_has_settled_is_asked_for_before_anything_is_stored(db):
    owner = set_up()
    DatedSetting.objects.filter(key="sales_tax_ppm").delete()
    piece = a_piece(owner, "41")
    with pytest.raises(MissingSetting) as stop:
        operations.sell(piece=piece, price_micro=300 * MONEY, at=day(2), by=owner)
    assert stop.value.key == "sales_tax_ppm"
    piece.workpiece.refresh_from_db()
    assert (piece.workpiece.closed_at, Sale.objects.count()) == (None, 0)


def test_money_without_cents_is_sold_in_whole_units(db):
    owner = set_up(currency="JPY")
    piece = a_piece(owner, "41", cost=12_000, asking=45_000)
    settle(owner, sales_tax_ppm=87_500)
    with pytest.raises(NotLikeThat, match="smallest coin"):
        operations.sell(piece=piece, price_micro=45_000 * MONEY + COIN, at=day(2), by=owner)
    sale = operations.sell(piece=piece, price_micro=45_001 * MONEY, at=day(2), by=owner)
    assert sale.tax_micro == 3_938 * MONEY


@pytest.mark.parametrize("price", [0, -MONEY, 300.0, COIN // 2, 10**16, True, None])
def test_a_price_that_cannot_stand_is_refused_beside_its_field(bowl, owner, price):
    with pytest.raises(NotLikeThat) as stop:
        operations.sell(piece=bowl, price_micro=price, at=day(2), by=owner)
    assert stop.value.field == "price"
    assert not Sale.objects.exists()


def test_the_account_is_closed_and_a_late_cost_follows_to_cost_of_sales(bowl, owner):
    operations.sell(piece=bowl, price_micro=300 * MONEY, at=day(2), by=owner)
    bowl.workpiece.refresh_from_db()
    assert bowl.workpiece.closed_as == ClosedAs.SOLD
    assert live(bowl.workpiece.account).kind == Kind.COST_OF_SALES
    work.add_wood_bill(
        purchase=bowl.workpiece.purchase, amount_micro=10 * MONEY, what="carriage", at=day(9), by=owner
    )
    assert pool(Kind.COST_OF_SALES) == 110 * MONEY


def test_a_piece_is_sold_once(bowl, owner):
    operations.sell(piece=bowl, price_micro=300 * MONEY, at=day(2), by=owner)
    with pytest.raises(CannotSell) as stop:
        operations.sell(piece=bowl, price_micro=300 * MONEY, at=day(2), by=owner)
    assert stop.value.code == "gone"
    assert pool(Kind.REVENUE) == -300 * MONEY


def test_the_database_itself_takes_one_standing_sale_for_a_piece(bowl, owner):
    sale = operations.sell(piece=bowl, price_micro=300 * MONEY, at=day(2), by=owner)
    sale.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        sale.save(force_insert=True)


def test_a_piece_is_sold_from_where_it_is(bowl, harbour, mill, owner):
    with pytest.raises(NotThere, match="isn't with Harbour Rooms"):
        operations.sell(piece=bowl, gallery=harbour, price_micro=300 * MONEY, at=day(2), by=owner)
    operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)
    for wrong in (None, mill):
        with pytest.raises(NotThere, match="is with Harbour Rooms"):
            operations.sell(piece=bowl, gallery=wrong, price_micro=300 * MONEY, at=day(3), by=owner)
    with pytest.raises(NotThere, match="later than that"):
        operations.sell(piece=bowl, gallery=harbour, price_micro=300 * MONEY, at=day(1), by=owner)
    assert pool(Kind.REVENUE) == 0


def test_what_is_kept_for_someone_is_sold_to_him_only(bowl, owner):
    work.hold(workpiece=bowl.workpiece, reason="for commission 7", ref="commission:7")
    with pytest.raises(CannotSell) as stop:
        operations.sell(piece=bowl, price_micro=300 * MONEY, at=day(2), by=owner)
    assert stop.value.code == "held"
    assert operations.sell(piece=bowl, price_micro=300 * MONEY, ref="commission:7", at=day(2), by=owner).pk


def test_an_unfinished_piece_is_not_sold(make, owner):
    piece = make("41", finished=False)
    with pytest.raises(CannotSell, match="still to be measured"):
        operations.sell(piece=piece, price_micro=300 * MONEY, at=day(2), by=owner)


def test_work_on_a_clients_own_wood_is_charged_to_its_owner_only(owner, orla):
    theirs = work.take_in_clients_wood(owner=orla, number="50", at=BEGAN, by=owner)
    piece = finish(pieces.become_piece(workpiece=theirs, at=BEGAN, by=owner), owner, day(1))
    with pytest.raises(CannotSell, match="Only its owner"):
        operations.sell(piece=piece, price_micro=90 * MONEY, at=day(2), by=owner)
    sale = operations.sell(piece=piece, price_micro=90 * MONEY, client=orla, at=day(2), by=owner)
    assert (sale.cost_micro, sums(sale)) == (0, {"revenue": -90 * MONEY, "cash": 90 * MONEY})


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"card": True, "paid_now": False}, "paid_now"),
        ({"paid_now": False}, "client"),
        ({"tax_micro": -MONEY}, "tax"),
        ({"other_cost_micro": -MONEY}, "other_cost"),
        ({"card": True, "card_fee_micro": 5}, "card_fee"),
        ({"deposit_micro": MONEY}, "deposit"),
        ({"note": "x" * 1001}, "note"),
    ],
)
def test_what_cannot_go_together_is_refused_beside_its_field(bowl, owner, given, field):
    with pytest.raises((CannotSell, NotLikeThat)) as stop:
        operations.sell(**({"piece": bowl, "price_micro": 300 * MONEY, "at": day(2), "by": owner} | given))
    assert stop.value.field == field
    assert not Sale.objects.exists()
    assert pool(Kind.REVENUE) == 0


def test_a_sale_taken_back_leaves_the_books_as_they_were_and_the_piece_on_the_shelf(bowl, owner):
    before = ledger.cost_of(bowl.workpiece.account).parts
    sale = operations.sell(piece=bowl, price_micro=300 * MONEY, card=True, at=day(2), by=owner)
    operations.take_back_sale(sale=sale, why="wrong bowl", at=day(3), by=owner)
    bowl.workpiece.refresh_from_db()
    assert (bowl.workpiece.closed_at, bowl.workpiece.closed_as) == (None, "")
    assert ledger.cost_of(bowl.workpiece.account).parts == before
    assert [pool(kind) for kind in (Kind.REVENUE, Kind.COST_OF_SALES, Kind.SELLING_COST)] == [0, 0, 0]
    assert queries.where_is([bowl.pk])[bowl.pk].kind == "shelf"
    assert list(queries.sold()) == [] and len(queries.sold(taken_back=True)) == 1
    assert operations.sell(piece=bowl, price_micro=280 * MONEY, at=day(4), by=owner).pk
    assert differences() == ()


def test_a_sale_is_taken_back_once_and_with_a_word_why(bowl, owner):
    sale = operations.sell(piece=bowl, price_micro=300 * MONEY, at=day(2), by=owner)
    with pytest.raises(NotLikeThat) as stop:
        operations.take_back_sale(sale=sale, why="", at=day(3), by=owner)
    assert stop.value.field == "why"
    operations.take_back_sale(sale=sale, why="wrong bowl", at=day(3), by=owner)
    with pytest.raises((CannotTakeBack, AlreadyReversed)):
        operations.take_back_sale(sale=sale, why="wrong bowl", at=day(3), by=owner)


def test_a_sale_pressed_on_the_wrong_piece_can_leave_it_at_the_gallery(bowl, harbour, owner):
    operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)
    sale = operations.sell(piece=bowl, gallery=harbour, price_micro=300 * MONEY, at=day(3), by=owner)
    operations.take_back_sale(sale=sale, why="wrong bowl", still_there=True, at=day(4), by=owner)
    there = queries.where_is([bowl.pk])[bowl.pk]
    assert (there.kind, there.since) == ("gallery", day(2))
    assert operations.sell(piece=bowl, gallery=harbour, price_micro=310 * MONEY, at=day(5), by=owner).pk
    assert differences() == ()


def test_a_sale_that_was_a_commission_is_taken_back_from_there(bowl, owner):
    sale = operations.sell(piece=bowl, price_micro=300 * MONEY, ref="commission:7", at=day(2), by=owner)
    with pytest.raises(CannotTakeBack) as stop:
        operations.take_back_sale(sale=sale, why="wrong bowl", at=day(3), by=owner)
    assert stop.value.code == "commission"
    assert operations.take_back_sale(sale=sale, why="wrong bowl", ref="commission:7", at=day(3), by=owner)


def test_a_sale_whose_figures_were_changed_beneath_it_is_seen_by_the_audit(bowl, owner):
    sale = operations.sell(piece=bowl, price_micro=300 * MONEY, at=day(2), by=owner)
    Sale.objects.filter(pk=sale.pk).update(price_micro=299 * MONEY, cost_micro=1)
    assert differences() == (
        f"selling: sale {sale.pk} says its price is 299000000; its entry says 300000000.",
        f"selling: sale {sale.pk} says its cost is 1; its entry says 100000000.",
    )


def test_a_placement_left_open_beneath_a_sale_is_seen_by_the_audit(bowl, harbour, owner):
    operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)
    operations.sell(piece=bowl, gallery=harbour, price_micro=300 * MONEY, at=day(3), by=owner)
    Placement.objects.update(back_at=None, back_on=None, back_why="", back_by=None)
    assert differences() == (f"selling: placement {Placement.objects.get().pk} is open, and its piece is sold.",)
