"""Resin for a mould with wood in it, each way of knowing, and the lift."""

import pytest

from studio.craft import lift, room
from studio.craft.room import Part, Wood

LITRE, KILO = 1_000_000, 1_000_000


def codes(found: room.Room) -> list[str]:
    return [part.code for part in found.parts]


def test_the_best_way_there_is_counts_and_its_parts_add_up() -> None:
    wood = Wood("41/3", mass_mg=500_000, species_kgm3=500, species="ash")
    found = room.resin_room(mould_mm3=2 * LITRE, woods=[wood])
    assert found.mm3 == LITRE == sum(part.mm3 for part in found.parts)
    assert (codes(found), found.wood_mm3) == (["mould", "species"], LITRE)
    better = room.resin_room(
        mould_mm3=2 * LITRE, woods=[Wood("41/3", 500_000, own_kgm3=550, species_kgm3=500, bucket_mm3=900_000)]
    )
    assert (codes(better)[1], better.wood_mm3, better.mm3) == ("bucket", 900_000, 1_100_000)
    assert better.spread_mm3 < found.spread_mm3
    own = room.resin_room(mould_mm3=2 * LITRE, woods=[Wood("41/3", 500_000, own_kgm3=625, species_kgm3=500)])
    assert (codes(own)[1], own.wood_mm3) == ("own density", 800_000)
    assert better.spread_mm3 < own.spread_mm3 < found.spread_mm3


def test_a_dry_fill_counts_before_all_and_its_bias_is_put_right() -> None:
    found = room.resin_room(mould_mm3=2 * LITRE, woods=[Wood("41/3")], beads_mm3=LITRE)
    assert (codes(found), found.mm3) == (["beads"], 1_020_000)


def test_burr_is_spread_twice_as_wide() -> None:
    plain, burr = (
        room.wood_part(Wood("41/3", 500_000, species_kgm3=500, burr=is_burr)) for is_burr in (False, True)
    )
    assert plain and burr and burr.spread_mm3 == 2 * plain.spread_mm3


def test_a_bucket_before_drying_is_lessened_by_what_the_wood_shrinks() -> None:
    wet = room.wood_part(Wood("41/3", bucket_mm3=LITRE, wet_percent=60, shrinkage=12))
    half = room.wood_part(Wood("41/3", bucket_mm3=LITRE, wet_percent=15, shrinkage=12))
    dry = room.wood_part(Wood("41/3", bucket_mm3=LITRE, shrinkage=12))
    assert wet and half and dry
    assert (wet.mm3, half.mm3, dry.mm3) == (-880_000, -940_000, -LITRE)
    assert wet.spread_mm3 > half.spread_mm3 > dry.spread_mm3


def test_two_blanks_of_one_species_err_together() -> None:
    same = [Wood(name, 250_000, species_kgm3=500, species="ash") for name in ("41/3", "41/4")]
    other = [same[0], Wood("42/1", 250_000, species_kgm3=500, species="oak")]
    together, apart = (room.resin_room(mould_mm3=2 * LITRE, woods=woods) for woods in (same, other))
    assert together.mm3 == apart.mm3 and together.spread_mm3 > apart.spread_mm3


def test_bark_riser_thirst_and_shrink_each_show_their_part() -> None:
    wood = Wood("41/3", 500_000, species_kgm3=500, bark="out", thirsty=True)
    found = room.resin_room(mould_mm3=2 * LITRE, woods=[wood], more_mm3=100_000, shrink_ppm=20_000)
    by_code = {part.code: part.mm3 for part in found.parts}
    assert by_code == {
        "mould": 2 * LITRE, "species": -LITRE, "bark out": 0, "thirsty": 30_000, "more": 100_000, "shrink": 22_600
    }  # fmt: skip
    assert found.mm3 == 1_152_600
    plain = room.resin_room(mould_mm3=2 * LITRE, woods=[Wood("41/3", 500_000, species_kgm3=500)])
    assert found.spread_mm3 > plain.spread_mm3


def test_wood_of_unknown_room_or_too_much_of_it_is_refused() -> None:
    with pytest.raises(ValueError, match="41/3"):
        room.resin_room(mould_mm3=LITRE, woods=[Wood("41/3", 500_000)])
    with pytest.raises(ValueError, match="all the room"):
        room.resin_room(mould_mm3=LITRE, woods=[Wood("41/3", 500_000, species_kgm3=500)])


def test_parts_of_one_name_add_up_and_the_rest_as_squares() -> None:
    assert room.spread([Part("a", "x", 10, 3, "one"), Part("a", "y", 10, 4, "one")]) == 7
    assert room.spread([Part("a", "x", 10, 3), Part("a", "y", -10, 4)]) == 5


def test_two_litres_at_a_half_lift_eleven_hundred_grams() -> None:
    assert lift.lift_mg(2 * LITRE, 500, 1050) == 1_100_000
    assert lift.must_be_held(1_100_000) and not lift.must_be_held(10_000)


def test_wood_denser_than_the_resin_sinks() -> None:
    assert lift.lift_mg(LITRE, 1200, 1050) == -150_000
    with pytest.raises(ValueError):
        lift.lift_mg(LITRE, 0, 1050)


def test_bark_cleaned_out_since_it_was_weighed_leaves_room_for_resin() -> None:
    """A twentieth of one litre of wood is 50 ml more; left in, bark only makes the figure less sure."""
    blank = {bark: Wood("41/3", 500_000, species_kgm3=500, bark=bark) for bark in ("none", "in", "out", "gone")}
    found = {bark: room.resin_room(mould_mm3=2 * LITRE, woods=[wood]) for bark, wood in blank.items()}
    assert [found[bark].mm3 for bark in ("none", "in", "out", "gone")] == [LITRE, LITRE, LITRE, 1_050_000]
    assert found["in"].spread_mm3 > found["out"].spread_mm3 > found["none"].spread_mm3
    assert room.resin_room(mould_mm3=2 * LITRE, woods=[blank["gone"]], bark_share=0.1).mm3 == 1_100_000
    assert room.resin_room(mould_mm3=2 * LITRE, woods=[blank["gone"]], bark_share=0).mm3 == LITRE
