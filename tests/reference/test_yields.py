"""Shares that come through. Sources named at each check."""

from decimal import Decimal
from fractions import Fraction

import pytest

from studio.craft import yields

WILSON = {
    (81, 263): (0.2553, 0.3662),  # R. G. Newcombe, Statistics in Medicine 17 (1998) 857, table I, method 3
    (0, 20): (0.0, 0.1611),  # the same
    (0, 10): (0.0, 0.2775),
    (10, 10): (0.7225, 1.0),
    (9, 10): (0.5958, 0.9821),
    (18, 20): (0.6990, 0.9721),
    (8, 10): (0.4902, 0.9433),
    (3, 4): (0.3006, 0.9544),
    (45, 50): (0.7864, 0.9565),
    (1, 10): (0.0179, 0.4042),
}


@pytest.mark.parametrize(("pair", "expected"), WILSON.items())
def test_wilsons_range(pair: tuple[int, int], expected: tuple[float, float]) -> None:
    # Those not of Newcombe's table: statsmodels 0.15 and scipy 1.17, which agree.
    assert yields.wilson(*pair) == pytest.approx(expected, abs=5.1e-5)


def test_the_ends_are_exact_where_all_or_none_came_through() -> None:
    assert yields.wilson(0, 20)[0] == 0
    assert yields.wilson(10, 10)[1] == 1


def test_rolled_yields() -> None:
    # Help of a statistics vendor, "throughput yield": 1000 → 950 → 800 → 700.
    assert yields.rolled([Fraction(950, 1000), Fraction(800, 950), Fraction(700, 800)]) == Fraction(7, 10)
    assert yields.rolled([0.95, 0.84, 0.88]) == pytest.approx(0.70, abs=0.005)
    assert yields.rolled([Decimal("0.97"), Decimal("0.94")]) == Decimal("0.9118")
    assert yields.rolled([0.98, 0.97, 0.99, 0.96]) == pytest.approx(0.903450, abs=1e-6)


def test_raw_wood_carries_half_again_and_resin_a_fifth() -> None:
    # Derived: .85 dry · .95 stabilize · .90 cast · .92 turn; wood carries 1/.67, a casting's resin 1/(.90·.92).
    shares = (Decimal("0.85"), Decimal("0.95"), Decimal("0.90"), Decimal("0.92"))
    assert yields.loaded_cost((1, 0, 0, 0), shares) == pytest.approx(Decimal("1.4957"), abs=Decimal("0.0001"))
    assert yields.loaded_cost((0, 0, 1, 0), shares) == pytest.approx(Decimal("1.2077"), abs=Decimal("0.0001"))
