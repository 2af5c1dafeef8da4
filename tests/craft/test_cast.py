import pytest

from studio.craft.cast import box_mm3, diameter_at, grams_for_cast, round_mm3, tapered_mm3, wood_mm3


def test_moulds_hold_what_geometry_says() -> None:
    assert box_mm3(100_000, 80_000, 50_000) == 400_000
    assert round_mm3(100_000, 100_000) == 785_398
    assert tapered_mm3(100_000, 100_000, 100_000) == round_mm3(100_000, 100_000)
    assert tapered_mm3(100_000, 140_000, 120_000) == 1_369_734


def test_a_pail_is_wider_the_higher_it_is_filled() -> None:
    assert diameter_at(100_000, 140_000, 120_000, 60_000) == 120_000
    with pytest.raises(ValueError, match="above the rim"):
        diameter_at(100_000, 140_000, 120_000, 130_000)
    with pytest.raises(ValueError, match="above zero"):
        box_mm3(0, 1, 1)


def test_a_cast_is_the_mould_less_the_wood() -> None:
    plan = grams_for_cast(
        mould_mm3=1_500_000, wood_mg=300_000, wood_kgm3=600, resin_kgm3=1050, parts=(1, 1),
        waste_ppm=100_000, colorant_ppm=5_000,
    )  # fmt: skip
    assert plan.wood_mm3 == wood_mm3(300_000, 600) == 500_000
    assert plan.fill_mm3 == 1_000_000
    assert plan.fill_mg == 1_050_000
    assert plan.total_mg == 1_155_000
    assert plan.parts_mg == (578_000, 577_000)
    assert plan.waste_mg == 105_000
    assert plan.colorant_mg == 5_800


def test_the_total_goes_up_to_the_next_step_never_short() -> None:
    plan = grams_for_cast(mould_mm3=100_001, resin_kgm3=1000, parts=(100, 44), waste_ppm=0, step_mg=100)
    assert plan.fill_mg == 100_001
    assert plan.total_mg == sum(plan.parts_mg) == 100_100


def test_no_wood_and_no_waste_is_the_mould_alone() -> None:
    plan = grams_for_cast(mould_mm3=100_000, resin_kgm3=1000, parts=(1, 1), waste_ppm=0)
    assert (plan.total_mg, plan.waste_mg, plan.colorant_mg) == (100_000, 0, 0)


def test_wood_that_fills_the_mould_is_refused() -> None:
    with pytest.raises(ValueError, match="all the room"):
        grams_for_cast(mould_mm3=1000, wood_mg=10_000, wood_kgm3=500, resin_kgm3=1050, parts=(1, 1))
    with pytest.raises(ValueError, match="density is needed"):
        grams_for_cast(mould_mm3=1000, wood_mg=10, resin_kgm3=1050, parts=(1, 1))
    with pytest.raises(ValueError, match="shares"):
        grams_for_cast(mould_mm3=1000, resin_kgm3=1050, parts=(1, 1), waste_ppm=-1)
