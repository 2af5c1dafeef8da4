"""What rises fast and then ever slower towards a level: y = top · (1 − exp(−rate · x)), by least squares."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Fitted:
    """Parameters, the standard deviation of each, and the sum of squares that is left."""

    values: tuple[float, ...]
    deviations: tuple[float, ...]
    squares: float


def least_squares(
    curve: Callable[[Any, Any], Any], x: Sequence[float], y: Sequence[float], start: Sequence[float]
) -> Fitted:
    """Return the parameters for which `curve(x, parameters)` comes nearest to y, from a start.

    `x` is given to the curve as an array. A parameter that is never negative belongs in the curve as its
    square or its power. Method: Levenberg and Marquardt, on parameters measured by the start.
    Raises ValueError with fewer points than parameters and one, or when no answer is found.
    """
    import numpy as np
    from scipy.optimize import least_squares as solve  # type: ignore[import-untyped]

    at, seen, unit = np.asarray(x, float), np.asarray(y, float), np.asarray(start, float)
    if len(at) != len(seen) or len(at) <= len(unit):
        raise ValueError("There are too few points to find this curve.")

    def off(share: Any) -> Any:
        with np.errstate(over="ignore"):
            return np.nan_to_num(curve(at, share * unit) - seen, nan=1e150, posinf=1e150, neginf=-1e150)

    found = solve(off, np.ones_like(unit), method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15, max_nfev=4000)
    squares = float(found.fun @ found.fun)
    try:
        spread = np.linalg.inv(found.jac.T @ found.jac) * squares / (len(at) - len(unit))
    except np.linalg.LinAlgError as error:
        raise ValueError("These points don't settle on one curve.") from error
    values, deviations = found.x * unit, np.sqrt(np.diag(spread)) * np.abs(unit)
    if not (np.isfinite(values).all() and np.isfinite(deviations).all()):
        raise ValueError("These points don't settle on one curve.")
    return Fitted(tuple(map(float, values)), tuple(map(float, deviations)), squares)


def fit_approach(x: Sequence[float], y: Sequence[float], start: tuple[float, float] | None = None) -> Fitted:
    """Return (top, rate) of y = top · (1 − exp(−rate · x)); the start is read off the points unless given.

    Checked against the certified values of two data sets of the NIST statistical reference data of this form.
    Raises ValueError as `least_squares` does.
    """
    import numpy as np

    top, rate = start or (float(max(y, key=abs)), 2.0 / max(x))
    seen = np.asarray(y, float)

    def best_top(shape: Any) -> Any:
        return (shape @ seen) / (shape @ shape)

    def alone(at: Any, b: Any) -> Any:
        shape = -np.expm1(-np.exp(np.clip(b[0] - 1, -30, 30)) * rate * at)
        return best_top(shape) * shape

    # For any rate the best top is found outright. Looked for together from a poor start, the two run off.
    rate *= float(np.exp(np.clip(least_squares(alone, x, y, [1.0]).values[0] - 1, -30, 30)))
    found = best_top(-np.expm1(-rate * np.asarray(x, float)))
    return least_squares(lambda at, b: b[0] * -np.expm1(-b[1] * at), x, y, (float(found) or top, rate))
