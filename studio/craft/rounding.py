"""One way to round, used everywhere: half goes up (away from nothing for a negative figure).

*Common practice, no source* for the choice of half up; it is what a person with a pencil does.
"""

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

MICRO = 1_000_000


def divide(numerator: int, denominator: int) -> int:
    """Return numerator / denominator as a whole number, half away from zero. Raises ZeroDivisionError."""
    if denominator < 0:
        numerator, denominator = -numerator, -denominator
    if numerator < 0:
        return -((-2 * numerator + denominator) // (2 * denominator))
    return (2 * numerator + denominator) // (2 * denominator)


def whole(value: Fraction) -> int:
    """Return an exact fraction as the nearest whole number, half away from zero."""
    return divide(value.numerator, value.denominator)


def coins(micro: int, coin_digits: int = 2) -> int:
    """Return millionths of the currency as whole smallest coins (coin_digits 2: cents; 0: yen), half up.

    Raises ValueError for a currency with more than six digits after the mark: the books hold millionths.
    """
    return divide(micro, _micro_per_coin(coin_digits))


def from_coins(count: int, coin_digits: int = 2) -> int:
    """Return whole smallest coins as millionths of the currency."""
    return count * _micro_per_coin(coin_digits)


def to_coin(micro: int, coin_digits: int = 2) -> int:
    """Return millionths rounded half up to the smallest coin, still in millionths."""
    return from_coins(coins(micro, coin_digits), coin_digits)


def decimal_half_up(value: Decimal, step: Decimal) -> Decimal:
    """Return value rounded half up to a multiple of step (grams on a scale's step, for instance).

    The answer carries as many decimals as the step does. Raises ValueError when step is not above zero.
    """
    if not step.is_finite() or step <= 0:
        raise ValueError("The step must be above zero.")
    steps = (value / step).to_integral_value(rounding=ROUND_HALF_UP)
    return (steps * step).quantize(step)


def _micro_per_coin(coin_digits: int) -> int:
    if not 0 <= coin_digits <= 6:
        raise ValueError("A currency has between 0 and 6 digits after the mark.")
    return int(10 ** (6 - coin_digits))
