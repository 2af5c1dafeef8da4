"""The reckoning behind `moisture.fit_drying`: all shapes of a drying curve weighed at once.

For a shape n and a rate k the curve is linear in the dry mass and in the water, so those two are found by
weighted least squares with Student's distribution around them; shapes and rates are weighed by how well they
agree with the weighings, and the answer is the mixture.
"""

from collections.abc import Sequence
from typing import Any

# Shapes tried: n < 1 falls fast and trails long, n > 1 starts slowly. k·t over the whole series runs from
# "barely begun" to "settled long before the end".
_LEAST_SHAPE, _MOST_SHAPE, _SHAPES = 0.5, 1.3, 21
_LEAST_KT, _MOST_KT_AT_SECOND, _RATES = 0.05, 10.0, 56
# Scatter to expect by itself, as a share of the mass; how far off the shape may be, as a share of the water.
_SCATTER = 2e-4
_MISSHAPE = 0.01
# Initial moisture is not believed above this share of the dry mass.
_MOST_WATER = 2.6
_PRIOR_WEIGHINGS = 2.0
# Wood goes on losing a little long after the curve has settled: this share of its mass, in the mean, when the
# weighings stop as soon as it is nearly dry, less when they go on. Found from a published series.
_SLOW_REST = 2e-3


def fit(at: Sequence[float], mass: Sequence[float], within_percent: float, step_g: float | None) -> tuple[float, ...]:
    """Return (dry, low, high, within, ready, ready low, ready high); see `moisture.fit_drying`."""
    import numpy as np

    t = np.asarray(at) - at[0]
    y = np.asarray(mass)
    step = scale_step(mass) if step_g is None else step_g
    variance = step**2 / 12 + (_SCATTER * y[-1]) ** 2 + (_MISSHAPE * (y - y.min())) ** 2
    shapes = np.linspace(_LEAST_SHAPE, _MOST_SHAPE, _SHAPES)[:, None]
    rates = np.geomspace(_LEAST_KT / t[-1], max(_MOST_KT_AT_SECOND / t[1], 60 / t[-1]), _RATES)
    log_rate = np.broadcast_to(np.log(rates), (_SHAPES, _RATES))
    for _ in range(3):
        log_rate = _closer(np, log_rate, _curves(np, t, y, variance, shapes, log_rate)["log_weight"])
    found = _curves(np, t, y, variance, shapes, log_rate)
    weight = np.exp(found["log_weight"] - found["log_weight"].max()) * np.gradient(log_rate, axis=1)
    weight = (weight / weight.sum()).ravel()
    dry, low, high = _quantiles(np, found, weight, len(y), y, variance.min())
    ready = _ready(np, found, weight, np.exp(log_rate), shapes, within_percent)
    rest = _SLOW_REST * y[-1] * min(1.0, ready[0] / t[-1]) ** 0.5
    return (
        float(dry - rest / 2),
        float(low - 2 * rest - step / 2),
        float(high + step / 2),
        within_percent,
        *(at[0] + hours for hours in ready),
    )


def scale_step(mass: Sequence[float]) -> float:
    """Return the coarsest step (1, 2 or 5 times a power of ten, grams) on which all weighings stand.

    Above a gram only as far as a scale for that mass would go, or round figures pass for a coarse scale.
    """
    coarsest = max(1.0, min(mass) / 500)
    for power in range(4, -5, -1):
        for figure in (5, 2, 1):
            step = figure * 10.0**power
            if step <= coarsest and all(abs(m / step - round(m / step)) < 1e-6 * max(1.0, m / step) for m in mass):
                return step
    return 1e-4


def _curves(np: Any, t: Any, y: Any, variance: Any, shapes: Any, log_rate: Any) -> dict[str, Any]:
    """Fit dry mass and water for each (shape, rate); return levels, waters, spreads and log weights."""
    curve = np.exp(-((np.exp(log_rate)[..., None] * t) ** shapes[..., None]))
    share = (1 / variance) / (1 / variance).sum()
    middle = (share * curve).sum(axis=-1, keepdims=True)
    level_middle = (share * y).sum()
    squares = (share * (curve - middle) ** 2).sum(axis=-1)
    slope = (share * (curve - middle) * (y - level_middle)).sum(axis=-1) / squares
    water = np.maximum(slope, 0.0)
    level = level_middle - water * middle[..., 0]
    rest = ((y - level[..., None] - water[..., None] * curve) ** 2 / variance).sum(axis=-1)
    freedom = _PRIOR_WEIGHINGS + len(y) - 2
    scale = (_PRIOR_WEIGHINGS + rest) / freedom
    total = (1 / variance).sum()
    spread = np.sqrt(scale / total * (1 + middle[..., 0] ** 2 / squares))
    noise = variance.min() ** 0.5
    doubt = np.sqrt(scale / total / squares)
    log_weight = -0.5 * freedom * np.log(_PRIOR_WEIGHINGS + rest) + np.log(np.log1p(doubt / (water + noise)))
    log_weight[level < y.max() / (1 + _MOST_WATER)] = -np.inf
    return {"level": level, "water": water, "spread": spread, "log_weight": log_weight}


def _closer(np: Any, log_rate: Any, log_weight: Any) -> Any:
    """Return rates spaced over the stretch, for each shape, that carries its weight."""
    best = log_weight.max(axis=1, keepdims=True)
    worth = log_weight > np.where(np.isfinite(best), best, 0.0) - 9
    first = np.maximum(worth.argmax(axis=1) - 1, 0)
    last = np.minimum(log_rate.shape[1] - worth[:, ::-1].argmax(axis=1), log_rate.shape[1] - 1)
    rows = np.arange(len(log_rate))
    low, high = log_rate[rows, first], log_rate[rows, last]
    return low[:, None] + (high - low)[:, None] * np.linspace(0, 1, log_rate.shape[1])


def _quantiles(np: Any, found: dict[str, Any], weight: Any, count: int, y: Any, noise: float) -> list[float]:
    """Return the middle, the 5 % and the 95 % mark of the mixture of Student distributions."""
    from scipy.special import stdtr  # type: ignore[import-untyped]

    keep = weight > weight.max() * 1e-5
    level, spread = found["level"].ravel()[keep], found["spread"].ravel()[keep]
    weight = weight[keep] / weight[keep].sum()
    bottom, top = y.max() / (1 + _MOST_WATER), y.min() + 3 * noise**0.5
    freedom = _PRIOR_WEIGHINGS + count - 2
    marks = np.unique(
        np.clip(np.concatenate([level + spread * z for z in (-3, -1.5, -0.6, 0, 0.6, 1.5, 3)]), bottom, top)
    )
    if len(marks) > 240:
        marks = marks[np.linspace(0, len(marks) - 1, 240).astype(int)]
    below = (weight * stdtr(freedom, (marks[:, None] - level) / spread)).sum(axis=1)
    below = (below - below[0]) / (below[-1] - below[0])
    return [float(np.interp(share, below, marks)) for share in (0.5, 0.05, 0.95)]


def _ready(
    np: Any, found: dict[str, Any], weight: Any, rates: Any, shapes: Any, within_percent: float
) -> list[float]:
    """Return hours after the first weighing until the wood is within a percentage of dry: 50, 5, 95 %."""
    margin = found["level"] * within_percent / 100
    ratio = np.log(np.maximum(found["water"] / margin, 1.0))
    hours = (ratio ** (1 / shapes) / rates).ravel()
    order = np.argsort(hours)
    carried = np.cumsum(weight[order])
    middle = (carried - weight[order] / 2) / carried[-1]
    return [float(np.interp(share, middle, hours[order])) for share in (0.5, 0.05, 0.95)]
