"""What was measured of a blank's room, and how a plan reckons with it."""

import pytest

from studio.equipment import operations as equipment
from studio.people import operations as people
from studio.stores import operations as stores
from studio.wood import operations as wood
from studio.work import operations as work
from studio.work import queries
from studio.work.errors import OutOfTime, PourTrouble
from studio.work.models import Pour, PourFill, RoomReading, Stabilizing
from studio.work.queries import FillWanted, plan_pour
from studio.work.queries.pour_allowed import past_pours
from tests.work.conftest import BEGAN, DAY, GRAM, HOUR, KILO, NOW

LITRE = 1_000_000


@pytest.fixture
def ash(owner):
    return wood.add_species(
        common_name="Field ash", botanical_name="Fraxinus", density_kgm3=500, density_basis="oven",
        density_source="an invented table", shrinkage_ppm=120_000, shrinkage_source="the same", by=owner, at=BEGAN,
    )  # fmt: skip


@pytest.fixture
def pail(owner):
    return equipment.add_mould(name="Pail", shape="measured", fill_mm3=2 * LITRE, by=owner, at=BEGAN)


@pytest.fixture
def blank(blanks, ash, owner):
    """2 kg as it was cut, 800 g oven-dry a week later."""
    row = blanks[1]
    row.species = ash
    row.save(update_fields=["species"])
    weigh(row, 800 * GRAM, "oven_dry", BEGAN + 7 * DAY, owner)
    return row


def weigh(row, mass_mg, condition, at, owner):
    work.weigh(workpiece=row, mass_mg=mass_mg, condition=condition, at=at, by=owner, now=NOW, sure=True)


def measure(row, owner, at=BEGAN + 8 * DAY, **what):
    return work.measure_room(workpiece=row, at=at, now=NOW, by=owner, **what)


def plan(resin, pail, blank, **more):
    return plan_pour(resin, [FillWanted(mould=pail, blanks=(blank,), **more)], at=NOW)


# what was measured


def test_the_best_that_was_measured_is_reckoned_with(resin, pail, blank, owner):
    by_species = plan(resin, pail, blank)
    assert by_species.fills[0].resin_mm3 == 400_000
    measure(blank, owner, own_kgm3=640)
    by_density = plan(resin, pail, blank)
    assert (by_density.fills[0].wood_mm3, by_density.fills[0].resin_mm3) == (1_250_000, 750_000)
    measure(blank, owner, bucket_mm3=1_300_000)
    by_bucket = plan(resin, pail, blank)
    assert by_bucket.fills[0].resin_mm3 == 700_000
    measure(blank, owner, beads_mm3=650_000, mould=pail)
    by_beads = plan(resin, pail, blank)
    assert (by_beads.fills[0].resin_mm3, by_beads.fills[0].wood_mm3) == (663_000, 1_337_000)
    assert by_species.give_mg > by_density.give_mg > by_bucket.give_mg > by_beads.give_mg > 0
    assert "Filled dry" in by_beads.fills[0].shares[0].words


def test_the_latest_reading_of_one_way_counts(resin, pail, blank, owner):
    measure(blank, owner, bucket_mm3=1_300_000)
    measure(blank, owner, bucket_mm3=1_200_000, at=BEGAN + 9 * DAY)
    assert plan(resin, pail, blank).fills[0].wood_mm3 == 1_200_000


def test_a_bucket_while_it_was_wet_is_lessened_by_what_it_shrank(resin, pail, blank, owner):
    measure(blank, owner, bucket_mm3=1_500_000, at=BEGAN + 2 * HOUR)  # at 150 % moisture by its own weights
    assert plan(resin, pail, blank).fills[0].wood_mm3 == 1_320_000


def test_a_dry_fill_belongs_to_its_mould_and_to_the_rim(resin, pail, blank, owner):
    box = equipment.add_mould(
        name="Box", shape="box", length_um=200_000, width_um=100_000, height_um=100_000, by=owner, at=BEGAN
    )
    measure(blank, owner, beads_mm3=650_000, mould=box)
    assert plan(resin, pail, blank).fills[0].resin_mm3 == 400_000
    assert plan(resin, box, blank).fills[0].resin_mm3 == 663_000
    assert plan(resin, box, blank, level_um=90_000).fills[0].resin_mm3 == 200_000


def test_a_measured_blank_needs_no_species_and_no_weight(resin, pail, blanks, owner):
    (reading,) = measure(blanks[2], owner, bucket_mm3=LITRE)
    assert (reading.way, reading.mm3) == (RoomReading.Way.BUCKET, LITRE)
    found = plan(resin, pail, blanks[2])
    assert not found.refusals and found.fills[0].resin_mm3 == LITRE


@pytest.mark.parametrize(
    ("what", "field"),
    [
        ({}, "bucket"),
        ({"bucket_mm3": 0}, "bucket"),
        ({"own_kgm3": 20}, "own_density"),
        ({"own_kgm3": 5_000}, "own_density"),
        ({"beads_mm3": 100}, "mould"),
    ],
)
def test_what_can_not_be_is_refused_beside_its_field(blank, owner, what, field):
    with pytest.raises(PourTrouble) as stop:
        measure(blank, owner, **what)
    assert stop.value.field == field
    assert not RoomReading.objects.exists()


def test_a_fill_above_the_empty_moulds_and_a_time_to_come_are_refused(blank, pail, owner):
    with pytest.raises(PourTrouble, match="With the wood in it takes less"):
        measure(blank, owner, beads_mm3=3 * LITRE, mould=pail)
    with pytest.raises(OutOfTime):
        measure(blank, owner, bucket_mm3=LITRE, at=NOW + HOUR)
    with pytest.raises(OutOfTime):
        measure(blank, owner, bucket_mm3=LITRE, at=BEGAN - DAY)


# what else the plan carries


def test_the_lift_is_said_of_each_mould(resin, pail, blank):
    (fill,) = plan(resin, pail, blank).fills
    assert (fill.lift.mg, fill.lift.wood_kgm3, fill.lift.must_be_held) == (880 * GRAM, 500, True)


def test_punky_wood_drinks_and_a_riser_is_added(resin, pail, blank):
    blank.punky = True
    blank.save(update_fields=["punky"])
    assert plan(resin, pail, blank, more_mm3=50_000).fills[0].resin_mm3 == 400_000 + 48_000 + 50_000


def test_two_moulds_of_one_species_are_off_together(resin, pail, blank, blanks, ash, owner):
    other = blanks[0]
    other.species = ash
    other.save(update_fields=["species"])
    weigh(other, 800 * GRAM, "oven_dry", BEGAN + 7 * DAY, owner)
    one = plan(resin, pail, blank)
    both = plan_pour(resin, [FillWanted(mould=pail, blanks=(row,)) for row in (blank, other)], at=NOW)
    assert both.give_mg > 1.9 * one.give_mg


def test_a_scale_that_takes_less_asks_for_cups_that_add_up(resin, pail, owner):
    people.set_setting(key="scale_most_mg", value=800 * GRAM, by=owner, at=BEGAN)
    found = plan_pour(resin, [FillWanted(mould=pail)], at=NOW)
    assert len(found.cups) == 3 and max(cup.mixed_mg for cup in found.cups) <= 800 * GRAM
    assert (sum(cup.a_mg for cup in found.cups), sum(cup.b_mg for cup in found.cups)) == (found.a_mg, found.b_mg)
    assert not found.refusals


def test_cups_below_the_smallest_batch_are_refused_with_what_would_fit(resin, pail, owner):
    stores.change_resin_system(system=resin, smallest_mg=900 * GRAM, at=NOW)
    people.set_setting(key="scale_most_mg", value=1_000 * GRAM, by=owner, at=BEGAN)
    resin.refresh_from_db()
    found = plan_pour(resin, [FillWanted(mould=pail)], at=NOW)
    assert any("would go" in words for words in found.refusals) and not found.cups


def test_a_batch_limit_is_kept_cup_by_cup_when_it_is_booked(resin, owner):
    stores.change_resin_system(system=resin, largest_mg=1_500 * GRAM, at=NOW)
    resin.refresh_from_db()
    found = plan_pour(resin, [FillWanted(room_mm3=2 * LITRE)], at=NOW)
    assert len(found.cups) == 2
    told = {
        "system": resin, "fills": [work.Fill(planned_mg=found.total_mg)], "planned_a_mg": found.a_mg,
        "planned_b_mg": found.b_mg, "poured_a_mg": found.a_mg, "poured_b_mg": found.b_mg, "at": NOW, "by": owner,
    }  # fmt: skip
    with pytest.raises(PourTrouble, match="largest batch"):
        work.pour(wood_sure=True, **told)
    work.pour(wood_sure=True, **told, cups=2)
    assert Pour.objects.get().poured_mg == found.total_mg


def clocked(resin, pail, owner, **answers):
    stores.change_resin_system(
        system=resin, work_time_s=2400, work_time_at_mdegc=25_000, work_time_mass_mg=100 * GRAM, second_time_s=600,
        second_mass_mg=3 * KILO, at=NOW,
    )  # fmt: skip
    resin.refresh_from_db()
    for key, value in answers.items():
        people.set_setting(key=key, value=value, by=owner, at=BEGAN)
    return plan_pour(resin, [FillWanted(mould=pail)], at=NOW, resin_mdegc=25_000)


def test_the_clock_knows_the_mass_by_the_sheets_second_point(resin, pail, owner):
    held = clocked(resin, pail, owner, pot_fill_s=120).clock
    assert 600 < held.time.seconds < 1200
    assert held.clock.lid_by_s == held.time.seconds - 120


def test_a_plan_that_can_not_make_it_says_so_before_anything_is_mixed(resin, pail, owner):
    assert not [words for words in clocked(resin, pail, owner).cautions if "in time" in words]
    late = clocked(resin, pail, owner, pour_hands_s=1200)
    assert [words for words in late.cautions if "can't be poured in time" in words]


def test_beyond_the_sheets_masses_the_clock_is_unknown(resin, pail, owner):
    clocked(resin, pail, owner)
    stores.change_resin_system(system=resin, second_time_s=None, second_mass_mg=None, at=NOW)
    resin.refresh_from_db()
    held = plan_pour(resin, [FillWanted(mould=pail)], at=NOW).clock
    assert (held.time.seconds, held.time.at_most_s) == (None, 2400)


# what pours taught


def poured(resin, owner, blank, at, took_mg, reckoned_mg=400 * GRAM):
    row = work.pour(
        wood_sure=True,
        system=resin, planned_a_mg=220 * GRAM, planned_b_mg=220 * GRAM, poured_a_mg=250 * GRAM,
        poured_b_mg=250 * GRAM, at=at, by=owner,
        fills=[work.Fill(planned_mg=440 * GRAM, reckoned_mg=reckoned_mg)],
    )  # fmt: skip
    casting = row.fills.get().casting
    work.demould(pour=row, at=at + 5 * HOUR, by=owner, weights={casting.pk: took_mg})
    return row


def test_the_allowance_is_learned_from_castings_that_were_weighed(resin, pail, owner):
    for day in range(5):
        before = plan_pour(resin, [FillWanted(room_mm3=LITRE)], at=NOW)
        assert (before.waste_ppm, before.allowed.learned, before.allowed.count) == (100_000, False, day)
        poured(resin, owner, None, NOW + day * DAY - 40 * DAY, 480 * GRAM)
    after = plan_pour(resin, [FillWanted(room_mm3=LITRE)], at=NOW)
    # each needed 480 g and 3 % for the cup where 400 were reckoned
    assert after.allowed.learned and after.allowed.count == 5 and after.waste_ppm > 200_000
    assert after.total_mg > before.total_mg


def test_what_was_not_weighed_or_not_reckoned_teaches_nothing(resin, owner):
    row = poured(resin, owner, None, NOW - 40 * DAY, 480 * GRAM)
    assert [(past.reckoned_mg, past.needed_mg) for past in past_pours()] == [(400 * GRAM, 492 * GRAM)]
    PourFill.objects.filter(pour=row).update(reckoned_mg=None)
    assert past_pours() == []
    work.pour(
        wood_sure=True,
        system=resin, planned_a_mg=1, planned_b_mg=1, poured_a_mg=250 * GRAM, poured_b_mg=250 * GRAM, at=NOW,
        by=owner, fills=[work.Fill(planned_mg=440 * GRAM, reckoned_mg=400 * GRAM)],
    )  # fmt: skip
    assert past_pours() == []


def test_a_plan_asks_the_same_number_of_questions_of_many_moulds(
    resin, pail, blank, django_assert_max_num_queries
):
    fills = [FillWanted(mould=pail, blanks=(blank,)), *[FillWanted(room_mm3=LITRE)] * 9]
    with django_assert_max_num_queries(28):
        found = plan_pour(resin, fills, at=NOW)
    assert len(found.fills) == 10 and queries.FillPlan is type(found.fills[0])


def test_stabilized_wood_teaches_nothing_since_it_weighs_more_than_its_dry_weight(resin, owner):
    row = poured(resin, owner, None, NOW - 40 * DAY, 480 * GRAM)
    assert len(past_pours()) == 1
    material = stores.add_material(name="Bath resin", kind="stabilizing", by=owner, at=BEGAN)
    bath = stores.start_bath(name="The chamber", material=material, at=BEGAN, by=owner)
    soaked = Stabilizing.objects.create(bath=bath, started_at=BEGAN)
    soaked.items.create(workpiece=row.fills.get().casting, dry_mg=1)
    assert past_pours() == []


# what thickened


def mixed(resin, owner, began, mass_mg=1_000 * GRAM, **more):
    return work.pour(
        wood_sure=True,
        system=resin, planned_a_mg=1, planned_b_mg=1, poured_a_mg=mass_mg // 2, poured_b_mg=mass_mg // 2,
        at=began + HOUR / 6, by=owner, began_at=began, resin_mdegc=25_000,
        fills=[work.Fill(planned_mg=mass_mg)], **more,
    )  # fmt: skip


def test_what_thickened_at_this_bench_makes_a_mass_known(resin, pail, owner):
    clocked(resin, pail, owner)
    stores.change_resin_system(system=resin, second_time_s=None, second_mass_mg=None, at=NOW)
    resin.refresh_from_db()
    began = NOW - 2 * DAY
    row = work.note_thickened(pour=mixed(resin, owner, began, 3 * KILO), at=began + HOUR / 4, now=NOW)
    assert row.thickened_at == began + HOUR / 4
    held = plan_pour(resin, [FillWanted(mould=pail)], at=NOW, resin_mdegc=25_000).clock
    assert held.time.own and 900 < held.time.seconds < 2400


def test_a_tap_over_several_cups_says_nothing_of_one(resin, pail, owner):
    clocked(resin, pail, owner)
    before = plan_pour(resin, [FillWanted(mould=pail)], at=NOW, resin_mdegc=25_000).clock.time
    began = NOW - 2 * DAY
    work.note_thickened(pour=mixed(resin, owner, began, 3 * KILO, cups=2), at=began + HOUR / 60, now=NOW)
    assert plan_pour(resin, [FillWanted(mould=pail)], at=NOW, resin_mdegc=25_000).clock.time == before


def test_a_beginning_that_can_not_be_is_not_kept(resin, owner):
    row = mixed(resin, owner, NOW - 2 * DAY)
    assert row.began_at == NOW - 2 * DAY
    for wrong in (NOW, NOW - 9 * DAY):
        late = work.pour(
            wood_sure=True,
            system=resin, planned_a_mg=1, planned_b_mg=1, poured_a_mg=KILO, poured_b_mg=KILO, at=NOW - DAY, by=owner,
            began_at=wrong, fills=[work.Fill(planned_mg=KILO)],
        )  # fmt: skip
        assert late.began_at is None


def test_it_thickens_once_after_the_parts_met_and_not_tomorrow(resin, owner):
    began = NOW - 2 * DAY
    row = mixed(resin, owner, began)
    for moment in (began, NOW + DAY):
        with pytest.raises(OutOfTime):
            work.note_thickened(pour=row, at=moment, now=NOW)
    work.note_thickened(pour=row, at=began + HOUR, now=NOW)
    with pytest.raises(PourTrouble, match="noted already"):
        work.note_thickened(pour=row, at=began + 2 * HOUR, now=NOW)
    with pytest.raises(PourTrouble, match="Nobody noted"):
        work.note_thickened(pour=poured(resin, owner, None, NOW - DAY, 480 * GRAM), at=NOW, now=NOW)
