"""Bubbles, lids and pots. Sources named at each check."""

import pytest

from studio.craft import pressure

PSI_KPA = 6.894757293
BOYLE = {15: 0.79098, 30: 0.69020, 40: 0.64528, 50: 0.61016, 60: 0.58161, 80: 0.53739, 100: 0.50414}
VOLUME = {15: 0.49488, 30: 0.32880, 40: 0.26868, 50: 0.22715, 60: 0.19674, 80: 0.15519, 100: 0.12813}


@pytest.mark.parametrize("psi", BOYLE)
def test_a_bubble_shrinks_by_boyles_law(psi: int) -> None:
    # Boyle's law at one temperature, 14.695949 psi outside, reckoned apart.
    assert pressure.bubble_diameter_ratio(psi * PSI_KPA) == pytest.approx(BOYLE[psi], abs=1e-5)
    assert 1 / pressure.absolute_ratio(psi * PSI_KPA) == pytest.approx(VOLUME[psi], abs=1e-5)


@pytest.mark.parametrize(("inches", "pounds"), [(8, 3015.9), (10, 4712.4), (12, 6785.8), (14, 9236.3)])
def test_a_lid_at_60_psi(inches: int, pounds: float) -> None:
    # Force is gauge pressure times area: 60 pounds to the square inch on a lid of so many inches.
    newtons = pressure.lid_force_n(60 * PSI_KPA, inches * 25.4)
    assert newtons / 4.4482216152605 == pytest.approx(pounds, abs=0.06)


def test_a_lid_of_300_mm_at_4_bar() -> None:
    assert pressure.lid_force_n(400, 300) / 1000 == pytest.approx(28.27, abs=0.005)


def test_ten_gallons_at_60_psi_store_39_kilojoules() -> None:
    # US 10 gal at 60 psi: 156.6 bar·L, stored energy (p − p0)V/(γ − 1) = 39.1 kJ.
    litres, kpa = 37.85411784, 60 * PSI_KPA
    assert litres * kpa / 100 == pytest.approx(156.6, abs=0.05)
    assert pressure.stored_energy_j(litres, kpa) / 1000 == pytest.approx(39.1, abs=0.06)
