"""Moisture, the air it settles with, boiling water and drying curves. Sources named at each check."""

import csv
from pathlib import Path

import pytest

from studio.craft import moisture

SERIES = Path(__file__).parent / "data" / "drying_series.csv"


def series(name: str) -> tuple[list[float], list[float]]:
    lines = [line for line in SERIES.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = [row for row in csv.DictReader(lines) if row["series"] == name]
    return [float(row["hours"]) for row in rows], [float(row["grams"]) for row in rows]


@pytest.mark.parametrize(
    ("wet", "dry", "percent"),
    [(1100, 1000, 10.0), (1150, 1000, 15.0), (1200, 1000, 20.0), (2000, 1000, 100.0)],
)
def test_moisture_on_the_dry_basis(wet: int, dry: int, percent: float) -> None:
    # ASTM D4442-20 section 3.1.1; Wood Handbook (FPL-GTR-282) equation 4-2.
    assert moisture.moisture_content(wet, dry) == pytest.approx(percent)


def test_100_grams_dried_to_75_held_a_third() -> None:
    # Trade question and answer, "Drying samples", 2011-11-10: 33 % on the dry basis, 25 % on the wet one.
    assert moisture.moisture_content(100, 75) == pytest.approx(33.3, abs=0.05)


TABLE_4_2 = {5: 1.3, 20: 4.5, 30: 6.2, 40: 7.7, 50: 9.2, 60: 11.0, 75: 14.4, 80: 16.0, 85: 17.9, 95: 23.9}


@pytest.mark.parametrize(("humidity", "percent"), TABLE_4_2.items())
def test_equilibrium_moisture_at_70_f(humidity: int, percent: float) -> None:
    # Wood Handbook (FPL-GTR-282) table 4-2, 21.1 °C.
    assert moisture.equilibrium_moisture(21.1, humidity / 100) == pytest.approx(percent, abs=0.1)


GRID = {
    50: (2.57, 6.31, 9.47, 13.43, 20.90),
    60: (2.53, 6.25, 9.38, 13.29, 20.73),
    70: (2.48, 6.17, 9.25, 13.09, 20.49),
    80: (2.42, 6.06, 9.08, 12.86, 20.20),
    90: (2.35, 5.93, 8.89, 12.60, 19.86),
    212: (0.98, 3.17, 5.36, 8.17, 13.90),
}


@pytest.mark.parametrize(("fahrenheit", "row"), GRID.items())
def test_equilibrium_moisture_agrees_with_the_fahrenheit_coefficients(
    fahrenheit: int, row: tuple[float, ...]
) -> None:
    # The same handbook's second set of coefficients, reckoned apart from ours.
    for humidity, percent in zip((0.1, 0.3, 0.5, 0.7, 0.9), row, strict=True):
        found = moisture.equilibrium_moisture((fahrenheit - 32) / 1.8, humidity)
        assert found == pytest.approx(percent, abs=0.05)


@pytest.mark.parametrize(
    ("celsius", "humidity", "percent"),
    [(20, 0.65, 11.996), (20, 0.5, 9.271), (60, 0.55, 8.373), (20, 1, 28.8)],
)
def test_equilibrium_moisture_at_single_points(celsius: float, humidity: float, percent: float) -> None:
    # Wood Handbook (FPL-GTR-282) equation 4-5, reckoned apart from ours.
    assert moisture.equilibrium_moisture(celsius, humidity) == pytest.approx(percent, abs=0.05)


BOILING = {0: 99.974, 1000: 96.649, 1500: 94.983, 2000: 93.315, 3000: 89.973}


@pytest.mark.parametrize(("metres", "celsius"), BOILING.items())
def test_water_boils_lower_higher_up(metres: float, celsius: float) -> None:
    # CoolProp 8.0.0 at the pressure of standard air.
    assert moisture.boiling_point_c(metres) == pytest.approx(celsius, abs=0.01)


@pytest.mark.parametrize(
    ("feet", "fahrenheit"), [(0, 211.95), (1000, 210.13), (5280, 202.31), (7500, 198.25), (10_000, 193.66)]
)
def test_water_boils_lower_higher_up_in_feet(feet: float, fahrenheit: float) -> None:
    assert moisture.boiling_point_c(feet * 0.3048) * 1.8 + 32 == pytest.approx(fahrenheit, abs=0.02)


@pytest.mark.parametrize(
    ("metres", "pascal"),
    [(0, 101_325.0), (1000, 89_874.6), (1500, 84_556.0), (2000, 79_495.2), (3000, 70_108.5)],
)
def test_standard_air(metres: float, pascal: float) -> None:
    # ISO 2533:1975.
    assert moisture.air_pressure_pa(metres) == pytest.approx(pascal, abs=0.5)


def test_the_common_setting_at_sea_level_is_inside_the_standard() -> None:
    # ASTM D4442: 103 ± 2 °C; the shop's 217 °F is 102.8 °C.
    assert moisture.oven_set_point_c(0) == pytest.approx(102.8, abs=0.1)


@pytest.mark.parametrize(("name", "percent"), [("maple 103 C", 22.633), ("ash 85 C", 6.432)])
def test_moisture_of_the_published_specimens(name: str, percent: float) -> None:
    # Student research poster, SUNY College of Environmental Science and Forestry; dry mass taken at 24 h.
    hours, grams = series(name)
    assert moisture.moisture_content(grams[0], grams[hours.index(24)]) == pytest.approx(percent, abs=0.001)


@pytest.mark.parametrize("name", ["maple 103 C", "ash 85 C"])
@pytest.mark.parametrize("count", [4, 5, 6, 7, 9, 12])
def test_the_published_specimens_dry_mass_is_foretold(name: str, count: int) -> None:
    # The mean of what the specimen weighed from 48 to 150 h, foretold from its first weighings alone.
    hours, grams = series(name)
    later = sum(grams[7:10]) / 3
    found = moisture.fit_drying(hours[:count], grams[:count])
    assert found.low_g <= later <= found.high_g
    assert found.dry_g == pytest.approx(later, rel=0.0015)
    assert found.high_g - found.low_g < 0.01 * later


def test_a_single_exponential_alone_would_miss_it() -> None:
    # Least squares of m = m∞ + a·exp(−kt) to 24 h gives 61.0451 g for the ash; it weighed 60.94 g in the end.
    hours, grams = series("ash 85 C")
    later = sum(grams[7:10]) / 3
    assert 61.0451 - later > 0.1
    assert moisture.fit_drying(hours[:7], grams[:7]).dry_g == pytest.approx(later, abs=0.05)


def test_the_smallest_weight_ever_seen_is_not_the_dry_mass() -> None:
    # The specimens go on losing a little for weeks; 414 h is below what they weighed dry.
    hours, grams = series("maple 103 C")
    assert grams[-1] < moisture.fit_drying(hours, grams).dry_g


def test_the_european_endpoint_is_met_at_twelve_hours() -> None:
    # EN 13183-1:2002 section 6: from 10 to 12 h the maple loses 0.030 %, below 0.1 % in 2 h.
    hours, grams = series("maple 103 C")
    assert moisture.oven_dry_by_en(hours[:6], grams[:6])
    assert not moisture.oven_dry_by_en(hours[:4], grams[:4])
    assert not moisture.oven_dry_by_en(hours[:1], grams[:1])
    assert 100 * (grams[4] - grams[5]) / grams[4] == pytest.approx(0.030, abs=0.001)


def test_the_american_endpoint_asks_for_twice_the_balances_sensitivity() -> None:
    # ASTM D4442 method A: loss over 3 h no more than twice the sensitivity.
    assert moisture.oven_dry_by_astm([0, 3], [500.2, 500.0], 0.1)
    assert not moisture.oven_dry_by_astm([0, 3], [500.3, 500.0], 0.1)
    assert not moisture.oven_dry_by_astm([0, 1], [500.0, 500.0], 0.1)  # an hour is too short to tell
