import math
import random
from decimal import Decimal

import pytest

from studio.craft import moisture
from studio.craft.drying import scale_step


def test_moisture_is_of_the_dry_mass_and_may_exceed_a_hundred() -> None:
    assert moisture.moisture_content(Decimal("250"), 100) == 150
    with pytest.raises(ValueError, match="above zero"):
        moisture.moisture_content(100, 0)
    with pytest.raises(ValueError, match="above zero"):
        moisture.moisture_content(float("nan"), 100)
    with pytest.raises(ValueError, match="wrong way round"):
        moisture.moisture_content(80, 100)


def test_humidity_is_a_share() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        moisture.equilibrium_moisture(20, 65)
    with pytest.raises(ValueError, match="140"):
        moisture.equilibrium_moisture(500, 0.5)
    assert moisture.equilibrium_moisture(20, 0) == 0


def test_a_density_keeps_its_meaning_through_its_basis() -> None:
    basic = moisture.basic_gravity(550, "green")
    for basis, at in (("12 %", 12.0), ("oven-dry", 0.0)):
        there = 1000 * moisture.gravity_at(basic, at)
        assert moisture.basic_gravity(there, basis) == pytest.approx(basic)  # type: ignore[arg-type]
    air_dry = moisture.density_at(550, "green", 12)
    assert moisture.density_at(air_dry, "air-dry", 12) == pytest.approx(air_dry)
    assert moisture.density_at(550, "green", 80) == pytest.approx(550 * 1.8)
    with pytest.raises(ValueError, match="which basis"):
        moisture.basic_gravity(550, "wet")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="between 50 and 1600"):
        moisture.density_at(0.55, "green", 12)


def test_above_fibre_saturation_wood_does_not_shrink() -> None:
    assert moisture.shrinkage_percent(12.8, 45) == 0
    assert moisture.shrinkage_percent(12.8, 0) == 12.8


def test_weighings_that_agree_are_counted() -> None:
    still = moisture.steady([0, 24, 48], [500, 490, 484])
    assert (still.state, still.agreeing) == ("losing", 1)
    assert still.percent_per_hour == pytest.approx(100 * 6 / 484 / 24)
    done = moisture.steady([0, 24, 48, 72], [500, 484, 483, 484])
    assert (done.state, done.agreeing) == ("steady", 3)
    back = moisture.steady([0, 24, 48], [484, 484, 495])
    assert back.state == "gained"
    assert moisture.loss_rate([0, 2], [100.8, 100]) == pytest.approx(0.4)


def test_slow_creep_is_not_steady_however_small_each_step() -> None:
    creeping = moisture.steady(range(0, 24 * 9, 24), [1000 - i for i in range(9)], step_g=1)
    assert creeping.agreeing == 3  # three lie within two steps of the scale, the fourth no more


@pytest.mark.parametrize(
    ("hours", "grams"), [([0], [1]), ([0, 0], [2, 1]), ([1, 0], [2, 1]), ([0, 1], [1]), ([0, 1], [1, 0])]
)
def test_weighings_out_of_order_or_missing_are_refused(hours: list[float], grams: list[float]) -> None:
    with pytest.raises(ValueError, match="(weighings|above zero)"):
        moisture.steady(hours, grams)


def test_the_scales_step_is_read_off_the_weighings() -> None:
    assert scale_step([95.112, 83.404]) == pytest.approx(0.002)
    assert scale_step([412.5, 400.0]) == 0.5
    assert scale_step([500, 400, 300]) == 1
    assert scale_step([10_000, 9_000]) == 10
    assert scale_step([1 / 3, 0.5]) == 1e-4


def test_the_true_dry_mass_lies_inside_nine_times_in_ten() -> None:
    chance = random.Random(7)
    inside = runs = 0
    for kt in (1.5, 3.0, 6.0):
        for shape in (0.7, 1.0):
            for _ in range(10):
                dry, water = chance.uniform(300, 900), chance.uniform(0.1, 0.8)
                hours = [24 * i / 6 for i in range(7)]
                grams = [
                    round(dry * (1 + water * math.exp(-((kt * h / 24) ** shape))) + chance.gauss(0, 0.3))
                    for h in hours
                ]
                found = moisture.fit_drying(hours, grams)
                assert found.low_g < found.dry_g < found.high_g
                inside += found.low_g <= dry <= found.high_g
                runs += 1
    assert inside >= 0.9 * runs


def test_the_doubt_shrinks_as_the_curve_settles() -> None:
    hours = [0, 6, 12, 18, 24, 30, 36, 42]
    grams = [round(450 + 190 * math.exp(-0.17 * h)) for h in hours]
    widths = []
    for count in (3, 5, 8):
        found = moisture.fit_drying(hours[:count], grams[:count])
        assert found.low_g <= 450 <= found.high_g
        widths.append(found.high_g - found.low_g)
    assert widths[0] > widths[1] > widths[2]
    assert widths[2] < 0.02 * 450


def test_when_it_will_be_dry_is_told_on_the_clock_of_the_weighings() -> None:
    hours = [100 + h for h in (0, 12, 24, 36, 48, 60)]
    grams = [round(800 + 240 * math.exp(-0.05 * (h - 100)), 1) for h in hours]
    found = moisture.fit_drying(hours, grams)
    true = 100 + math.log(240 / 8) / 0.05
    assert found.ready_low_h <= true <= found.ready_high_h
    assert found.ready_h == pytest.approx(true, rel=0.05)


def test_a_coarser_scale_leaves_more_doubt() -> None:
    hours, grams = [0, 6, 12, 18, 24], [640, 520, 470, 455, 450]
    fine, coarse = moisture.fit_drying(hours, grams, step_g=1), moisture.fit_drying(hours, grams, step_g=10)
    assert coarse.high_g - coarse.low_g > fine.high_g - fine.low_g


def test_wood_that_stopped_losing_is_as_heavy_as_it_is() -> None:
    found = moisture.fit_drying([0, 24, 48, 72], [500, 500, 500, 500])
    assert found.dry_g == pytest.approx(500, abs=1)
    assert found.ready_h == 0


@pytest.mark.parametrize(
    ("hours", "grams", "words"),
    [
        ([0, 1], [2, 1], "At least 3"),
        ([0, 1, 2], [100, 101, 102], "gained"),
        ([0, 1, 2], [1000, 900, 100], "wrong weight"),
        ([0, 1, 2], [100, float("inf"), 90], "above zero"),
    ],
)
def test_weighings_that_make_no_drying_are_refused(hours: list[float], grams: list[float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        moisture.fit_drying(hours, grams)
