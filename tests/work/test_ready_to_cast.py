"""Ready to cast, or refused: by skin, by core, by fog, by weights; and what goes past it."""

from datetime import timedelta

import pytest

from studio.fields.errors import Refused
from studio.people import operations as people
from studio.people import settings as answers
from studio.wood.models import Species
from studio.work import operations as work
from studio.work import queries
from studio.work.errors import OutOfTime, PourTrouble, StepTrouble
from studio.work.models import Overruled, Pour, Step, WoodEvent, Wrap
from studio.work.operations.ready import refuse_unready
from tests.work.conftest import BEGAN, GRAM, HOUR

IN = BEGAN + 2 * HOUR
OUT = IN + 75 * HOUR
LATE = BEGAN + timedelta(days=30)


def weigh(piece, owner, grams, at, condition="oven"):
    work.weigh(workpiece=piece, mass_mg=grams * GRAM, at=at, condition=condition, by=owner, now=LATE, sure=True)


def baked_in(oven, pieces, owner, *, at=IN, purpose="dry"):
    return work.load_up(
        machine=oven,
        workpieces=pieces,
        purpose=purpose,
        set_point_mdegc=103_000,
        at=at,
        by=owner,
        now=LATE,
        confirm=True,
    )


@pytest.fixture
def dry(blanks, oven, owner):
    """41/2: 75 hours in the oven, 1600 g when it came out."""
    piece = blanks[1]
    load = baked_in(oven, [piece], owner)
    for hours, grams in ((24, 1650), (48, 1601), (72, 1600)):
        weigh(piece, owner, grams, IN + hours * HOUR)
    work.unload(load=load, at=OUT, by=owner, now=LATE)
    weigh(piece, owner, 1600, OUT + HOUR / 30, "oven_dry")
    return piece


@pytest.fixture
def air(owner):
    for key, value in (("shop_temperature_mdegc", 20_000), ("shop_humidity_ppm", 650_000)):
        people.set_setting(key=key, value=value, by=owner, at=BEGAN, from_on=BEGAN.date())


def stops(piece, at):
    return [one.words for one in queries.not_ready([piece], at)]


def poured(piece, resin, owner, at, **more):
    return work.pour(
        system=resin, fills=[work.Fill(planned_mg=400 * GRAM, blanks=[piece])], planned_a_mg=200 * GRAM,
        planned_b_mg=200 * GRAM, poured_a_mg=200 * GRAM, poured_b_mg=200 * GRAM, at=at, by=owner, now=LATE, **more,
    )  # fmt: skip


def test_dry_wood_within_the_limit_is_cast_without_a_question(dry, resin, owner):
    assert stops(dry, OUT + 5 * HOUR) == []
    assert poured(dry, resin, owner, OUT + 5 * HOUR).pk


def test_past_the_skin_s_limit_it_is_refused_and_says_what_to_do(dry, resin, owner):
    with pytest.raises(
        PourTrouble, match="41/2 has been out of the oven 31 hours; your limit is 6 hours: an hour back"
    ):
        poured(dry, resin, owner, OUT + 31 * HOUR, wood_sure=True)
    assert not Pour.objects.exists()


def test_it_is_judged_as_it_was_when_the_two_parts_met(dry, resin, owner):
    at = OUT + 6 * HOUR + HOUR / 2
    with pytest.raises(PourTrouble, match="out of the oven"):
        poured(dry, resin, owner, at)
    assert poured(dry, resin, owner, at, began_at=at - HOUR).pk


def test_an_hour_back_in_sets_the_skin_right_and_half_an_hour_does_not(dry, oven, owner):
    load = baked_in(oven, [dry], owner, at=OUT + 20 * HOUR, purpose="warm")
    work.unload(load=load, at=OUT + 20.5 * HOUR, by=owner, now=LATE)
    assert "has been out of the oven 22 hours" in stops(dry, OUT + 22 * HOUR)[0]
    load = baked_in(oven, [dry], owner, at=OUT + 22 * HOUR, purpose="warm")
    work.unload(load=load, at=OUT + 23 * HOUR, by=owner, now=LATE)
    assert stops(dry, OUT + 28 * HOUR) == []
    assert stops(dry, OUT + 30 * HOUR)


def test_an_hour_back_in_leaves_the_core_as_it_was(dry, oven, owner, air):
    weigh(dry, owner, 1760, OUT + 100 * HOUR, "wet")
    load = baked_in(oven, [dry], owner, at=OUT + 101 * HOUR, purpose="warm")
    work.unload(load=load, at=OUT + 102 * HOUR, by=owner, now=LATE)
    (words,) = stops(dry, OUT + 103 * HOUR)
    assert "is about 10 % moist by its weight; your limit is 5" in words.replace("\u00a0", " ")


def test_a_weight_that_gained_nothing_clears_the_skin_for_as_long_as_it_may_lie(dry, owner):
    weigh(dry, owner, 1604, OUT + 30 * HOUR, "wet")
    assert stops(dry, OUT + 31 * HOUR) == []
    assert stops(dry, OUT + 37 * HOUR)


def test_in_the_bag_the_skin_clock_stands_still_and_runs_on_afterwards(dry, owner):
    work.wrap(workpieces=[dry], at=OUT + HOUR, by=owner, now=LATE)
    assert stops(dry, OUT + 40 * HOUR) == []
    work.unwrap(workpiece=dry, at=OUT + 40 * HOUR, by=owner, now=LATE)
    assert stops(dry, OUT + 44 * HOUR) == []
    assert "has been out of the oven 7 hours" in stops(dry, OUT + 46 * HOUR)[0]


def test_fog_in_the_bag_is_not_dry_until_it_is_weighed_again(dry, owner):
    work.wrap(workpieces=[dry], at=OUT + HOUR, by=owner, now=LATE)
    work.note_fog(workpiece=dry, at=OUT + 2 * HOUR, by=owner, now=LATE)
    assert "fogged its bag, so it isn’t dry" in stops(dry, OUT + 3 * HOUR)[0]
    work.unwrap(workpiece=dry, at=OUT + 3 * HOUR, by=owner, now=LATE)
    assert "fogged its bag" in stops(dry, OUT + 3.5 * HOUR)[0]
    weigh(dry, owner, 1600, OUT + 4 * HOUR, "wet")
    assert stops(dry, OUT + 4.5 * HOUR) == []


def test_a_bag_is_refused_in_the_oven_twice_and_before_its_time(dry, blanks, oven, owner):
    baked_in(oven, [blanks[0]], owner, at=OUT + HOUR)
    with pytest.raises(StepTrouble, match="still in the oven"):
        work.wrap(workpieces=[blanks[0]], at=OUT + 2 * HOUR, by=owner, now=LATE)
    with pytest.raises(OutOfTime, match="still to come"):
        work.wrap(workpieces=[dry], at=LATE + HOUR, by=owner, now=LATE)
    with pytest.raises(StepTrouble, match="lies in no bag"):
        work.unwrap(workpiece=dry, at=OUT + HOUR, by=owner, now=LATE)
    with pytest.raises(StepTrouble, match="lies in no bag"):
        work.note_fog(workpiece=dry, at=OUT + HOUR, by=owner, now=LATE)
    work.wrap(workpieces=[dry], at=OUT + 2 * HOUR, by=owner, now=LATE)
    with pytest.raises(StepTrouble, match="in a bag already"):
        work.wrap(workpieces=[dry], at=OUT + 3 * HOUR, by=owner, now=LATE)
    with pytest.raises(OutOfTime, match="into the bag after that"):
        work.unwrap(workpiece=dry, at=OUT + HOUR, by=owner, now=LATE)
    assert Wrap.objects.count() == 1


def test_words_go_past_a_refusal_once_and_stay_with_the_piece(dry, resin, oven, owner):
    at = OUT + 31 * HOUR
    with pytest.raises(StepTrouble, match="Say in words"):
        work.cast_all_the_same(workpiece=dry, words="  ", at=at, by=owner, now=LATE)
    said = work.cast_all_the_same(workpiece=dry, words=" It lay  by the stove. ", at=at, by=owner, now=LATE)
    assert (said.words, said.refused) == (
        "It lay by the stove.", "41/2 has been out of the oven 31 hours; your limit is 6 hours",
    )  # fmt: skip
    assert stops(dry, at + HOUR) == []
    load = baked_in(oven, [dry], owner, at=at + 2 * HOUR, purpose="warm")
    work.unload(load=load, at=at + 4 * HOUR, by=owner, now=LATE)
    assert stops(dry, at + 20 * HOUR), "it was said of the time before"
    assert queries.overruled_of([dry.pk]) == {dry.pk: [said]}
    assert poured(dry, resin, owner, at + 5 * HOUR).pk


def test_words_are_refused_where_nothing_stands_against_it(dry, owner):
    with pytest.raises(StepTrouble, match="no words are needed"):
        work.cast_all_the_same(workpiece=dry, words="why not", at=OUT + HOUR, by=owner, now=LATE)
    with pytest.raises(StepTrouble, match="300"):
        work.cast_all_the_same(workpiece=dry, words="x" * 301, at=OUT + HOUR, by=owner, now=LATE)
    assert not Overruled.objects.exists()


def test_wood_that_still_loses_is_refused_and_wood_nobody_dried_here_is_asked_about(blanks, resin, oven, owner):
    first, second, third = blanks
    baked_in(oven, [first], owner)
    weigh(first, owner, 2900, IN + 6 * HOUR)
    weigh(first, owner, 2700, IN + 12 * HOUR)
    assert "41/1 is still losing water by its weights: dry it first" in stops(first, IN + 13 * HOUR)[0]
    with pytest.raises(PourTrouble, match="41/3 was never weighed dry here. If it is dry all the same") as stop:
        poured(third, resin, owner, IN)
    assert stop.value.code == "sure"
    assert poured(third, resin, owner, IN, wood_sure=True).pk


def test_wood_whose_weight_tells_nothing_has_at_least_the_skin_s_clock(dry, owner, air):
    wood = Species.objects.create(common_name="Pitch larch", resinous=True)
    type(dry).objects.filter(pk=dry.pk).update(species=wood)
    dry.refresh_from_db()
    assert stops(dry, OUT + 5 * HOUR) == []
    assert "has been out of the oven 7 hours" in stops(dry, OUT + 7 * HOUR)[0]
    found = queries.page(dry.pk)
    assert found is not None
    told = queries.drying(found, OUT + 7 * HOUR)
    assert told.unreliable == "resinous" and told.moisture is None
    assert told.regain is not None and told.regain.skin.over and told.regain.core is None


def test_bark_off_begins_a_new_series_and_can_be_taken_back(blanks, owner):
    piece = blanks[0]
    weigh(piece, owner, 2900, BEGAN + 10 * HOUR, "wet")
    event = work.note_wood(workpiece=piece, kind="bark_off", at=BEGAN + 11 * HOUR, by=owner, now=LATE)
    weigh(piece, owner, 2500, BEGAN + 12 * HOUR, "wet")

    def readings():
        found = queries.page(piece.pk)
        assert found is not None
        told = queries.drying(found, BEGAN + 13 * HOUR)
        assert told.series is not None
        return told.series.grams

    assert readings() == [2500]
    work.take_back_wood_note(event=event)
    assert readings() == [3000, 2900, 2500]
    with pytest.raises(Refused, match="Say what was done"):
        work.note_wood(workpiece=piece, kind="painted", at=LATE, by=owner, now=LATE)
    assert WoodEvent.objects.count() == 1


def test_wax_taken_off_makes_the_weight_tell_again_on_what_is_cut_from_it_too(lump, owner):
    purchase = lump.purchase
    purchase.waxed = "yes"
    purchase.save(update_fields=["waxed"])
    work.note_wood(workpiece=lump, kind="wax_off", at=BEGAN + HOUR, by=owner, now=LATE)
    (half,) = work.cut(
        parent=lump, blanks=[work.BlankSpec(weight=1, mass_mg=900 * GRAM)], at=BEGAN + 2 * HOUR, by=owner, now=LATE
    )
    found = queries.page(half.pk)
    assert found is not None and queries.drying(found, LATE).unreliable == ""
    WoodEvent.objects.all().delete()
    assert queries.drying(found, LATE).unreliable == "waxed"


def test_many_blanks_ask_as_few_questions_as_one(dry, blanks, django_assert_max_num_queries):
    for many in ([dry], blanks):
        with answers.remembered(), django_assert_max_num_queries(10):  # nine, and the studio's answers
            queries.not_ready(many, OUT + 31 * HOUR)


def test_nothing_lies_on_the_bench_of_a_pour_without_wood(owner, django_assert_num_queries):
    with django_assert_num_queries(0):
        refuse_unready([], at=LATE)


def cast_lines(at):
    return [(wait.what, [tag.number for tag in wait.tags]) for wait in queries.waits(at) if wait.what in CASTS]


CASTS = ("cast", "don’t cast yet")


def test_the_round_does_not_offer_to_cast_what_a_pour_would_refuse(dry, owner):
    for step in Step.objects.filter(workpiece=dry, state__in=["open", "planned"]).exclude(code="cast"):
        work.leave_out_step(workpiece=dry, code=step.code, why="Not needed here")
    assert cast_lines(OUT + HOUR) == [("cast", ["41/2"])]
    assert cast_lines(OUT + 31 * HOUR) == [("don’t cast yet", ["41/2"])]
    (wait,) = [wait for wait in queries.waits(OUT + 31 * HOUR) if wait.what == "don’t cast yet"]
    assert wait.place == "oven" and wait.reason.startswith(
        "has been out of the oven 31 hours; your limit is 6 hours:"
    )
    work.cast_all_the_same(workpiece=dry, words="A test cast", at=OUT + 31 * HOUR, by=owner, now=LATE)
    assert cast_lines(OUT + 32 * HOUR) == [("cast", ["41/2"])]
