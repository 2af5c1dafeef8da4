"""The dry room against figures from outside. The source stands beside each check."""

import math
import random

import pytest

from studio.craft import dryness, moisture, oven
from studio.craft.approach import fit_approach
from tests.reference.test_moisture import GRID, SERIES, TABLE_4_2, series

# NIST statistical reference data, nonlinear regression: y = b1 (1 − exp(−b2 x)).
BOXBOD = ([1, 2, 3, 5, 7, 10], [109, 149, 149, 191, 213, 224])
MISRA1A = (
    [77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0],
    [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78],
)


@pytest.mark.parametrize("start", [(1.0, 1.0), (100.0, 0.75), None])
def test_boxbod_comes_out_as_certified(start: tuple[float, float] | None) -> None:
    found = fit_approach(*BOXBOD, start)
    assert found.values == pytest.approx((2.1380940889e2, 5.4723748542e-1), rel=1e-6)
    assert found.deviations == pytest.approx((1.2354515176e1, 1.0455993237e-1), rel=1e-6)
    assert found.squares == pytest.approx(1.1680088766e3, rel=1e-6)


@pytest.mark.parametrize("start", [(500.0, 0.0001), (250.0, 0.0005), None])
def test_misra1a_comes_out_as_certified(start: tuple[float, float] | None) -> None:
    found = fit_approach(*MISRA1A, start)
    assert found.values == pytest.approx((2.3894212918e2, 5.5015643181e-4), rel=1e-6)
    assert found.deviations[0] == pytest.approx(2.7070075241, rel=1e-6)
    assert found.squares == pytest.approx(1.2455138894e-1, rel=1e-6)


@pytest.mark.parametrize("name", ["maple 103 C", "ash 85 C"])
def test_the_first_six_hours_foretell_the_weight_after_a_day(name: str) -> None:
    # Student research poster, SUNY College of Environmental Science and Forestry.
    hours, grams = series(name)
    early = [nth for nth, hour in enumerate(hours) if hour <= 6]
    after_a_day = grams[hours.index(24)]
    found = moisture.fit_drying([hours[nth] for nth in early], [grams[nth] for nth in early])
    assert found.dry_g == pytest.approx(after_a_day, rel=0.003)
    assert found.low_g <= after_a_day <= found.high_g
    assert found.high_g - found.low_g <= 0.03 * after_a_day


def verdict(name: str, until: float, step_g: float, set_c: float) -> dryness.Verdict:
    hours, grams = series(name)
    count = sum(hour <= until for hour in hours)
    fit = dryness.draw(hours[:count], grams[:count], step_g=step_g).fit
    return dryness.judge(hours[:count], grams[:count], step_g=step_g, set_point_c=set_c, fit=fit)


def test_the_endpoints_fall_where_the_two_standards_put_them() -> None:
    # EN 13183-1: below 0.1 % in 2 h; from 3 to 6 h the maple lost 0.68 %, from 6 to 10 h 0.05 %.
    # ASTM D4442: within twice the sensitivity (0.01 g) over 3 h and more; 0.061 g from 6 to 12 h, 0.010 g from 24
    # to 48 h.
    for until, en, astm in ((6, False, False), (10, True, False), (12, True, False), (48, True, True)):
        found = verdict("maple 103 C", until, 0.01, 103)
        assert (found.criterion("en").met, found.criterion("astm").met) == (en, astm), until
        assert found.oven_dry is en
    assert verdict("maple 103 C", 12, 0.01, 103).criterion("en").figure == pytest.approx(0.030, abs=0.001)


def test_at_85_degrees_it_is_steady_there_and_not_oven_dry() -> None:
    # From 12 to 24 h it lost 0.118 %: a long interval is held to the same figure, so it is steady again at 48 h.
    assert not verdict("ash 85 C", 24, 0.01, 85).criterion("en").met
    found = verdict("ash 85 C", 48, 0.01, 85)
    assert (found.state, found.oven_dry, found.called("85 °C")) == ("dry", False, "steady at 85 °C")


def test_a_scale_too_coarse_for_the_specimen_tells_nothing() -> None:
    # A whole gram is 1.3 % of the maple: three equal readings come by themselves.
    hours, grams = series("maple 103 C")
    coarse = [round(mass) for mass in grams[:6]]
    found = dryness.judge(hours[:6], coarse, step_g=1, set_point_c=103)
    assert found.agreeing >= 3 and found.state == "steady" and found.criterion("step").met is False


def test_at_130_degrees_every_later_weight_is_the_smallest_yet() -> None:
    # The poster's oven at 130 °C: its specimen went on losing, 0.458 points of moisture from 24 to 414 h.
    hours = [24.0 + 12 * nth for nth in range(33)]
    grams = [100 - 0.458 * (hour - 24) / 390 for hour in hours]
    assert all(later < earlier for earlier, later in zip(grams, grams[1:], strict=False))
    for count in range(2, len(hours) + 1, 3):
        found = dryness.judge(hours[:count], grams[:count], step_g=0.001, set_point_c=130)
        # Waiting for a weight that isn't beaten would wait for ever; the endpoint is met long before.
        assert found.criterion("en").met and not found.oven_dry
        assert found.called("130 °C") == "steady at 130 °C"
    assert moisture.moisture_content(100, grams[-1]) == pytest.approx(0.453, abs=0.005)


def test_both_sets_of_coefficients_agree_over_the_table() -> None:
    # Wood Handbook (FPL-GTR-282) equation 4-5: the Fahrenheit coefficients, written out here.
    def by_fahrenheit(t: float, h: float) -> float:
        w = 330 + 0.452 * t + 0.00415 * t**2
        k = 0.791 + 0.000463 * t - 0.000000844 * t**2
        k1 = 6.34 + 0.000775 * t - 0.0000935 * t**2
        k2 = 1.09 + 0.0284 * t - 0.0000904 * t**2
        kh = k * h
        return 1800 / w * (kh / (1 - kh) + (k1 * kh + 2 * k1 * k2 * kh**2) / (1 + k1 * kh + k1 * k2 * kh**2))

    for t in (*GRID, 70):
        for humidity in (5, 10, 20, 30, 40, 50, 60, 70, 80, 85, 90, 95):
            found = moisture.equilibrium_moisture((t - 32) / 1.8, humidity / 100)
            assert found == pytest.approx(by_fahrenheit(t, humidity / 100), abs=0.1)
    for humidity, percent in TABLE_4_2.items():
        assert by_fahrenheit(70, humidity / 100) == pytest.approx(percent, abs=0.1)


def test_220_fahrenheit_is_eight_above_boiling_at_the_sea() -> None:
    # IAPWS-IF97 at the pressure of ISO 2533: 211.95 °F; the setting is common practice.
    found = oven.set_point((220 - 32) / 1.8, 0)
    assert found.above_boiling_c * 1.8 == pytest.approx(8.05, abs=0.1)
    assert found.tells_oven_dry
    # The same setting a mile up is 18 °F above it.
    assert oven.set_point((220 - 32) / 1.8, 1609.344).above_boiling_c * 1.8 == pytest.approx(17.69, abs=0.1)


def test_the_true_dry_mass_is_held_nine_times_in_ten() -> None:
    # Wood drawn as the fit holds it to be: any exponent of its prior, a curve misshapen by 1 % of the water, a slow
    # rest of 0.2 % of the mass in the mean, 0.02 % of scatter, a scale of a tenth of a gram.
    chance = random.Random(1)
    inside = below = 0
    for _ in range(400):
        dry, water, shape = chance.uniform(60, 900), chance.uniform(0.08, 0.9), chance.uniform(0.5, 1.3)
        kt, count = math.exp(chance.uniform(0, math.log(6))), chance.randint(4, 8)
        hours = [24 * nth / (count - 1) for nth in range(count)]
        rest = chance.expovariate(500)
        grams = []
        for hour in hours:
            left = math.exp(-((kt * hour / 24) ** shape)) * (1 + chance.gauss(0, 0.01))
            grams.append(round(dry * (1 + rest + water * left) + chance.gauss(0, 2e-4 * dry), 1))
        found = moisture.fit_drying(hours, grams, step_g=0.1)
        inside += found.low_g <= dry <= found.high_g
        below += dry < found.low_g
    assert 0.86 <= inside / 400 <= 0.94
    assert 0.01 < below / 400 < 0.09


def test_the_series_are_the_ones_named() -> None:
    assert "SUNY" in SERIES.read_text(encoding="utf-8")
    for name, first, last in (("maple 103 C", 95.112, 77.515), ("ash 85 C", 64.878, 60.928)):
        hours, grams = series(name)
        assert (grams[0], grams[-1], hours[-1], len(hours)) == (first, last, 414, 12)
