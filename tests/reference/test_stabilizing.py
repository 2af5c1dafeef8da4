"""The bath's figures against sources outside the project, each named at its check."""

import pytest

from studio.craft import moisture, soak

INHG_PA = 3386.389


def test_oven_dry_ash_is_64_percent_hollow():
    # Wood Handbook (FPL-GTR-190): cell wall 1.54, hollows 1 - G0/1.54; at G0 0.55 that is 64.3 %. Full of a resin of
    # 1.05: 0.643 * 1.05 / 0.55 = 122.7 % of the dry weight.
    assert moisture.most_uptake(0.55, 1.0) * 0.55 == pytest.approx(64.3, abs=0.05)
    assert moisture.most_uptake(0.55, 1.05) == pytest.approx(122.7, abs=0.1)


def test_29_inches_of_mercury_are_97_percent_of_the_air_at_sea_level():
    # A vacuum of 29 inHg below 101.325 kPa leaves 3.12 kPa (conventional mercury, 3386.389 Pa an inch).
    share = soak.vacuum_share(round(29 * INHG_PA), 0)
    assert share == pytest.approx(1 - 3.12 / 101.325, abs=0.0005)


@pytest.mark.parametrize(("height_m", "air_pa"), [(1000, 89_874.6), (1500, 84_556.0), (2000, 79_495.2)])
def test_the_air_there_is_to_pull_thins_with_height(height_m, air_pa):
    # ISO 2533:1975. 25 inHg, poor at sea level (83 %), is all there is at about 1500 m.
    assert soak.vacuum_share(round(25 * INHG_PA), height_m) == pytest.approx(25 * INHG_PA / air_pa, rel=1e-5)
    assert soak.vacuum_share(round(25 * INHG_PA), 0) < soak.GOOD_VACUUM < soak.vacuum_share(84_556, 1500)


def test_wood_full_to_the_last_hollow_sinks_and_dry_wood_floats():
    # Archimedes: cell wall 1540 kg/m³ and resin of 1050 are both over water's 1000, so filled wood is, too.
    full = moisture.most_uptake(0.5, 1.05) / 100
    assert soak.must_sink(500, full, own=True) and not soak.must_sink(500, 0, own=True)
