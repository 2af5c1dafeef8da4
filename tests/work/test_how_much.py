"""How much resin: several blanks in one dry fill, what the turned piece needs, what it shrinks, who drinks."""

import pytest

from studio.stores import operations as stores
from studio.work.errors import PourTrouble
from studio.work.models import RoomReading, Weighing
from studio.work.queries import FillWanted, plan_pour
from tests.work.conftest import BEGAN, DAY, GRAM, HOUR, NOW
from tests.work.test_rooms import LITRE, ash, blank, measure, pail, plan, weigh

__all__ = ["ash", "blank", "pail"]


def test_a_dry_fill_is_of_all_that_lay_in_the_mould_together(resin, pail, blank, blanks, owner):
    other = blanks[0]
    measure(blank, owner, beads_mm3=LITRE // 2, mould=pail, beside=[other])
    assert [row.together for row in RoomReading.objects.all()] == [2, 2]
    both = plan_pour(resin, [FillWanted(mould=pail, blanks=(blank, other))], at=NOW)
    assert both.fills[0].resin_mm3 == 510_000
    assert plan(resin, pail, blank).fills[0].resin_mm3 == 400_000, "alone it was never filled"


def test_two_fills_of_different_company_are_not_one(resin, pail, blank, blanks, owner):
    first, third = blanks[0], blanks[2]
    measure(blank, owner, beads_mm3=LITRE // 2, mould=pail, beside=[first])
    measure(blank, owner, beads_mm3=LITRE // 3, mould=pail, beside=[third], at=BEGAN + 8 * DAY + HOUR)
    found = plan_pour(resin, [FillWanted(mould=pail, blanks=(blank, first))], at=NOW)
    assert not any(share.words.startswith("Filled dry") for fill in found.fills for share in fill.shares)


def test_nothing_cast_lies_beside_a_dry_fill(pail, blank, blanks, owner):
    blanks[0].stage = "casting"
    blanks[0].save(update_fields=["stage"])
    with pytest.raises(PourTrouble, match="has resin in it"):
        measure(blank, owner, beads_mm3=LITRE // 2, mould=pail, beside=[blanks[0]])
    assert not RoomReading.objects.exists()


def test_what_the_turned_piece_needs_takes_the_place_of_the_whole_mould(resin, pail, blank):
    found = plan(resin, pail, blank, profile_mm3=1_900_000).fills[0]
    assert found.resin_mm3 == 300_000 and "as much as the turned piece needs" in found.shares[0].words


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"profile_mm3": 3 * LITRE}, "take a bigger mould"),
        ({"profile_mm3": LITRE, "level_um": 50_000}, "not both"),
        ({"profile_mm3": LITRE}, "no room is left"),
    ],
)
def test_needs_that_can_not_be_say_what_to_do(resin, pail, blank, more, says):
    found = plan(resin, pail, blank, **more)
    assert says in " ".join(found.refusals) and found.total_mg == 0


def test_what_the_resin_shrinks_is_mixed_on_top(resin, pail, blank):
    stores.change_resin_system(system=resin, shrink_ppm=20_000, at=NOW)
    resin.refresh_from_db()
    found = plan(resin, pail, blank).fills[0]
    assert found.resin_mm3 == 408_000
    assert any(share.words == "What the resin shrinks in curing, by its sheet" for share in found.shares)


def test_punky_wood_drinks_until_it_is_stabilized(resin, pail, blank, owner):
    blank.punky = True
    blank.save(update_fields=["punky"])
    assert plan(resin, pail, blank).fills[0].resin_mm3 == 448_000
    weigh(blank, 1_300 * GRAM, Weighing.Condition.BAKED, BEGAN + 9 * DAY, owner)
    assert plan(resin, pail, blank).fills[0].resin_mm3 == 400_000
