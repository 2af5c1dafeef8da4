"""Two colours, three moulds, swirl cups, an overshoot and leftovers: stores, cost, audit agree to the milligram."""

import pytest

from studio.equipment import operations as equipment
from studio.ledger import queries as ledger
from studio.ledger.accounts import Component
from studio.stores.models import Batch
from studio.work import operations as work
from studio.work.errors import OutOfTime, PourTrouble
from studio.work.models import MouldReady, PourFill, PourSwirl
from studio.work.queries import FillWanted, prepared
from tests.selling.shelf import differences
from tests.work.conftest import BEGAN, DAY, GRAM, HOUR, MONEY, NOW, _bought

AT = BEGAN + DAY


@pytest.fixture
def red(owner):
    return _bought(owner, "Brick red", "colorant", 20 * GRAM, 7)


@pytest.fixture
def moulds(owner):
    return [
        equipment.add_mould(name=name, shape="measured", fill_mm3=1_000_000, by=owner, at=BEGAN)
        for name in ("One", "Two", "Three")
    ]


def pour(resin, blanks, moulds, owner, **more):
    fills = [
        work.Fill(planned_mg=planned, blanks=[blank], mould=mould)
        for planned, blank, mould in zip((333_331, 250_007, 416_662), blanks, moulds, strict=True)
    ]
    how = {"poured_a_mg": 504_301, "poured_b_mg": 504_299, "at": AT, **more}
    return work.pour(
        system=resin, fills=fills, planned_a_mg=500 * GRAM, planned_b_mg=500 * GRAM, wood_sure=True, by=owner, **how
    )


def left(material):
    return sum(batch.account.amount for batch in Batch.objects.filter(material=material).select_related("account"))


def held(fills, part):
    return [ledger.cost_of(fill.casting.account).parts.get(part, 0) for fill in fills]


def test_stores_cost_and_audit_agree_to_the_milligram(resin, blanks, moulds, blue, red, owner):
    cups = [
        work.SwirlIn(100_003, [work.ColourIn(red, 1_237)]),
        work.SwirlIn(90 * GRAM, [work.ColourIn(red, 611), work.ColourIn(blue, 407)], into=2),
    ]
    row = pour(resin, blanks, moulds, owner, colorants=[work.ColourIn(blue, 3_333)], swirls=cups)
    fills = list(row.fills.select_related("casting__account").order_by("pk"))
    assert sum(fill.share_mg for fill in fills) == 504_301 + 504_299
    assert (left(resin.part_a), left(resin.part_b)) == (4_000_000 - 504_301, 4_000_000 - 504_299)
    assert (left(blue), left(red)) == (50_000 - 3_333 - 407, 20_000 - 1_237 - 611)
    assert sum(held(fills, Component.RESIN)) == 504_301 * 20 + 504_299 * 15
    spent = [10 * MONEY * (3_333 + 407) // 50_000, 7 * MONEY * (1_237 + 611) // 20_000]
    assert abs(sum(held(fills, Component.COLORANT)) - sum(spent)) <= 2
    alone = held(fills, Component.COLORANT)[2]
    assert alone > 10 * MONEY * 407 // 50_000 + 7 * MONEY * 611 // 20_000, "the third has its own cup on top"
    assert sum(one.mass_mg for one in row.colorants.all()) == 3_333 + 1_237 + 611 + 407
    assert [swirl.fill_id for swirl in PourSwirl.objects.order_by("pk")] == [None, fills[2].pk]
    assert differences() == ()


def test_a_swirl_that_empties_a_bottle_takes_the_rest_of_its_worth(resin, blanks, moulds, red, owner):
    cups = [
        work.SwirlIn(400 * GRAM, [work.ColourIn(red, 9_999)]),
        work.SwirlIn(400 * GRAM, [work.ColourIn(red, 10_001)], into=0),
    ]
    row = pour(resin, blanks, moulds, owner, swirls=cups)
    assert left(red) == 0 and sum(held(row.fills.all(), Component.COLORANT)) == 7 * MONEY
    assert differences() == ()


@pytest.mark.parametrize(
    ("taken", "mass", "into", "says"),
    [
        (0, 100, None, "holds something"),
        (-1, 100, None, "holds something"),
        (2_000_000, 100, None, "more than was mixed"),
        (100_000, 0, None, "no colour in it"),
        (100_000, 3_001, None, "more colour than the resin's sheet allows"),
        (100_000, 100, 7, "a mould that isn't poured"),
    ],
)
def test_a_swirl_that_can_not_be_is_refused_and_nothing_is_drawn(
    resin, blanks, moulds, red, owner, taken, mass, into, says
):
    cups = [work.SwirlIn(taken, [work.ColourIn(red, mass)], into)]
    with pytest.raises(PourTrouble, match=says):
        pour(resin, blanks, moulds, owner, swirls=cups)
    assert left(red) == 20_000 and left(resin.part_a) == 4_000_000


# what was done at the mould


def ticked(mould, blanks, what, owner, at=AT, **more):
    return work.tick_ready(mould=mould, blanks=blanks, what=what, at=at, now=NOW, by=owner, done=True, **more)


def test_ticks_are_kept_until_the_pour_and_the_screw_stays_with_the_casting(resin, blanks, moulds, owner):
    wanted = [FillWanted(mould=moulds[0], blanks=(blanks[0],))]
    assert prepared(wanted)[0].missing == (
        "no release", "seams not sealed", "wood not held down", "no seal coat", "not levelled",
    )  # fmt: skip
    ticked(moulds[0], [blanks[0]], "released", owner)
    ticked(moulds[0], [blanks[0]], "released", owner)
    ticked(moulds[0], [blanks[0]], "held", owner, screw_words="in the foot, 20 mm deep")
    assert MouldReady.objects.count() == 1
    assert prepared(wanted)[0].missing == ("seams not sealed", "no seal coat", "not levelled")
    pour(resin, blanks, moulds, owner)
    assert PourFill.objects.get(casting=blanks[0]).screw_words == "in the foot, 20 mm deep"
    assert MouldReady.objects.get().fill.casting_id == blanks[0].pk
    assert len(prepared(wanted)[0].missing) == 5, "the next pour begins anew"


def test_other_wood_in_the_mould_is_not_held_by_the_screw_of_the_wood_before(blanks, moulds, owner):
    ticked(moulds[0], [blanks[0]], "released", owner)
    ticked(moulds[0], [blanks[0]], "held", owner, screw_words="in the foot")
    other = [FillWanted(mould=moulds[0], blanks=(blanks[1],))]
    assert "wood not held down" in prepared(other)[0].missing and "no release" not in prepared(other)[0].missing
    row = ticked(moulds[0], [blanks[1]], "level", owner)
    assert row.held_at is None and row.screw_words == "" and row.released_at


def test_a_tick_can_be_taken_back(blanks, moulds, owner):
    ticked(moulds[0], [blanks[0]], "level", owner)
    row = work.tick_ready(
        mould=moulds[0], blanks=[blanks[0]], what="level", done=False, at=AT, now=NOW, by=owner
    )
    assert row.level_at is None


@pytest.mark.parametrize(
    ("what", "wood", "mould", "says"),
    [("painted", True, True, "nothing of that kind"), ("held", False, True, "No wood lies"),
     ("level", False, False, "Name the mould first")],
)  # fmt: skip
def test_a_tick_that_can_not_be_is_refused(blanks, moulds, owner, what, wood, mould, says):
    with pytest.raises(PourTrouble, match=says):
        ticked(moulds[0] if mould else None, [blanks[0]] if wood else [], what, owner)
    with pytest.raises(OutOfTime):
        ticked(moulds[0], [blanks[0]], "level", owner, at=NOW + HOUR)
    assert not MouldReady.objects.exists()


def test_a_seal_coat_is_drawn_by_its_ratio_onto_the_wood_and_has_its_window(resin, blanks, moulds, owner):
    row = work.seal_coat(
        mould=moulds[0], blanks=[blanks[0], blanks[1]], resin=resin, mass_mg=20_001, at=AT, now=NOW, by=owner,
        from_s=3600, until_s=4 * 3600,
    )  # fmt: skip
    assert (left(resin.part_a), left(resin.part_b)) == (3_990_000, 3_989_999)
    worth = [ledger.cost_of(blank.account).parts[Component.RESIN] for blank in blanks[:2]]
    assert sum(worth) == 10_000 * 20 + 10_001 * 15 and abs(worth[0] - worth[1]) <= 2
    assert row.coat_from_at == AT + HOUR and row.coat_until_at == AT + 4 * HOUR and row.coated_at == AT
    (found,) = prepared([FillWanted(mould=moulds[0], blanks=(blanks[0], blanks[1]))])
    assert found.coat(AT) == "early" and found.coat(AT + 2 * HOUR) == "" and found.coat(AT + 5 * HOUR) == "late"
    assert differences() == ()


@pytest.mark.parametrize(
    ("more", "field"),
    [({"mass_mg": 0}, "mass"), ({"mass_mg": -5}, "mass"), ({"mass_mg": 10**9}, "mass"), ({"resin": None}, "of"),
     ({"from_s": 600, "until_s": 600}, "until"), ({"mass_mg": 1}, "mass"), ({"blanks": []}, "of")],
)  # fmt: skip
def test_a_coat_that_can_not_be_is_refused_beside_its_field(resin, blanks, moulds, owner, more, field):
    how = {"mould": moulds[0], "blanks": [blanks[0]], "resin": resin, "mass_mg": 5 * GRAM, **more}
    with pytest.raises(PourTrouble) as stop:
        work.seal_coat(at=AT, now=NOW, by=owner, **how)
    assert stop.value.field == field and left(resin.part_a) == 4_000_000 and not MouldReady.objects.exists()
