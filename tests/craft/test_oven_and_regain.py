import math

import pytest

from studio.craft import oven, regain
from studio.craft.approach import fit_approach, least_squares


def codes(found: oven.SetPoint) -> list[str]:
    return [note.code for note in found.notes]


def test_a_setting_stands_beside_boiling_water_here() -> None:
    low, high = oven.set_point(104.4, 0), oven.set_point(96, 1600)
    assert low.above_boiling_c * 1.8 == pytest.approx(8, abs=0.1) and low.tells_oven_dry
    assert high.above_boiling_c == pytest.approx(1.35, abs=0.1) and not high.tells_oven_dry
    assert codes(low) == codes(high) == []
    assert codes(oven.set_point(90, 0)) == ["below_boiling"]


def test_too_hot_for_the_oven_the_wood_or_the_cone_is_said() -> None:
    assert codes(oven.set_point(110, 0)) == ["hot_for_dry"]
    assert codes(oven.set_point(125, 0, highest_c=120)) == ["over_limit", "darkens"]
    charring = oven.set_point(160, 0)
    assert codes(charring) == ["chars"] and charring.notes[0].stops
    assert codes(oven.set_point(103, 0, cones=True)) == ["cones_hot"]
    assert codes(oven.set_point(93, 3000, cones=True)) == []
    with pytest.raises(ValueError, match="between 0 and 400"):
        oven.set_point(900, 0)


def test_a_wet_lump_straight_into_heat_is_stopped() -> None:
    assert codes(oven.set_point(103, 0, moisture_percent=45)) == ["wet_into_heat"]
    assert oven.set_point(103, 0, moisture_percent=45).notes[0].stops
    assert codes(oven.set_point(103, 0, moisture_percent=12)) == []
    assert "wet_into_heat" not in codes(oven.set_point(50, 0, moisture_percent=45))


def test_time_wrapped_tight_does_not_count_for_the_skin() -> None:
    assert regain.skin_clock(0, 5, 6).left_h == 1
    over = regain.skin_clock(0, 7, 6)
    assert over.over and over.left_h == 0 and over.back_in_h == 1
    wrapped = regain.skin_clock(0, 30, 6, [(1, 21), (20, 25), (28, None)])
    assert wrapped.open_h == pytest.approx(30 - 24 - 2) and not wrapped.over
    with pytest.raises(ValueError, match="limit"):
        regain.skin_clock(0, 1, 0)


def test_dry_wood_settles_below_what_wet_wood_comes_down_to() -> None:
    assert regain.settles_at(20, 0.65) == pytest.approx(0.85 * 11.996, abs=0.01)
    assert regain.settles_at(20, 0.3, start_percent=9) == 9


def test_the_core_follows_the_air_and_thickness_by_its_square() -> None:
    pace = regain.COMMON_PACE
    assert pace.count == 0 and pace.at(50) == 4 * pace.at(25) == 48
    assert regain.moisture_after(0, 1, 10, 12) == 1
    assert regain.moisture_after(12, 0, 10, 12) == pytest.approx(10 * (1 - math.exp(-1)))
    until = regain.hours_until(5, 0, 10, 12)
    assert until is not None and regain.moisture_after(until, 0, 10, 12) == pytest.approx(5)
    assert regain.hours_until(5, 6, 10, 12) == 0
    assert regain.hours_until(5, 0, 4, 12) is None


def test_back_near_twelve_in_a_day_or_so() -> None:
    # Common practice for a blank about an inch thick in 65 % air; from dry it comes within two points of it.
    after = regain.moisture_after(30, 0, regain.settles_at(20, 0.65), regain.COMMON_PACE.at(25))
    assert 8.5 < after < 12


def test_own_reweighings_move_the_pace_and_narrow_it() -> None:
    def seen(pace: float, thick: float = 25) -> regain.Reweighing:
        gained = 500 * 0.1 * (1 - math.exp(-20 / (pace * (thick / 25) ** 2)))
        return regain.Reweighing(500, (20.0,), (500 + gained,), 10, thick, 0.1)

    one, many = regain.learn_pace([seen(40)]), regain.learn_pace([seen(40)] * 9)
    assert 12 < one.hours < many.hours < 40.1 and many.hours == pytest.approx(40, rel=0.05)
    assert many.high_h - many.low_h < one.high_h - one.low_h
    assert (one.count, many.count) == (1, 9)
    assert regain.learn_pace([seen(40, 50)] * 9).hours == pytest.approx(40, rel=0.05)
    assert regain.learn_pace([]) == regain.COMMON_PACE


def test_the_shape_of_several_reweighings_needs_no_guess_of_the_level() -> None:
    hours = (4.0, 10.0, 20.0, 40.0, 80.0)
    grams = tuple(round(500 + 30 * (1 - math.exp(-hour / 25)), 1) for hour in hours)
    found = regain.learn_pace([regain.Reweighing(500, hours, grams, 99.0, 25, 0.1)] * 20)
    assert found.hours == pytest.approx(25, rel=0.1)


@pytest.mark.parametrize("grams", [500.0, 499.0, 560.0])
def test_a_reweighing_that_gained_nothing_or_too_much_says_nothing(grams: float) -> None:
    assert regain.learn_pace([regain.Reweighing(500, (20.0,), (grams,), 10, 25)]).count == 0


def test_moisture_by_weight_is_never_below_nothing() -> None:
    assert regain.moisture_by_weight(535, 500) == pytest.approx(7)
    assert regain.moisture_by_weight(499, 500) == 0


def test_points_that_make_no_curve_are_refused() -> None:
    with pytest.raises(ValueError, match="too few"):
        fit_approach([1, 2], [1, 2])
    with pytest.raises(ValueError, match="settle"):
        least_squares(lambda x, b: b[0] + b[1] + 0 * x, [1, 2, 3], [1.0, 2.0, 3.0], [1, 1])
