"""The reckoning behind `moisture.fit_drying`: all shapes of a drying curve weighed at once.

For a shape n and a rate k the curve is linear in the dry mass and in the water, so those two are found by
weighted least squares with Student's distribution around them; shapes and rates are weighed by how well they
agree with the weighings, and the answer is the mixture. Before any weighing all exponents from 0.5 to 1.3 are
held equally likely (the prior is ours: published fits of Page's form to wood lie within), and so are all
magnitudes of the rate.
"""

from collections.abc import Sequence
from dataclasses import dataclass
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
_NORMAL_FROM = 30
# Wood goes on losing a little long after the curve has settled: this share of its mass, in the mean, when the
# weighings stop as soon as it is nearly dry, less when they go on. Found from a published series.
_SLOW_REST = 2e-3


# More weighings than this are thinned before they are fitted, the first and the last of them kept.
_MOST_WEIGHINGS, _KEPT_AT_ENDS = 60, 20


@dataclass(frozen=True)
class Course:
    """All curves that agree with the weighings, each with its weight. Times are hours after the first one."""

    first_h: float
    step_g: float
    count: int
    last_g: float
    shapes: Any
    rates: Any
    found: Any
    weight: Any
    dry: tuple[float, float, float]
    rest_g: float


def fit(at: Sequence[float], mass: Sequence[float], within_percent: float, step_g: float | None) -> tuple[float, ...]:
    """Return (dry, low, high, within, ready, ready low, ready high); see `moisture.fit_drying`."""
    return told(follow(at, mass, step_g), within_percent)


def follow(at: Sequence[float], mass: Sequence[float], step_g: float | None) -> Course:
    """Weigh all shapes and rates against the weighings (hours, grams; three at least, in order)."""
    import numpy as np

    step = scale_step(mass) if step_g is None else step_g
    at, mass = _thinned(at), _thinned(mass)
    t = np.asarray(at) - at[0]
    y = np.asarray(mass)
    variance = step**2 / 12 + (_SCATTER * y[-1]) ** 2 + (_MISSHAPE * (y - y.min())) ** 2
    shapes = np.linspace(_LEAST_SHAPE, _MOST_SHAPE, _SHAPES)[:, None]
    rates = np.geomspace(_LEAST_KT / t[-1], max(_MOST_KT_AT_SECOND / t[1], 60 / t[-1]), _RATES)
    log_rate = np.broadcast_to(np.log(rates), (_SHAPES, _RATES))
    for _ in range(3):
        log_rate = _closer(np, log_rate, _curves(np, t, y, variance, shapes, log_rate)["log_weight"])
    found = _curves(np, t, y, variance, shapes, log_rate)
    weight = np.exp(found["log_weight"] - found["log_weight"].max()) * np.gradient(log_rate, axis=1)
    weight = weight / weight.sum()
    dry = _quantiles(np, found, weight.ravel(), len(y), y, variance.min())
    settled = _ready(np, found, weight.ravel(), np.exp(log_rate), shapes, 1.0)[0]
    rest = _SLOW_REST * y[-1] * min(1.0, settled / t[-1]) ** 0.5
    return Course(
        at[0], step, len(y), float(y[-1]), shapes, np.exp(log_rate), found, weight, (dry[0], dry[1], dry[2]), rest
    )


def told(course: Course, within_percent: float) -> tuple[float, ...]:
    """Return (dry, low, high, within, ready, ready low, ready high) of a course, times on the weighings' clock."""
    import numpy as np

    dry, low, high = course.dry
    ready = _ready(np, course.found, course.weight.ravel(), course.rates, course.shapes, within_percent)
    return (
        float(dry - course.rest_g / 2),
        float(low - 2 * course.rest_g - course.step_g / 2),
        float(high + course.step_g / 2),
        within_percent,
        *(course.first_h + hours for hours in ready),
    )


def drawn(course: Course, hours: Sequence[float]) -> tuple[list[float], list[float], list[float]]:
    """Return the middle of the curve and the band that holds it 9 times in 10 (grams), at each of these hours.

    Far out middle and band come to what `told` says of the dry mass, near the weighings to the weighings.
    """
    import numpy as np

    keep = course.weight > course.weight.max() * 1e-4
    water, level, spread = (course.found[name][keep] for name in ("water", "level", "spread"))
    rate = course.rates[keep]
    shape = np.broadcast_to(course.shapes, course.rates.shape)[keep]
    weight = np.tile(course.weight[keep] / 5, 5)
    t = np.maximum(np.asarray(hours) - course.first_h, 0.0)[:, None]
    left = np.exp(-((rate * t) ** shape))
    # Five equally likely levels stand in for Student's distribution round each curve's own.
    likely = np.concatenate([level + z * spread for z in (-1.5, -0.6, 0.0, 0.6, 1.5)])
    moved = np.concatenate([(level + water * left) + z * spread * (1 - left) for z in (-1.5, -0.6, 0.0, 0.6, 1.5)], 1)
    order = np.argsort(moved, axis=1)
    carried = np.cumsum(weight[order], axis=1)
    ordered = np.take_along_axis(moved, order, axis=1)
    gone = 1 - (left * course.weight[keep]).sum(axis=1) / course.weight[keep].sum()
    lines = []
    for share, end, plain in zip((0.5, 0.05, 0.95), told(course, 1.0)[:3], course.dry, strict=True):
        line = [float(np.interp(share, c / c[-1], row)) for c, row in zip(carried, ordered, strict=True)]
        settled = float(np.interp(share, *_cumulated(np, likely, weight)))
        shift = (end - plain) + (plain - settled)
        lines.append([value + float(g) * shift for value, g in zip(line, gone, strict=True)])
    return lines[0], lines[1], lines[2]


def _cumulated(np: Any, values: Any, weight: Any) -> tuple[Any, Any]:
    order = np.argsort(values)
    carried = np.cumsum(weight[order])
    return carried / carried[-1], values[order]


def _thinned(values: Sequence[float]) -> list[float]:
    """Return the values, or where they are many the first, the last, and some evenly from between."""
    if len(values) <= _MOST_WEIGHINGS:
        return list(values)
    between = _MOST_WEIGHINGS - 2 * _KEPT_AT_ENDS
    first, last = _KEPT_AT_ENDS, len(values) - _KEPT_AT_ENDS
    picked = [first + (last - first) * nth // between for nth in range(between)]
    return [*values[:first], *(values[nth] for nth in picked), *values[last:]]


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
    from scipy.special import ndtr, stdtr  # type: ignore[import-untyped]

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
    away = (marks[:, None] - level) / spread
    # Of many weighings Student's distribution is the normal one, which is found ten times as fast.
    below = (weight * (ndtr(away) if freedom > _NORMAL_FROM else stdtr(freedom, away))).sum(axis=1)
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
