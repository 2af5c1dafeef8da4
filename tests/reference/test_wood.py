"""Wood's density, shrinkage and room. Source: Wood Handbook (USDA FPL-GTR-190), chapter 4."""

import pytest

from studio.craft import moisture


def test_white_ash_of_55_green_weighs_678_at_12_percent() -> None:
    # Method 3, page 4-10: specific gravity .55 green, .605 at 12 % read off figure 4-6, 678 kg per cubic metre.
    assert moisture.density_at(605, "12 %", 12) == pytest.approx(678, abs=0.5)


def test_the_formula_comes_within_half_a_percent_of_the_figure_it_replaces() -> None:
    # Equations 4-7, 4-10 and 4-11 give .6027 where the figure is read as .605.
    assert moisture.gravity_at(0.55, 12) == pytest.approx(0.6027, abs=5e-5)
    assert moisture.density_at(550, "green", 12) == pytest.approx(678, rel=0.005)


def test_three_bases_of_one_wood_are_not_one_number() -> None:
    # White ash: .55 on green volume; table 5-3b has .60 on volume at 12 %.
    assert moisture.gravity_at(0.55, 12) == pytest.approx(0.60, abs=0.005)
    assert moisture.gravity_at(0.55, 0) > moisture.gravity_at(0.55, 12) > 0.55


@pytest.mark.parametrize(("basic", "most"), [(0.31, 257.6), (0.55, 116.9)])
def test_the_most_water_wood_can_hold(basic: float, most: float) -> None:
    assert moisture.most_moisture(basic) == pytest.approx(most, abs=0.05)


@pytest.mark.parametrize(("gravity", "percent"), [(0.35, 232), (0.55, 123)])
def test_the_most_resin_dry_wood_has_room_for(gravity: float, percent: float) -> None:
    # (1 − G0/1.54)·ρ/G0 with a resin of 1.05, in grams to the hundred grams of dry wood.
    assert moisture.most_uptake(gravity) == pytest.approx(percent, abs=0.5)


def test_shrinkage_is_linear_below_thirty_percent() -> None:
    # Chapter 4: 12.8 % to oven-dry is 9.387 % at 8 % moisture.
    assert moisture.shrinkage_percent(12.8, 8) == pytest.approx(9.387, abs=0.001)
