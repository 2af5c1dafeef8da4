"""Curves of another physics than the fit's own: water that has to find its way through a slab and off its face.

Crank, *The Mathematics of Diffusion*, 2nd edition, equations 4.50-4.52 (a plane sheet that gives off to the air at
its surface): what is left is the sum of 2 L² exp(−βₙ² t/τ) / (βₙ² (βₙ² + L² + L)), βₙ tan βₙ = L. From memory;
checked here by its own sum at the beginning. The slow loss that follows is as in the published late weighings of
the two real series. The wood, its water and the scale's noise are drawn at random with a fixed seed.
"""

import numpy as np
import pytest
from scipy.optimize import brentq

from studio.craft.moisture import fit_drying

CASES = 120
WEIGHED_H = np.array([0.0, 1.0, 3.0, 6.0])
TERMS = 12


def left(hours: np.ndarray, tau_h: float, face: float) -> np.ndarray:
    """The share of the water still in the slab: `face` is L, how freely it leaves the surface."""
    total = np.zeros_like(hours)
    for nth in range(TERMS):
        root = brentq(lambda b: b * np.tan(b) - face, nth * np.pi + 1e-9, (nth + 0.5) * np.pi - 1e-9)
        share = 2 * face**2 / (root**2 * (root**2 + face**2 + face))
        total += share * np.exp(-(root**2) * hours / tau_h)
    return total


@pytest.mark.parametrize("face", [0.2, 1.0, 10.0])
def test_the_terms_kept_hold_nearly_all_of_the_water(face: float) -> None:
    assert left(np.array([0.0]), 1.0, face)[0] == pytest.approx(1, abs=0.02)


def test_six_hours_of_a_drying_slab_foretell_the_weight_after_a_day() -> None:
    rng = np.random.default_rng(5)
    near, covered, narrow = 0, 0, 0
    for _ in range(CASES):
        dry_g, water = rng.uniform(50, 120), rng.uniform(0.05, 0.28)
        face = 10 ** rng.uniform(-0.7, 1.5)
        rest = 10 ** rng.uniform(-4, -2.2) / water  # of its water, after six hours
        tau = np.exp(brentq(lambda x, f=face, r=rest: left(np.array([6.0]), np.exp(x), f)[0] - r, -5, 7))
        slow = rng.uniform(0, 0.0025)

        def mass(t: np.ndarray, d=dry_g, w=water, tau=tau, f=face, s=slow) -> np.ndarray:
            return d * (1 + w * left(t, tau, f) - s * (1 - np.exp(-t / 15)))

        seen = np.round(mass(WEIGHED_H) + rng.normal(0, 0.01, len(WEIGHED_H)), 3)
        after_a_day = float(mass(np.array([24.0]))[0])
        found = fit_drying(WEIGHED_H.tolist(), seen.tolist())
        near += abs(found.dry_g / after_a_day - 1) <= 0.003
        covered += found.low_g <= after_a_day <= found.high_g
        narrow += found.high_g - found.low_g <= 0.03 * after_a_day
    assert near >= 0.95 * CASES
    assert covered >= 0.9 * CASES
    assert narrow >= 0.9 * CASES
