"""What every paper shares with the screens: the tie-on tag, the graduated rule, the line to sign on."""

from .fonts import EXTRABOLD
from .pen import HAIR, Pen
from .text import KEPT_TO_THE_LAST, MM_PER_POINT, Block, Span


def number_tag(pen: Pen, number: str, left: float, top: float, height: float, *, most: float) -> float:
    """The signed number in its tag, no wider than `most`; returns its width, 0 where there is no number."""
    size = height * 0.62 / MM_PER_POINT
    hole = height * 0.15
    before, after = height * 0.78, height * 0.34
    block = Block("signed number", (Span(number, EXTRABOLD),), size, size * 0.5, leading=1.08, keep=KEPT_TO_THE_LAST)
    laid = pen.fit([block], most - before - after, height * 0.62 * 1.2)
    if not laid.lines:
        return 0.0
    width = before + after + laid.width
    pen.outline(left, top, width, height, radius=height / 2, weight=0.35)
    pen.circle(left + height * 0.45, top + height / 2, hole, weight=0.35)
    # Figures have no descenders: they are centred by the height of capitals (0.64 of the size).
    cap = laid.lines[0].size * MM_PER_POINT * 0.641
    block_height = laid.lines[-1].baseline - laid.lines[0].baseline + cap
    pen.lines(laid, left + before, top + (height - block_height) / 2 - laid.lines[0].baseline + cap)
    return width


def rule(pen: Pen, left: float, right: float, top: float, *, columns: tuple[float, ...], tick: float = 2.0) -> None:
    """The graduated rule: a heavy line ticked in true centimetres, longer strokes where a column begins.

    A card printed at another size than its own is seen at once: its centimetres are wrong.
    """
    pen.line(left, top, right, top, weight=0.6)
    at = left
    while at <= right + 0.001:
        pen.line(at, top, at, top + tick, weight=0.18)
        at += 10.0
    for column in columns:
        pen.line(column, top, column, top + tick * 2, weight=0.35)
    pen.note("rule", left, top - 0.3, right, top + tick)


def signing_line(pen: Pen, left: float, right: float, y: float) -> None:
    """Room to sign: a hairline."""
    pen.line(left, y, right, y, weight=0.2, colour=HAIR)
    pen.note("signing line", left, y - 0.1, right, y + 0.1)
