"""How a workpiece is held on the lathe, what is inside it, and how fast it may run."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.equipment import operations as equipment
from studio.ledger.errors import InTheFuture
from studio.work import operations as work
from studio.work.errors import MountTrouble, NotOnTheBench
from studio.work.models import Mount, Outcome, Overruled, PourFill
from studio.work.operations.mount import mount
from studio.work.queries.lathe import lathe_card
from tests.work.conftest import BEGAN, GRAM, HOUR, KILO, NOW

AT = BEGAN + 3 * HOUR
MM = 1000


@pytest.fixture
def casting(blanks, owner, resin):
    """41/1 cast with 2 kg, a screw in it."""
    Overruled.objects.create(
        workpiece=blanks[0], what="cast", refused="41/1 isn’t dry", words="felt dry", at=AT - HOUR, by=owner
    )
    poured = work.pour(
        system=resin, fills=[work.Fill(planned_mg=2 * KILO, blanks=[blanks[0]], wood_mg=3 * KILO)],
        planned_a_mg=KILO, planned_b_mg=KILO, poured_a_mg=KILO, poured_b_mg=KILO, at=AT, by=owner, wood_sure=True,
    )  # fmt: skip
    fill = poured.fills.get()
    PourFill.objects.filter(pk=fill.pk).update(screw_words="at the notch, 30 mm deep")
    return fill.casting


def held(piece, owner, **known):
    return mount(workpiece=piece, how=known.pop("how", "tenon"), at=known.pop("at", AT), by=owner, now=NOW, **known)


def test_the_newest_mount_counts_and_the_earlier_ones_are_kept(blanks, owner):
    piece = blanks[0]
    held(piece, owner, how="waste", waste_words="  maple,   thick glue ", jaws="50 mm", jaw_one="at the knot")
    held(piece, owner, how="recess", held_um=58 * MM, kept=True, at=AT + HOUR)
    card = lathe_card(piece, NOW)
    assert (card.now.how, card.now.held_um, card.now.kept) == ("recess", 58 * MM, True)
    assert [(row.how, row.waste_words, row.jaw_one) for row in card.earlier] == [
        ("waste", "maple, thick glue", "at the knot")
    ]


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"how": "glue gun"}, "how"),
        ({"how": ""}, "how"),
        ({"balance": "wobbly"}, "balance"),
        ({"across_um": 0}, "across_um"),
        ({"across_um": -200 * MM}, "across_um"),
        ({"across_um": 3_000_001}, "across_um"),
        ({"across_um": 200.5}, "across_um"),
        ({"held_um": 0}, "held_um"),
        ({"wall_um": 0}, "wall_um"),
        ({"across_um": 100 * MM, "wall_um": 51 * MM}, "wall_um"),
        ({"jaws": "j" * 81}, "jaws"),
        ({"jaw_one": "knot\x00"}, "jaw_one"),
        ({"note": "n" * 301}, "note"),
        ({"at": BEGAN - timedelta(days=1)}, "at"),
    ],
)
def test_what_can_t_be_right_is_refused_beside_its_field(blanks, owner, wrong, field):
    with pytest.raises(MountTrouble) as refused:
        held(blanks[0], owner, **wrong)
    assert refused.value.field == field and not Mount.objects.exists()


def test_nothing_is_mounted_tomorrow_and_nothing_that_broke(blanks, owner):
    with pytest.raises(InTheFuture):
        held(blanks[0], owner, at=NOW + HOUR)
    work.it_broke(workpiece=blanks[1], cause="catch", at=AT, by=owner)
    with pytest.raises(NotOnTheBench):
        held(blanks[1], owner, at=AT + HOUR)
    assert not Mount.objects.exists()


def test_the_speed_comes_from_width_and_balance_and_no_lathe_passes_its_plate(blanks, owner):
    piece = blanks[0]
    assert lathe_card(piece, NOW).rpm is None
    held(piece, owner, across_um=254 * MM, balance="rough")
    assert (lathe_card(piece, NOW).rpm, lathe_card(piece, NOW).limits[0].lathe) == (400, None)
    long = equipment.add_machine(kind="lathe", name="The long lathe", by=owner, at=BEGAN, highest_rpm=3200)
    assert [(one.lathe, one.rpm, one.by_plate) for one in lathe_card(piece, NOW).limits] == [(long, 400, False)]
    held(piece, owner, across_um=25_400, balance="true", at=AT + HOUR)
    assert [(one.rpm, one.by_plate) for one in lathe_card(piece, NOW).limits] == [(3200, True)]
    equipment.add_machine(kind="lathe", name="The short lathe", by=owner, at=BEGAN, highest_rpm=2500)
    assert lathe_card(piece, NOW).rpm == 2500
    equipment.retire_machine(machine=long, on=NOW.date(), by=owner, at=NOW)
    assert [one.rpm for one in lathe_card(piece, NOW).limits] == [2500]


def test_what_is_inside_stays_with_all_that_is_cut_from_it(casting, owner):
    fill = casting.fills.get()
    held(casting, owner, across_um=254 * MM, balance="true", at=AT + HOUR)
    assert lathe_card(casting, NOW).rpm == 600
    Outcome.objects.create(fill=fill, what="void", at=AT + 5 * HOUR, by=owner)
    Outcome.objects.create(fill=fill, what="cloudy", at=AT + 5 * HOUR, by=owner)
    card = lathe_card(casting, NOW)
    assert card.screws == ("at the notch, 30 mm deep",) and [row.what for row in card.seen] == ["void"]
    assert card.doubtful and card.rpm == 200
    assert [row.words for row in card.overruled] == ["felt dry"]
    work.demould(pour=fill.pour, at=AT + 10 * HOUR, by=owner)
    one, two = work.cut(
        parent=casting, blanks=[work.BlankSpec(weight=1), work.BlankSpec(weight=1)], at=AT + 30 * HOUR, by=owner
    )
    for part in (one, two):
        card = lathe_card(part, NOW)
        assert card.screws == ("at the notch, 30 mm deep",) and card.doubtful and card.overruled
        assert card.now is None and [row.workpiece_id for row in card.earlier] == [casting.pk]


def test_a_casting_that_still_cures_says_until_when(casting, owner):
    work.demould(pour=casting.fills.get().pour, at=AT + 10 * HOUR, by=owner)
    cures = lathe_card(casting, AT + 11 * HOUR).cures
    assert cures is not None and cures > AT + 11 * HOUR
    assert lathe_card(casting, cures).cures is None


def test_the_card_reads_as_often_with_many_mounts_as_with_one(casting, owner):
    def count():
        with CaptureQueriesContext(connection) as seen:
            lathe_card(casting, NOW)
        assert "value_micro" not in " ".join(query["sql"] for query in seen.captured_queries)
        return len(seen)

    held(casting, owner, across_um=100 * MM, at=AT + HOUR)
    few = count()
    for n in range(12):
        held(casting, owner, across_um=(100 + n) * MM, note=str(GRAM), at=AT + (2 + n) * HOUR)
    assert count() == few <= 12
