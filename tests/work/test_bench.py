"""One piece from the lump on, and the money that follows it, by the real operations."""

import pytest

from studio.ledger import queries as ledger
from studio.ledger.accounts import Component
from studio.work import operations as work
from studio.work.errors import BathTrouble, ClockTrouble, NotOnTheBench, PourTrouble
from studio.work.models import ClosedAs, Stage, StepState

from .conftest import BEGAN, DAY, GRAM, HOUR, KILO, MONEY


def all_in(piece):
    return ledger.cost_of(piece.account).all_in


def test_a_lump_carries_what_it_cost_with_carriage(lump):
    assert ledger.cost_of(lump.account).parts == {Component.WOOD: 100 * MONEY}


def test_a_cut_shares_the_cost_by_weight_and_closes_the_lump(lump, blanks):
    lump.refresh_from_db()
    assert [blank.number for blank in blanks] == ["41/1", "41/2", "41/3"]
    assert [all_in(blank) for blank in blanks] == [30 * MONEY, 20 * MONEY, 50 * MONEY]
    assert (lump.closed_as, all_in(lump)) == (ClosedAs.CUT, 0)


def test_a_part_cut_leaves_the_rest_its_own_share(lump, owner):
    (blank,) = work.cut(
        parent=lump, blanks=[work.BlankSpec(weight=4)], kept_weight=6, kept_mass_mg=7 * KILO, at=BEGAN, by=owner
    )
    lump.refresh_from_db()
    assert (all_in(blank), all_in(lump), lump.closed_at) == (40 * MONEY, 60 * MONEY, None)


def test_a_later_bill_follows_the_cuts_to_what_is_left_and_to_what_was_lost(lump, blanks, owner):
    work.it_broke(workpiece=blanks[2], cause="checked", at=BEGAN + DAY, by=owner)
    work.add_wood_bill(
        purchase=lump.purchase, amount_micro=10 * MONEY, what="sawing", at=BEGAN + 2 * DAY, by=owner
    )
    assert [all_in(blank) for blank in blanks] == [33 * MONEY, 22 * MONEY, 0]
    assert ledger.pool_sums()["loss_expected"] == 55 * MONEY


def test_a_pour_draws_both_parts_and_colour_and_charges_the_castings_by_what_each_took(
    blanks, resin, blue, owner
):
    pour = work.pour(
        wood_sure=True,
        system=resin,
        fills=[
            work.Fill(planned_mg=600 * GRAM, blanks=[blanks[0]]),
            work.Fill(planned_mg=400 * GRAM, blanks=[blanks[1], blanks[2]], title="Pair"),
        ],
        planned_a_mg=500 * GRAM,
        planned_b_mg=500 * GRAM,
        poured_a_mg=505 * GRAM,
        poured_b_mg=500 * GRAM,
        colorants=[work.ColourIn(blue, 10 * GRAM)],
        at=BEGAN + DAY,
        by=owner,
    )
    first, second = (fill.casting for fill in pour.fills.order_by("pk"))
    resin_value = 505 * 20_000 + 500 * 15_000
    one = ledger.cost_of(first.account).parts
    two = ledger.cost_of(second.account).parts
    assert one[Component.RESIN] + two[Component.RESIN] == resin_value
    assert one[Component.RESIN] == pytest.approx(resin_value * 6 // 10, abs=2)
    assert one[Component.COLORANT] + two[Component.COLORANT] == 2 * MONEY
    assert two[Component.WOOD] == 70 * MONEY
    assert first.pk == blanks[0].pk and second.stage == Stage.CASTING


def test_a_mix_off_its_ratio_is_refused_until_it_is_said_in_words(blanks, resin, owner):
    wrong = {
        "system": resin,
        "fills": [work.Fill(planned_mg=1000 * GRAM, blanks=[blanks[0]])],
        "planned_a_mg": 500 * GRAM,
        "planned_b_mg": 500 * GRAM,
        "poured_a_mg": 550 * GRAM,
        "poured_b_mg": 500 * GRAM,
        "at": BEGAN + DAY,
        "by": owner,
    }
    with pytest.raises(PourTrouble) as stop:
        work.pour(wood_sure=True, **wrong)
    assert stop.value.code == "off_ratio"
    assert work.pour(wood_sure=True, **wrong, off_ratio_words="cup tipped, was in the mould already").pk


def test_demoulding_too_early_is_asked_about(blanks, resin, owner):
    pour = work.pour(
        wood_sure=True,
        system=resin,
        fills=[work.Fill(planned_mg=400 * GRAM, blanks=[blanks[0]])],
        planned_a_mg=200 * GRAM, planned_b_mg=200 * GRAM, poured_a_mg=200 * GRAM, poured_b_mg=200 * GRAM,
        at=BEGAN + DAY, by=owner,
    )  # fmt: skip
    with pytest.raises(PourTrouble):
        work.demould(pour=pour, at=BEGAN + DAY + HOUR, by=owner)
    work.demould(pour=pour, at=BEGAN + DAY + 5 * HOUR, by=owner, weights={blanks[0].pk: 3300 * GRAM})
    assert blanks[0].steps.get(code="cast").state == StepState.DONE


def test_the_clock_splits_between_the_workpieces_it_ran_on(blanks, owner):
    run = work.start_clock(person=owner, workpieces=blanks[:2], code="turn", at=BEGAN + DAY)
    with pytest.raises(ClockTrouble):
        work.start_clock(person=owner, workpieces=[blanks[2]], code="turn", at=BEGAN + DAY)
    work.stop_clock(run=run, at=BEGAN + DAY + 2 * HOUR, by=owner)
    parts = ledger.cost_of(blanks[0].account).parts
    assert parts[Component.OWN_LABOUR] == 30 * MONEY and parts[Component.OVERHEAD] == 12 * MONEY


def test_a_clock_left_over_night_asks_how_long_it_was(blanks, owner):
    run = work.start_clock(person=owner, workpieces=[blanks[0]], code="turn", at=BEGAN + 12 * HOUR)
    with pytest.raises(ClockTrouble) as stop:
        work.stop_clock(run=run, at=BEGAN + 25 * HOUR, by=owner)
    assert stop.value.code == "ask"
    done = work.stop_clock(run=run, at=BEGAN + 25 * HOUR, seconds=3600, by=owner)
    assert done.seconds == 3600


def test_hours_of_what_broke_meanwhile_follow_to_the_loss(blanks, owner):
    run = work.start_clock(person=owner, workpieces=[blanks[0]], code="turn", at=BEGAN + DAY)
    work.it_broke(workpiece=blanks[0], cause="catch", at=BEGAN + DAY + HOUR, by=owner)
    work.stop_clock(run=run, at=BEGAN + DAY + HOUR, by=owner)
    assert ledger.pool_sums()["loss_expected"] == (30 + 30 + 12) * MONEY


def test_uptake_leaves_the_bath_at_its_average_cost(blanks, owner):
    from studio.stores import operations as stores

    sap = stores.add_material(name="Stabilizing resin", kind="stabilizing", by=owner, at=BEGAN)
    stores.buy(material=sap, amount=2 * KILO, paid_micro=50 * MONEY, by=owner, at=BEGAN)
    stores.buy(material=sap, amount=2 * KILO, paid_micro=70 * MONEY, by=owner, at=BEGAN)
    bath = stores.start_bath(name="The bath", material=sap, by=owner, at=BEGAN)
    stores.fill_bath(bath=bath, amount=4 * KILO, by=owner, at=BEGAN)
    run = work.start_stabilizing(bath=bath, dry=[(blanks[0], 1000 * GRAM)], at=BEGAN + DAY, by=owner)
    with pytest.raises(BathTrouble):
        work.finish_stabilizing(run=run, baked={blanks[0].pk: 900 * GRAM}, at=BEGAN + 2 * DAY, by=owner)
    work.finish_stabilizing(run=run, baked={blanks[0].pk: 1400 * GRAM}, at=BEGAN + 2 * DAY, by=owner)
    assert ledger.cost_of(blanks[0].account).parts[Component.STABILIZING] == 12 * MONEY


def test_a_loss_moves_every_component_and_can_be_taken_back(blanks, owner):
    loss = work.it_broke(workpiece=blanks[0], cause="checked", at=BEGAN + DAY, by=owner)
    assert all_in(blanks[0]) == 0
    with pytest.raises(NotOnTheBench):
        work.it_broke(workpiece=blanks[0], cause="checked", at=BEGAN + DAY, by=owner)
    work.take_back_loss(loss=loss, at=BEGAN + DAY, by=owner)
    assert all_in(blanks[0]) == 30 * MONEY
    assert ledger.pool_sums()["loss_expected"] == 0


def test_salvage_carries_wood_by_the_grams_kept_and_never_more_than_a_like_blank_costs(blanks, owner):
    work.add_hours(person=owner, workpieces=[blanks[2]], code="turn", seconds=3600, at=BEGAN + DAY, by=owner)
    loss = work.it_broke(workpiece=blanks[2], cause="catch", at=BEGAN + DAY, by=owner)
    saved = work.salvage(
        loss=loss, kept_wood_mg=1 * KILO, wood_was_mg=5 * KILO, like_blank_micro=8 * MONEY, at=BEGAN + DAY, by=owner
    )
    assert ledger.cost_of(saved.account).parts == {Component.WOOD: 8 * MONEY}
    assert ledger.pool_sums()["loss_expected"] == (50 + 42 - 8) * MONEY


def test_the_oven_night_is_shared_by_weight(blanks, oven, owner):
    load = work.load_up(
        machine=oven, workpieces=blanks[:2], purpose="dry", at=BEGAN + DAY, set_point_mdegc=103_000, by=owner,
        confirm=True,
    )  # fmt: skip
    work.unload(load=load, at=BEGAN + DAY + 10 * HOUR, by=owner)
    one, two = (ledger.cost_of(blank.account).parts for blank in blanks[:2])
    assert one[Component.ENERGY] + two[Component.ENERGY] == 3 * MONEY
    assert one[Component.ENERGY] == 1_800_000 and one[Component.WEAR] == 600_000
    assert blanks[0].steps.get(code="dry").state == StepState.DONE


def test_parts_joined_hand_over_their_cost_and_name_the_piece(blanks, owner):
    whole = work.join(parts=blanks[:2], at=BEGAN + DAY, title="Lidded box", by=owner)
    blanks[0].refresh_from_db()
    assert all_in(whole) == 50 * MONEY
    assert blanks[0].account.successor_id == whole.account_id


def test_a_step_cannot_be_done_before_its_workpiece_was_there(lump, owner):
    from studio.work.errors import OutOfTime

    with pytest.raises(OutOfTime, match="came into being after that"):
        work.end_step(workpiece=lump, code="clean", at=BEGAN - DAY, person=owner)


def test_a_pour_counts_what_was_there_first_and_a_pour_refused_undoes_the_count(blanks, resin, part_b, owner):
    from studio.stores import operations as stores
    from studio.stores.errors import StoresRunShort
    from studio.stores.models import Count

    stores.count(material=part_b, really_there=100 * GRAM, at=BEGAN + HOUR, by=owner)
    wanted = {
        "system": resin, "fills": [work.Fill(planned_mg=400 * GRAM, blanks=[blanks[0]])], "planned_a_mg": 200 * GRAM,
        "planned_b_mg": 200 * GRAM, "poured_a_mg": 200 * GRAM, "poured_b_mg": 200 * GRAM, "at": BEGAN + DAY,
        "by": owner,
    }  # fmt: skip
    with pytest.raises(StoresRunShort):
        work.pour(wood_sure=True, **wanted, counted=[stores.Counted(part_b, 150 * GRAM)])
    assert Count.objects.count() == 1
    assert work.pour(wood_sure=True, **wanted, counted=[stores.Counted(part_b, 210 * GRAM)]).pk
    assert Count.objects.count() == 2
    assert sum(batch.account.amount for batch in part_b.batches.select_related("account")) == 10 * GRAM
