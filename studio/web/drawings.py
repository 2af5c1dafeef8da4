"""Figures drawn on the graduated rule: where each line and word of a price range or a curve goes.

Nothing here knows a colour or a template; positions are worked out in whole tenths of a unit, so that money
and grams never pass through a float.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from studio.fields import quantity
from studio.web.saying import in_words

LEFT, RIGHT, WIDTH = 20, 440, 460
_LETTER = 9  # a letter of the type as a phone shows it, with room to spare
_STEPS = (1, 2, 5)
_HOUR = 3600
_TIME_STEPS = (1, 2, 3, 6, 12, 24, 48, 96, 168, 336, 672, 1344, 2688, 5376, 8760)


def tenths(value: int) -> str:
    """Return whole tenths as SVG wants them: 1273 is `127.3`."""
    sign, value = ("-", -value) if value < 0 else ("", value)
    return f"{sign}{value // 10}.{value % 10}" if value % 10 else f"{sign}{value // 10}"


def place(value: int, low: int, high: int, start: int, end: int) -> int:
    """Return where `value` falls between `start` and `end`, in whole tenths."""
    return start * 10 + (value - low) * (end - start) * 10 // max(high - low, 1)


def nice_step(span: int, least: int = 1, at_most: int = 7) -> int:
    """Return the smallest of 1, 2, 5 times a power of ten that divides `span` into few parts."""
    power = 1
    while True:
        for digit in _STEPS:
            step = digit * power
            if step >= least and -(-span // step) <= at_most:
                return step
        power *= 10


@dataclass(frozen=True)
class Mark:
    """A vertical line with words: where it stands, where the words go, and to which side they run."""

    x: str
    words: str
    text_x: str = ""
    anchor: str = "start"


@dataclass(frozen=True)
class PriceRule:
    ticks: list[Mark]
    spoken: str
    lowest: Mark | None = None
    ask: Mark | None = None
    earns: str = ""
    box_x: str = ""
    box_width: str = ""
    box_mid: str = ""
    like: Mark | None = None
    like_above: bool = False

    @property
    def earns_lines(self) -> list[tuple[int, str]]:
        """What it earns, a clause a line, each with the height it stands at: one long line would run into others."""
        return [(48 + 18 * nth, words) for nth, words in enumerate(self.earns.split(", ")) if words]


def _coins(micro: int) -> str:
    return quantity.show(micro, "money", digits=0 if micro % 1_000_000 == 0 else None)


def _beside(x: int, words: Sequence[str], *, left_first: bool) -> tuple[int, str]:
    """Return text position (tenths) and anchor so that the longest of `words` stays on the drawing."""
    long = max(len(line) for line in words) * _LETTER * 10
    fits_left, fits_right = x - 90 - long >= 0, x + 100 + long <= WIDTH * 10
    if (left_first and fits_left) or (fits_left and not fits_right):
        return x - 90, "end"
    if fits_right:
        return x + 100, "start"
    return max(WIDTH * 10 - long, 0), "start"


def price_rule(
    *,
    lowest: int | None = None,
    ask: int | None = None,
    like_low: int | None = None,
    like_mid: int | None = None,
    like_high: int | None = None,
    like_count: int = 0,
    earns: str = "",
) -> PriceRule | None:
    """Lay out a price range; all amounts in millionths. Returns None when there is nothing to draw."""
    given = [amount for amount in (lowest, ask, like_low, like_mid, like_high) if amount is not None]
    if not given:
        return None
    spread = max(max(given) - min(given), max(given) // 5, 1_000_000)
    step = nice_step(spread * 2, least=1_000_000)
    low = max(min(given) - spread // 2, 0) // step * step
    high = -(-(max(given) + spread // 2) // step) * step
    ticks = [
        Mark(tenths(place(at, low, high, LEFT, RIGHT)), quantity.show(at, "money", digits=0, grouped=False))
        for at in range(low, high + 1, step)
    ]
    spoken = []
    lowest_mark = ask_mark = like_mark = None
    box: dict[str, str] = {}
    like_above = False
    if lowest is not None:
        x, words = place(lowest, low, high, LEFT, RIGHT), f"lowest {_coins(lowest)}"
        at, anchor = _beside(x, [words], left_first=ask is None or lowest <= ask)
        lowest_mark = Mark(tenths(x), words, tenths(at), anchor)
        spoken.append(f"lowest ask {_coins(lowest)}")
    if ask is not None:
        x, words = place(ask, low, high, LEFT, RIGHT), f"ask {_coins(ask)}"
        at, anchor = _beside(x, [words + "   ", *earns.split(", ")], left_first=lowest is not None and lowest > ask)
        ask_mark = Mark(tenths(x), words, tenths(at), anchor)
        spoken.append(f"asking {_coins(ask)}")
    if like_low is not None and like_high is not None:
        left, right = (place(at, low, high, LEFT, RIGHT) for at in (like_low, like_high))
        box = {"box_x": tenths(left), "box_width": tenths(max(right - left, 20))}
        if like_mid is not None:
            box["box_mid"] = tenths(place(like_mid, low, high, LEFT, RIGHT))
        words = f"{in_words(like_count)} like it"
        lines = [place(at, low, high, LEFT, RIGHT) for at in (lowest, ask) if at is not None]
        like_mark, like_above = _beside_box(words, left, right, lines)
        spoken.append(f"{words} sold between {_coins(like_low)} and {_coins(like_high)}")
    sentence = ", ".join(spoken)
    return PriceRule(
        ticks, sentence[:1].upper() + sentence[1:], lowest_mark, ask_mark, earns, **box, like=like_mark,
        like_above=like_above,
    )  # fmt: skip


def _beside_box(words: str, left: int, right: int, lines: Sequence[int]) -> tuple[Mark, bool]:
    """Where the words of the box stand: right of it, else left, where no line runs through them, else beneath."""
    wide = len(words) * _LETTER * 10
    for at, anchor, start in ((right + 100, "start", right + 100), (left - 100, "end", left - 100 - wide)):
        free = not any(start - 40 <= line <= start + wide + 40 for line in lines)
        if free and start >= 0 and start + wide <= WIDTH * 10:
            return Mark("", words, tenths(at), anchor), False
    return Mark("", words, tenths(max(right, wide)), "end"), True


@dataclass(frozen=True)
class Dot:
    x: str
    y: str
    at: datetime
    shown: str


@dataclass(frozen=True)
class Curve:
    dots: list[Dot]
    path: str
    across: list[Mark]
    up: list[Mark]
    spoken: str
    words: str = ""
    band_y: str = ""
    band_height: str = ""
    expected: Mark | None = None
    few: bool = field(default=True)
    fit: str = ""
    spread: str = ""
    ready_x: str = ""
    ready_end: str = ""


CURVE_TOP, CURVE_FOOT, CURVE_LEFT, CURVE_RIGHT = 20, 200, 64, 440


def _elapsed(hours: int, by_days: bool) -> str:
    return f"{hours // 24}" if by_days else f"{hours}"


def curve(
    points: Sequence[tuple[datetime, int]],
    *,
    dimension: str = "mass",
    expected: int | None = None,
    low: int | None = None,
    high: int | None = None,
    words: str = "",
    course: Sequence[tuple[datetime, int, int, int]] = (),
    ready: tuple[datetime, datetime] | None = None,
    expected_words: str = "",
) -> Curve | None:
    """Lay out readings over time. `expected` with `low` and `high` is where it will settle,
    in the same stored unit. `course` is the curve through them and ahead, each with its middle, low and high;
    `ready` the stretch of time in which it comes to `expected`. Fewer than two readings make no curve: None.
    """
    if len(points) < 2:
        return None
    points = sorted(points, key=lambda point: point[0])
    first, last = points[0], points[-1]
    seconds = max(int((max([last[0], *(at for at, *_ in course)]) - first[0]).total_seconds()), 60)
    levels = [value for _, value in points] + [value for value in (expected, low, high) if value is not None]
    levels += [value for _, *band in course for value in band]
    step = nice_step(max(max(levels) - min(levels), 1), at_most=4)
    foot, top = min(levels) // step * step, -(-max(levels) // step) * step
    top = top if top > foot else foot + step

    def x(at: datetime) -> str:
        return tenths(place(int((at - first[0]).total_seconds()), 0, seconds, CURVE_LEFT, CURVE_RIGHT))

    def y(value: int) -> int:
        return place(value, foot, top, CURVE_FOOT, CURVE_TOP)

    dots = [Dot(x(at), tenths(y(value)), at, quantity.show(value, dimension)) for at, value in points]
    hours = next((step for step in _TIME_STEPS if seconds // (step * _HOUR) <= 6), _TIME_STEPS[-1])
    by_days = hours >= 24
    across = [
        Mark(tenths(place(at, 0, seconds, CURVE_LEFT, CURVE_RIGHT)), _elapsed(at // _HOUR, by_days))
        for at in range(0, seconds + 1, hours * _HOUR)
    ]
    up = [Mark(tenths(y(at)), quantity.show(at, dimension, with_unit=False)) for at in range(foot, top + 1, step)]
    band = {}
    if low is not None and high is not None:
        band = {"band_y": tenths(y(high)), "band_height": tenths(max(y(low) - y(high), 20))}
    settle = None
    if expected is not None:
        settle = Mark(tenths(y(expected)), expected_words or f"about {quantity.show(expected, dimension)}")
    more: dict[str, str] = {}
    if course:
        more["fit"] = _path([(x(at), tenths(y(middle))) for at, middle, _, _ in course])
        over = [(x(at), tenths(y(top_of))) for at, _, _, top_of in course]
        under = [(x(at), tenths(y(bottom))) for at, _, bottom, _ in reversed(course)]
        more["spread"] = _path([*over, *under]) + "Z"
    if ready is not None:
        ends = [min(max(at, first[0]), first[0] + timedelta(seconds=seconds)) for at in ready]
        more["ready_x"], more["ready_end"] = x(ends[0]), x(ends[1])
    span = quantity.show(seconds, "duration")
    spoken = f"{len(points)} readings, from {dots[0].shown} to {dots[-1].shown} over {span}"
    return Curve(
        dots, _path([(dot.x, dot.y) for dot in dots]), across, up, spoken,
        words or ("days" if by_days else "hours"), **band, expected=settle, few=len(dots) <= 40, **more,
    )  # fmt: skip


def _path(points: Sequence[tuple[str, str]]) -> str:
    return "M" + "L".join(f"{x} {y}" for x, y in points)
