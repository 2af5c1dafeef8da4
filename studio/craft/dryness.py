"""Dry or not, by criteria that are written down; and when it will be, with its doubt.

One series is one condition: the weighings between two changes. Hours on one clock, grams, percent.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median, quantiles
from typing import Literal

from .drying import drawn, follow, told
from .moisture import DryingFit, Number, check_series, loss_over, loss_rate, steady

State = Literal["losing", "steady", "gained", "dry"]
ChangeKind = Literal["in", "out", "set-point", "cut", "bark off", "wax off", "ends sealed"]
Whose = Literal["own weights", "like blanks", "common practice"]

OVEN_DRY_C, OVEN_DRY_GIVE_C = 103.0, 2.0
ASTM_H, EN_H, THICK_H = 3.0, 2.0, 24.0
THICK_MM = 50.0
EN_PERCENT = 0.1
STEP_PERCENT = 0.1
REST_PERCENT = 0.5
ENOUGH_AGREE = 3
# A weight taken no longer than this before a change is also the first one after it.
CARRY_H = 1.0
LEAST_LIKE = 3


@dataclass(frozen=True)
class Reading:
    """One weighing: when (hours), what the scale showed, its step (both grams), and how the wood was."""

    at_h: float
    grams: float
    step_g: float = 1.0
    condition: str = ""


@dataclass(frozen=True)
class Change:
    """What ends one series and begins the next, and the oven's setting from then on where there is one."""

    at_h: float
    kind: ChangeKind
    set_point_c: float | None = None


@dataclass(frozen=True)
class Series:
    """Weighings in one condition, oldest first; `began` is the change that opened it (None: the first)."""

    readings: tuple[Reading, ...]
    began: Change | None = None

    @property
    def hours(self) -> list[float]:
        return [one.at_h for one in self.readings]

    @property
    def grams(self) -> list[float]:
        return [one.grams for one in self.readings]

    @property
    def step_g(self) -> float:
        """The coarsest step that any of these weights was read on."""
        return max((one.step_g for one in self.readings), default=1.0)


def into_series(readings: Sequence[Reading], changes: Sequence[Change]) -> tuple[Series, ...]:
    """Return the weighings as series, each of one condition; series with no weighing are left out.

    A new one begins at every change and wherever the condition written down is another. Wood weighed within an
    hour before it went in, or before the setting was changed, weighed the same then: that weight opens the new
    series too, at the time of the change. After a cut, or with bark or wax off, it does not.
    *Common practice, no source*: a curve holds only while nothing but time changes.
    Raises ValueError when weighings or changes are out of order.
    """
    for times in ([one.at_h for one in readings], [change.at_h for change in changes]):
        if times != sorted(times):
            raise ValueError("Weighings and changes must be in the order they happened.")
    opened: list[tuple[Change | None, list[Reading]]] = [(None, [])]
    waiting = list(changes)
    for one in readings:
        while waiting and waiting[0].at_h <= one.at_h:
            change = waiting.pop(0)
            opened.append((change, _carried(opened[-1][1], change)))
        mine = opened[-1][1]
        if mine and mine[-1].condition != one.condition and not (len(mine) == 1 and mine[0] in _moved(opened)):
            opened.append((None, []))
            mine = opened[-1][1]
        if not mine or one.at_h > mine[-1].at_h:
            mine.append(one)
    for change in waiting:
        opened.append((change, _carried(opened[-1][1], change)))
    return tuple(Series(tuple(rows), began) for began, rows in opened if rows)


def _carried(before: Sequence[Reading], change: Change) -> list[Reading]:
    last = before[-1] if before else None
    if last is None or change.kind not in ("in", "set-point") or change.at_h - last.at_h > CARRY_H:
        return []
    return [Reading(change.at_h, last.grams, last.step_g, last.condition)]


def _moved(opened: Sequence[tuple[Change | None, list[Reading]]]) -> list[Reading]:
    """The weight, if any, that the running series took over from before its change."""
    change, rows = opened[-1]
    return rows[:1] if change is not None and rows and rows[0].at_h == change.at_h else []


def carried_dry_g(dry_g: Number, before_g: Number, after_g: Number) -> float:
    """Return the dry mass (grams) of what is left after a cut, by what it weighed just before and just after.

    Holds while both parts are equally moist. *Common practice, no source*; the rest is proportion.
    Raises ValueError when a weight isn't above zero, or wood grew by being cut.
    """
    dry, before, after = float(dry_g), float(before_g), float(after_g)
    if min(dry, before, after) <= 0:
        raise ValueError("The weights must be above zero.")
    if after > before:
        raise ValueError("It can't weigh more after the cut than before it.")
    return dry * after / before


@dataclass(frozen=True)
class Criterion:
    """One criterion: met, not met, or None while it can't be told; its figure beside its limit.

    `astm` grams lost, `en` percent changed, `step` scale step in percent of the mass, `rest` percent still to
    lose. `over_h` is the time the first two were judged over.
    """

    code: Literal["astm", "en", "step", "rest"]
    met: bool | None
    figure: float | None
    limit: float
    over_h: float = 0.0


@dataclass(frozen=True)
class Remaining:
    """What a piece still has to lose, in percent of the dry mass, and between what it lies 9 times in 10."""

    percent: float
    low: float
    high: float


@dataclass(frozen=True)
class Verdict:
    """What one series says. `agreeing` of three weighings agree; `oven_dry` only for a bake at 103 ± 2 °C."""

    state: State
    agreeing: int
    percent_per_hour: float | None
    criteria: tuple[Criterion, ...]
    oven_dry: bool
    set_point_c: float | None
    remaining: Remaining | None = None

    def called(self, set_point: str = "") -> str:
        """Return what it may be called; `set_point` is the oven's setting as the studio writes it."""
        if self.oven_dry:
            return "oven-dry"
        if self.state in ("dry", "steady"):
            return f"steady at {set_point}" if set_point else "steady"
        return "gained since the lowest weighing" if self.state == "gained" else "still losing"

    def criterion(self, code: str) -> Criterion:
        return next(one for one in self.criteria if one.code == code)


def remaining(last_g: float, fit: DryingFit) -> Remaining:
    """Return what is still to be lost by a fit, with its doubt; nothing is below zero."""
    rest = [max(100 * (last_g - dry) / dry, 0.0) for dry in (fit.dry_g, fit.high_g, fit.low_g)]
    return Remaining(rest[0], rest[1], rest[2])


def judge(
    hours: Sequence[float],
    grams: Sequence[Number],
    *,
    step_g: Number = 1,
    set_point_c: float | None = None,
    thickness_mm: float | None = None,
    rest_percent: float = REST_PERCENT,
    disturbed_h: float | None = None,
    fit: DryingFit | None = None,
) -> Verdict:
    """Judge one series of weighings made in one condition.

    *Dry* takes all three: an endpoint, either ASTM D4442's (loss in 3 h no more than twice the scale's step)
    or EN 13183-1's (change below 0.1 % in 2 h); a scale step within 0.1 % of the mass, without which neither
    means anything; and, by the fit, no more than `rest_percent` still to lose. For a piece 50 mm thick and
    more the endpoint is asked over 24 h: its middle gives up water long after its skin. The smallest weight
    ever seen is no criterion: hot wood goes on losing what is not water.
    `disturbed_h`: when something wet was put in beside it. Weighings before that no longer count as steady nor
    towards an endpoint, for the air in the oven is another one.

    Source: ASTM D4442 method A (as a test laboratory sums it up); EN 13183-1:2002 section 6. The 50 mm, the 24 h,
    the 0.1 % of a step and the 0.5 % left are *common practice, no source*.
    Raises ValueError with no weighing, or times out of order.
    """
    at, mass = check_series(hours, grams, 1)
    step = float(step_g)
    counted = [nth for nth, hour in enumerate(at) if disturbed_h is None or hour >= disturbed_h]
    late_at, late = [at[nth] for nth in counted], [mass[nth] for nth in counted]
    found = steady(late_at, late, step) if len(late) > 1 else None
    thick = thickness_mm is not None and thickness_mm >= THICK_MM
    left = remaining(mass[-1], fit) if fit else None
    criteria = (
        _endpoint("astm", late_at, late, THICK_H if thick else ASTM_H, 2 * step),
        _endpoint("en", late_at, late, THICK_H if thick else EN_H, EN_PERCENT),
        _below("step", 100 * step / mass[-1], STEP_PERCENT),
        _below("rest", left.percent if left else None, rest_percent),
    )
    ends, rest = any(one.met for one in criteria[:2]), all(one.met for one in criteria[2:])
    state: State = found.state if found else "losing"
    if state == "gained":
        ends = False
    state = "dry" if ends and rest else state
    at_103 = set_point_c is not None and abs(set_point_c - OVEN_DRY_C) <= OVEN_DRY_GIVE_C + 1e-9
    return Verdict(
        state,
        found.agreeing if found else 1 if late else 0,
        loss_rate(at, mass) if len(at) > 1 else None,
        criteria,
        state == "dry" and at_103,
        set_point_c,
        left,
    )


def _endpoint(
    code: Literal["astm", "en"], hours: Sequence[float], grams: Sequence[float], over_h: float, limit: float
) -> Criterion:
    found = loss_over(over_h, hours, grams) if hours else None
    if found is None:
        return Criterion(code, None, None, limit, over_h)
    figure = found[0] if code == "astm" else 100 * found[0] / found[1]
    # The European figure is a limit to stay below, the American one may be reached.
    met = abs(figure) <= limit * (1 + 1e-9) if code == "astm" else abs(figure) < limit
    return Criterion(code, met, figure, limit, over_h)


def _below(code: Literal["step", "rest"], figure: float | None, limit: float) -> Criterion:
    return Criterion(code, None if figure is None else figure <= limit * (1 + 1e-9), figure, limit)


@dataclass(frozen=True)
class Drawing:
    """A fit, and its curve to draw: grams at hours, the middle and what holds it 9 times in 10."""

    fit: DryingFit
    hours: tuple[float, ...]
    middle: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


def draw(
    hours: Sequence[float],
    grams: Sequence[Number],
    *,
    step_g: Number = 1,
    rest_percent: float = REST_PERCENT,
    points: int = 49,
    most_h: float = 24 * 30,
) -> Drawing:
    """Fit a series and return its curve with its band, from the first weighing until it will be dry.

    The curve goes on past the last weighing until the wood is within `rest_percent` of dry, but no more than
    three times as long as it was weighed, and no further than `most_h`. Source as `moisture.fit_drying`.
    Raises ValueError as `moisture.fit_drying` does.
    """
    at, mass = check_series(hours, grams, 3)
    if mass[-1] > 1.005 * mass[0] or mass[0] > 3.5 * min(mass):
        raise ValueError("This is no drying to reckon from: it gained, or lost more than wood holds.")
    course = follow(at, mass, float(step_g))
    fit = DryingFit(*told(course, rest_percent))
    span = at[-1] - at[0]
    end = max(at[-1], min(fit.ready_h + 0.1 * span, at[-1] + 2 * span, at[-1] + most_h))
    # Closer together at first, where the curve bends.
    line = [at[0] + (end - at[0]) * (nth / (points - 1)) ** 1.5 for nth in range(points)]
    middle, low, high = drawn(course, line)
    return Drawing(fit, tuple(line), tuple(middle), tuple(low), tuple(high))


@dataclass(frozen=True)
class Expectation:
    """How long drying takes in all (hours), between what, whose figure it is, and of how many it was found."""

    hours: float
    low_h: float
    high_h: float
    whose: Whose
    count: int = 0


HAND_SIZED_G, VERY_LARGE_G = 1_000.0, 8_000.0


def expected(like_h: Sequence[float], grams: Number) -> Expectation:
    """Return how long a piece will want in the oven while its own weights are too few to tell.

    From this studio's like blanks where there are three or more (`like_h`, hours each), else *common practice,
    no source*: a hand-sized blank wants a night, a very large one three to four days; what lies between the two
    is ours. Raises ValueError for a weight that isn't above zero.
    """
    mass = float(grams)
    if mass <= 0:
        raise ValueError("A weight must be above zero.")
    if len(like_h) >= LEAST_LIKE:
        marks = quantiles(like_h, n=20, method="inclusive")
        return Expectation(median(like_h), marks[0], marks[-1], "like blanks", len(like_h))
    if mass <= HAND_SIZED_G:
        return Expectation(12, 8, 16, "common practice")
    if mass >= VERY_LARGE_G:
        return Expectation(84, 72, 96, "common practice")
    return Expectation(42, 16, 72, "common practice")
