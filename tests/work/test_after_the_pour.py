"""What came out of the moulds: how castings look, what they and the cup weigh, and where the rest went."""

import pytest

from studio.equipment import operations as equipment
from studio.stores import operations as stores
from studio.work import operations as work
from studio.work.errors import PourTrouble
from studio.work.models import Outcome, Pour, Stabilizing, Weighing
from studio.work.queries.outcomes import outcomes_of, weighed_out
from tests.selling.shelf import differences
from tests.work.conftest import BEGAN, DAY, GRAM, HOUR, NOW

AT, OUT = BEGAN + DAY, BEGAN + DAY + 5 * HOUR


@pytest.fixture
def moulds(owner):
    return [
        equipment.add_mould(name=name, shape="measured", fill_mm3=1_000_000, by=owner, at=BEGAN)
        for name in ("One", "Two")
    ]


@pytest.fixture
def poured(resin, blanks, moulds, blue, owner):
    """500 and 500 g of the mix and 10 g of blue, round 300 and 200 g of dry wood."""
    fills = [
        work.Fill(planned_mg=500 * GRAM, blanks=[blank], mould=mould, wood_mg=wood * GRAM, wood_mm3=wood * 2000)
        for blank, mould, wood in zip(blanks, moulds, (300, 200), strict=False)
    ]
    return work.pour(
        system=resin, fills=fills, planned_a_mg=500 * GRAM, planned_b_mg=500 * GRAM, poured_a_mg=500 * GRAM,
        poured_b_mg=500 * GRAM, colorants=[work.ColourIn(blue, 10 * GRAM)], wood_sure=True, at=AT, by=owner,
    )  # fmt: skip


def out(pour, owner, grams=(770, 660), cup=70 * GRAM, **how):
    keys = [fill.casting_id for fill in pour.fills.order_by("pk")]
    weights = {key: mass * GRAM for key, mass in zip(keys, grams, strict=False) if mass}
    return work.come_out(pour=pour, at=OUT, weights=weights, cup_mg=cup, by=owner, **how)


def test_what_no_casting_took_and_no_cup_held_ran_on_the_floor(poured, owner):
    row = out(poured, owner)
    found = weighed_out(row)
    assert (found.mixed_mg, found.cup_mg) == (1_010 * GRAM, 70 * GRAM)
    assert [one.took_mg for one in found.castings] == [470 * GRAM, 460 * GRAM]
    assert (found.stayed_mg, found.floor_mg) == (80 * GRAM, 10 * GRAM)
    assert Weighing.objects.filter(condition="cast").count() == 2
    assert not differences()


def test_the_resin_stays_charged_to_the_castings(poured, owner):
    before = list(poured.fills.order_by("pk").values_list("share_mg", flat=True))
    out(poured, owner)
    assert list(poured.fills.order_by("pk").values_list("share_mg", flat=True)) == before
    assert sum(before) == 1_000 * GRAM


def test_without_the_cup_only_what_stayed_behind_is_known(poured, owner):
    found = weighed_out(out(poured, owner, cup=None))
    assert (found.stayed_mg, found.floor_mg) == (80 * GRAM, None)


def test_with_a_casting_not_weighed_nothing_is_made_up(poured, owner):
    found = weighed_out(out(poured, owner, grams=(770, None)))
    assert (found.took_mg, found.stayed_mg, found.floor_mg) == (None, None, None)


def test_a_struck_out_weight_is_not_reckoned_with(poured, owner):
    out(poured, owner)
    work.strike_out_weighing(weighing=Weighing.objects.filter(condition="cast").first())
    assert weighed_out(poured).floor_mg is None


def test_wood_of_which_only_the_room_is_known_says_nothing_of_what_its_mould_took(poured, owner):
    fill = poured.fills.order_by("pk").first()
    fill.wood_mg = 0
    fill.save()
    assert weighed_out(out(poured, owner)).castings[0].took_mg is None


def test_stabilized_wood_says_nothing_of_what_its_mould_took(poured, blanks, owner):
    resin = stores.add_material(name="Bath resin", kind="stabilizing", by=owner, at=BEGAN)
    bath = stores.start_bath(name="The jar", material=resin, at=BEGAN, by=owner)
    soaked = Stabilizing.objects.create(bath=bath, started_at=BEGAN)
    soaked.items.create(workpiece=blanks[1], dry_mg=200 * GRAM, baked_mg=300 * GRAM)
    found = weighed_out(out(poured, owner))
    assert [one.took_mg for one in found.castings] == [470 * GRAM, None]


def test_of_a_second_pour_only_what_it_added_counts(poured, resin, blanks, owner):
    out(poured, owner)
    second = work.pour(
        system=resin, fills=[work.Fill(planned_mg=200 * GRAM, blanks=[blanks[0]], wood_mg=300 * GRAM)], by=owner,
        planned_a_mg=100 * GRAM, planned_b_mg=100 * GRAM, poured_a_mg=100 * GRAM, poured_b_mg=100 * GRAM,
        wood_sure=True, at=OUT + HOUR,
    )  # fmt: skip
    weights = {blanks[0].pk: 950 * GRAM}
    second = work.come_out(pour=second, at=OUT + 9 * HOUR, weights=weights, cup_mg=15 * GRAM, by=owner)
    assert [one.took_mg for one in weighed_out(second).castings] == [180 * GRAM]
    assert weighed_out(second).floor_mg == 5 * GRAM
    assert [one.took_mg for one in weighed_out(poured).castings] == [470 * GRAM, 460 * GRAM]


def test_two_pours_weighed_only_together_are_not_told_apart(poured, resin, blanks, owner):
    out(poured, owner, grams=(None, 660))
    second = work.pour(
        system=resin, fills=[work.Fill(planned_mg=200 * GRAM, blanks=[blanks[0]], wood_mg=300 * GRAM)], by=owner,
        planned_a_mg=100 * GRAM, planned_b_mg=100 * GRAM, poured_a_mg=100 * GRAM, poured_b_mg=100 * GRAM,
        wood_sure=True, at=OUT + HOUR,
    )  # fmt: skip
    work.come_out(pour=second, at=OUT + 9 * HOUR, weights={blanks[0].pk: 950 * GRAM}, by=owner)
    assert weighed_out(second).castings[0].took_mg is None
    assert weighed_out(poured).castings[0].took_mg is None


def test_castings_that_hold_more_than_was_mixed_are_asked_about(poured, owner):
    with pytest.raises(PourTrouble, match="hold 22\xa0g more than was mixed") as asked:
        out(poured, owner, grams=(802, 660))
    assert (asked.value.code, asked.value.field) == ("sure", "cup")
    assert not Weighing.objects.filter(condition="cast").exists()
    assert Pour.objects.get().demoulded_at is None
    assert weighed_out(out(poured, owner, grams=(802, 660), sure=True)).floor_mg == -22 * GRAM


def test_as_far_as_the_scale_shows_it_they_agree(poured, owner):
    assert weighed_out(out(poured, owner, grams=(782, 660))).floor_mg == -2 * GRAM


def test_a_casting_lighter_than_its_wood_is_asked_about(poured, owner):
    with pytest.raises(PourTrouble, match="41/2 weighs less than before the resin came to it"):
        out(poured, owner, grams=(770, 120), cup=None)


def test_too_early_and_weights_that_disagree_are_asked_about_together(poured, owner):
    with pytest.raises(PourTrouble, match="too early by the resin's sheet.*more than was mixed") as asked:
        work.come_out(
            pour=poured, at=AT + HOUR, cup_mg=500 * GRAM, by=owner,
            weights={fill.casting_id: 900 * GRAM for fill in poured.fills.all()},
        )  # fmt: skip
    assert asked.value.code == "sure"


@pytest.mark.parametrize(
    ("cup", "says"), [(-1, "nothing or more"), (1.5, "nothing or more"), (1_010_001, "empty cup")]
)
def test_a_cup_that_can_not_be_is_refused(poured, owner, cup, says):
    for deed in (lambda: out(poured, owner, cup=cup, sure=True), lambda: work.note_cup(pour=poured, cup_mg=cup)):
        with pytest.raises(PourTrouble, match=says) as refused:
            deed()
        assert refused.value.field == "cup"
    assert Pour.objects.get().cup_mg is None


def test_the_cup_is_weighed_later_and_once_more(poured, owner):
    out(poured, owner, cup=None)
    assert work.note_cup(pour=poured, cup_mg=0).cup_mg == 0
    with pytest.raises(PourTrouble, match="more than was mixed"):
        work.note_cup(pour=poured, cup_mg=100 * GRAM)
    assert weighed_out(work.note_cup(pour=poured, cup_mg=75 * GRAM)).floor_mg == 5 * GRAM


def test_it_comes_out_once(poured, owner):
    out(poured, owner)
    with pytest.raises(PourTrouble, match="out of its moulds already"):
        out(poured, owner, sure=True)
    assert Weighing.objects.filter(condition="cast").count() == 2


def test_each_casting_says_how_it_came_out(poured, owner):
    first, second = poured.fills.order_by("pk")
    seen = {first.casting_id: ["good"], second.casting_id: ["void", "cloudy"]}
    out(poured, owner, seen=seen)
    found = outcomes_of([first.casting_id, second.casting_id])
    assert {key: [one.what for one in rows] for key, rows in found.items()} == seen


def test_good_beside_a_fault_is_refused_and_stores_nothing(poured, owner):
    first = poured.fills.order_by("pk").first()
    with pytest.raises(PourTrouble, match="It says a void. Tap that away first"):
        out(poured, owner, seen={first.casting_id: ["void", "good"]})
    assert not Outcome.objects.exists() and Pour.objects.get().demoulded_at is None


def test_a_fault_seen_later_takes_the_place_of_good(poured, owner):
    fill = out(poured, owner).fills.first()
    work.note_outcome(fill=fill, what="good", at=OUT, by=owner)
    work.note_outcome(fill=fill, what="soft", at=NOW, by=owner, words="in the middle")
    work.note_outcome(fill=fill, what="soft", at=NOW, by=owner)
    (only,) = Outcome.objects.all()
    assert (only.what, only.words, only.at) == ("soft", "in the middle", NOW)
    work.take_back_outcome(fill=fill, what="soft")
    work.take_back_outcome(fill=fill, what="soft")
    assert not Outcome.objects.exists()


@pytest.mark.parametrize(
    ("how", "field"),
    [
        ({"what": "lovely"}, "what"),
        ({"what": "void", "words": "x" * 201}, "words"),
        ({"what": "void", "at": BEGAN}, "at"),
        ({"what": "good"}, "what"),  # still in its mould
    ],
)
def test_what_can_not_be_seen_of_a_casting_is_refused(poured, owner, how, field):
    with pytest.raises(PourTrouble) as refused:
        work.note_outcome(**{"fill": poured.fills.first(), "at": OUT, "by": owner, **how})
    assert refused.value.field == field
    assert not Outcome.objects.exists()
