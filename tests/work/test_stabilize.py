"""A load through the bath: its taps in order, what is asked before and after, and the bath's own weight."""

from datetime import timedelta

import pytest

from studio.equipment.models import Purpose
from studio.fields.errors import Refused
from studio.ledger import audit
from studio.people import operations as people
from studio.stores import operations as stores
from studio.wood import operations as wood
from studio.work import operations as work
from studio.work import queries
from studio.work.errors import BathTrouble, OutOfTime
from studio.work.models import StabilizingItem
from tests.work.conftest import BEGAN, DAY, GRAM, HOUR, KILO, MONEY

IN = BEGAN + 10 * DAY


@pytest.fixture
def bath(owner):
    resin = stores.add_material(name="Bath resin", kind="stabilizing", by=owner, at=BEGAN)
    stores.buy(material=resin, amount=5 * KILO, paid_micro=150 * MONEY, by=owner, at=BEGAN)
    row = stores.start_bath(name="The jar", material=resin, at=BEGAN, by=owner)
    stores.fill_bath(bath=row, amount=3 * KILO, at=BEGAN, by=owner)
    return row


@pytest.fixture
def dry(blanks, owner):
    for piece in blanks[:2]:
        for code in ("clean", "dry"):
            work.end_step(workpiece=piece, code=code, at=BEGAN + 2 * HOUR, person=owner)
    return [(blanks[0], 800 * GRAM), (blanks[1], 400 * GRAM)]


@pytest.fixture
def run(bath, dry, owner):
    return work.start_stabilizing(bath=bath, dry=dry, at=IN, cooled=True, bath_mg=4 * KILO, by=owner)


def tap(run, what, minutes, **more):
    return work.note_soak(run=run, what=what, at=IN + timedelta(minutes=minutes), **more)


def finish(run, dry, owner, *, hours=30, **more):
    baked = {dry[0][0].pk: 1_200 * GRAM, dry[1][0].pk: 600 * GRAM}
    return work.finish_stabilizing(run=run, baked=baked, at=IN + hours * HOUR, by=owner, **more)


def test_taps_in_the_trades_order_are_asked_nothing(run):
    tap(run, "under", 5)
    tap(run, "vacuum", 10, gauge_pa=94_000)
    found = tap(run, "bubbles", 190)
    assert found.vacuum_pa == 94_000
    # three hours of vacuum: three more after the bubbles
    assert queries.soaking_page(run.pk).soaked_by == IN + timedelta(minutes=370)


def test_the_studio_says_how_long_a_soak_is(run, owner):
    people.set_setting(key="soak_factor_ppm", value=2_000_000, by=owner, at=BEGAN)
    for what, minute in (("under", 0), ("vacuum", 10), ("bubbles", 70)):
        tap(run, what, minute)
    assert queries.soaking_page(run.pk).soaked_by == IN + timedelta(minutes=190)


def test_out_of_order_is_asked_and_stored_only_when_sure(run):
    with pytest.raises(BathTrouble, match="vacuum is on") as asked:
        tap(run, "bubbles", 30)
    run.refresh_from_db()
    assert asked.value.code == "sure" and run.bubbles_at is None
    assert tap(run, "bubbles", 30, sure=True).bubbles_at == IN + timedelta(minutes=30)


def test_a_time_before_the_tap_ahead_of_it_is_asked(run):
    tap(run, "under", 20)
    with pytest.raises(BathTrouble, match="later time") as asked:
        tap(run, "vacuum", 10)
    assert asked.value.code == "sure"


def test_each_tap_can_be_taken_back_and_said_anew(run):
    tap(run, "under", 1)
    tap(run, "vacuum", 2, gauge_pa=90_000)
    with pytest.raises(BathTrouble, match="Take that back"):
        tap(run, "vacuum", 3)
    back = work.take_back_soak(run=run, what="vacuum")
    assert back.vacuum_at is None and back.vacuum_pa is None
    with pytest.raises(BathTrouble, match="nothing was changed"):
        work.take_back_soak(run=run, what="vacuum")
    assert tap(run, "vacuum", 3).vacuum_at == IN + timedelta(minutes=3)


@pytest.mark.parametrize("what", ["", "drained", "started", "x" * 200])
def test_only_taps_are_taps(run, what):
    with pytest.raises(BathTrouble):
        tap(run, what, 1)
    with pytest.raises(BathTrouble):
        work.take_back_soak(run=run, what=what)


def test_nothing_is_seen_before_they_went_in(run):
    with pytest.raises(OutOfTime, match="later than that"):
        tap(run, "under", -1)


def test_no_vacuum_is_deeper_than_the_air_there_is(run, owner):
    tap(run, "under", 1)
    for gauge, words in ((0, "above nothing"), (-5, "above nothing"), (120_000, "no vacuum is deeper")):
        with pytest.raises(BathTrouble, match=words):
            tap(run, "vacuum", 2, gauge_pa=gauge)
    people.set_setting(key="altitude_m", value=1500, by=owner, at=BEGAN, from_on=BEGAN.date())
    with pytest.raises(BathTrouble, match="no vacuum is deeper"):
        tap(run, "vacuum", 2, gauge_pa=90_000)
    assert tap(run, "vacuum", 2, gauge_pa=80_000).vacuum_pa == 80_000


def test_lifting_out_while_it_bubbles_or_soaks_is_asked(run, dry):
    weights = {piece.pk: mass + 500 * GRAM for piece, mass in dry}
    tap(run, "under", 1)
    tap(run, "vacuum", 2)
    with pytest.raises(BathTrouble, match="air that is still in the wood"):
        work.record_drained(run=run, weights=weights, at=IN + HOUR)
    tap(run, "bubbles", 62)
    with pytest.raises(BathTrouble, match="want 32.min more"):
        work.record_drained(run=run, weights=weights, at=IN + timedelta(minutes=90))
    run.refresh_from_db()
    assert run.drained_at is None
    assert work.record_drained(run=run, weights=weights, at=IN + timedelta(minutes=90), sure=True).drained_at


def test_who_taps_nothing_is_asked_nothing(run, dry):
    assert work.record_drained(run=run, weights={dry[0][0].pk: KILO}, at=IN + HOUR).drained_at == IN + HOUR


def test_hot_wood_is_asked_about(bath, dry, oven, owner):
    pieces = [piece for piece, _ in dry]
    load = work.load_up(machine=oven, workpieces=pieces, purpose=Purpose.BAKE, set_point_mdegc=103_000,
                        at=IN - 20 * HOUR, by=owner, now=IN)  # fmt: skip
    with pytest.raises(BathTrouble, match="lies in The brick oven by the books"):
        work.start_stabilizing(bath=bath, dry=dry, at=IN, by=owner)
    work.unload(load=load, at=IN - HOUR, by=owner, now=IN)
    with pytest.raises(BathTrouble, match="only 1.h before, and wood cools 4.h") as asked:
        work.start_stabilizing(bath=bath, dry=dry, at=IN, by=owner)
    assert asked.value.code == "sure" and not StabilizingItem.objects.exists()
    assert work.start_stabilizing(bath=bath, dry=dry, at=IN + 4 * HOUR, by=owner).cooled_at is None
    assert StabilizingItem.objects.count() == 2


def test_dark_beside_light_and_light_after_dark_are_asked(bath, dry, owner):
    first, second = dry
    with pytest.raises(BathTrouble, match="darkens both"):
        work.start_stabilizing(bath=bath, dry=dry, dark={first[0].pk}, at=IN, by=owner)
    with pytest.raises(BathTrouble, match="from now on"):
        work.start_stabilizing(bath=bath, dry=[first], dark={first[0].pk}, at=IN, by=owner)
    work.start_stabilizing(bath=bath, dry=[first], dark={first[0].pk}, at=IN, sure=True, by=owner)
    with pytest.raises(BathTrouble, match="Dark wood was in The jar before"):
        work.start_stabilizing(bath=bath, dry=[second], at=IN, by=owner)


def test_resin_past_its_keeping_time_is_asked_with_the_day(bath, dry, owner):
    stores.tell_of_bath(bath=bath, catalysed_on=BEGAN.date(), keeps_s=7 * 86_400, dyed=False, at=IN, by=owner)
    bath.refresh_from_db()
    with pytest.raises(BathTrouble, match="kept until 17 March 2025") as asked:
        work.start_stabilizing(bath=bath, dry=dry, at=IN, by=owner)
    assert asked.value.code == "sure"


def test_the_bath_s_loss_is_shared_by_uptake_to_the_milligram(run, dry, bath, owner):
    # 4 kg before, 3.387 kg after: 613 g gone, 600 g kept, 13 g dripped and bled out, shared 2 to 1
    done = finish(run, dry, owner, bath_after_mg=3_387 * GRAM)
    shares = list(done.items.order_by("pk").values_list("loss_mg", flat=True))
    assert done.lost_mg == 13 * GRAM and shares == [8_667, 4_333]
    bath.account.refresh_from_db()
    assert bath.account.amount == 3 * KILO - 613 * GRAM
    assert audit.run().clean


def test_an_unweighed_bath_gives_what_the_wood_kept_and_no_more(run, dry, bath, owner):
    done = finish(run, dry, owner)
    bath.account.refresh_from_db()
    assert done.lost_mg is None and bath.account.amount == 3 * KILO - 600 * GRAM


@pytest.mark.parametrize(("after", "words"), [(4_001, "more than before"), (3_500, "One of the weights is off")])
def test_a_bath_that_gained_or_lost_too_little_is_asked(run, dry, bath, owner, after, words):
    with pytest.raises(BathTrouble, match=words) as asked:
        finish(run, dry, owner, bath_after_mg=after * GRAM)
    run.refresh_from_db()
    assert asked.value.code == "sure" and run.ended_at is None
    done = finish(run, dry, owner, bath_after_mg=after * GRAM, sure=True)
    assert done.lost_mg is None and done.bath_after_mg == after * GRAM


@pytest.mark.parametrize("weights", [{"bath_after_mg": 0}, {"bath_after_mg": -1}])
def test_nonsense_of_a_bath_s_weight_is_refused(run, dry, owner, weights):
    with pytest.raises(BathTrouble, match="above nothing"):
        finish(run, dry, owner, **weights)


def test_what_was_filled_in_meanwhile_counts(run, dry, bath, owner):
    stores.fill_bath(bath=bath, amount=200 * GRAM, at=IN + HOUR, by=owner)
    assert finish(run, dry, owner, bath_after_mg=3_580 * GRAM).lost_mg == 20 * GRAM


def test_weights_of_a_bath_that_tell_of_more_than_this_load_are_refused(run, dry, blanks, bath, owner):
    stores.count_bath(bath=bath, really_there=2_900 * GRAM, at=IN + HOUR, by=owner)
    with pytest.raises(BathTrouble, match="counted while they were in it"):
        finish(run, dry, owner, bath_after_mg=3_300 * GRAM)
    for code in ("clean", "dry"):
        work.end_step(workpiece=blanks[2], code=code, at=IN, person=owner)
    work.start_stabilizing(bath=bath, dry=[(blanks[2], KILO)], at=IN + 2 * HOUR, by=owner)
    with pytest.raises(BathTrouble, match="Another load"):
        finish(run, dry, owner, bath_after_mg=3_300 * GRAM)


def test_where_one_was_lost_nothing_is_shared(run, dry, owner):
    work.it_broke(workpiece=dry[1][0], cause="checked", at=IN + HOUR, by=owner, now=IN + HOUR)
    done = work.finish_stabilizing(
        run=run, baked={dry[0][0].pk: 1_200 * GRAM}, at=IN + 30 * HOUR, bath_after_mg=3_400 * GRAM, by=owner
    )
    assert done.lost_mg is None


def test_the_skin_is_asked_for_until_it_is_brushed_off(run, dry, owner):
    pieces = [piece for piece, _ in dry]
    with pytest.raises(BathTrouble, match="after the bake"):
        work.brush_skin(run=run, at=IN + HOUR)
    assert queries.not_brushed(pieces) == []
    done = finish(run, dry, owner)
    assert [piece.pk for piece, _ in queries.not_brushed(pieces)] == [piece.pk for piece in pieces]
    with pytest.raises(Refused, match="later than that"):
        work.brush_skin(run=done, at=IN)
    work.brush_skin(run=done, at=IN + 31 * HOUR, workpieces=[pieces[0].pk])
    assert [piece.pk for piece, _ in queries.not_brushed(pieces)] == [pieces[1].pk]
    work.take_back_brushing(run=done)
    assert len(queries.not_brushed(pieces)) == 2


def test_a_finished_load_takes_no_tap(run, dry, owner):
    done = finish(run, dry, owner)
    with pytest.raises(BathTrouble, match="finished already"):
        tap(done, "under", 60 * 40)
    with pytest.raises(BathTrouble, match="finished already"):
        work.take_back_soak(run=done, what="under")


def test_the_round_says_the_next_of_the_order(run, dry, owner):
    def said():
        found = next(one for one in queries.waits(IN + 2 * HOUR) if one.about == ("work.stabilizing", run.pk))
        return found.what, found.kind, found.until

    assert said() == ("weight under", "since", "")
    tap(run, "under", 1)
    assert said()[0] == "pull the vacuum on"
    tap(run, "vacuum", 2)
    assert said() == ("watch", "until", "bubbles stop")
    tap(run, "bubbles", 62)
    assert said() == ("lift out and weigh", "not before", "")
    work.record_drained(run=run, weights={dry[0][0].pk: KILO}, at=IN + 3 * HOUR)
    assert said()[0] == "wrap in foil, bake, clean and weigh"


def test_own_density_says_more_of_the_room_than_the_species(bath, blanks, owner):
    ash = wood.add_species(common_name="Field ash", density_kgm3=700, density_basis="oven",
                           density_source="an invented table", by=owner, at=BEGAN)  # fmt: skip
    piece = blanks[0]
    piece.species = ash
    piece.save()
    for code in ("clean", "dry"):
        work.end_step(workpiece=piece, code=code, at=BEGAN + 2 * HOUR, person=owner)
    assert queries.ready_to_soak()[0].advice.leans == "leave"
    work.measure_room(workpiece=piece, own_kgm3=500, at=IN, now=IN, by=owner)
    assert queries.ready_to_soak()[0].advice.reasons == ("decayed",)
    run = work.start_stabilizing(bath=bath, dry=[(piece, KILO)], at=IN + HOUR, by=owner)
    page = queries.soaking_page(run.pk)
    # (1 - 0.5/1.54) * 1.05 / 0.5
    assert round(page.pieces[0].most_ppm, -3) == 1_418_000
