"""The mix sheet: one page that stands beside the scale, with what to weigh and room to write what was weighed."""

from dataclasses import dataclass
from io import BytesIO

from . import document, impose
from .facts import Printed, Recorder, texts_of
from .fonts import BOLD, BUILDING, EXTRABOLD, REGULAR
from .pen import HAIR, Pen
from .shapes import number_tag, rule
from .text import KEPT_TO_THE_LAST, Block, Span, Typesetter, clean

MARGIN = 15.0
STEP_HIGH, FILL_HIGH = 15.5, 9.5
TAGS_SHOWN, FILLS_SHOWN = 7, 8


@dataclass(frozen=True)
class MixStep:
    """One thing to do at the scale. `target` is what it shall show, in grams, without a unit or a comma."""

    words: str
    target: str
    written: str = "it showed"


@dataclass(frozen=True)
class MixFill:
    """One mould: what it is called, what lies in it, its share of the mix."""

    mould: str
    holds: str
    share: str


@dataclass(frozen=True)
class MixSheetFacts:
    """`elsewhere` pairs what the scale may show after Part A with what it shall show in the end."""

    studio_name: str
    resin: str
    ratio: str
    made_on: str
    numbers: tuple[str, ...]
    steps: tuple[MixStep, ...]
    elsewhere: tuple[tuple[str, str], ...]
    fills: tuple[MixFill, ...]
    times: tuple[str, ...]
    looks: tuple[str, ...]
    cautions: tuple[str, ...]


def print_mix_sheet(
    facts: MixSheetFacts, *, paper: str = "a4", lang: str = "en", recorder: Recorder | None = None
) -> Printed:
    """The sheet as a PDF of one page, `paper` "a4" or "letter". The same facts give the same bytes."""
    size = impose.PAPERS[paper]
    out = BytesIO()
    with BUILDING:
        setter = Typesetter(texts_of(facts))
        try:
            title = f"Mix sheet, {facts.resin}, {', '.join(facts.numbers)}".strip(" ,")
            canvas = document.begin(out, size, title=title, author=facts.studio_name, lang=lang)
            pen = Pen(canvas, setter, recorder)
            pen.start(owner=0, page=0, width=size[0], height=size[1], label="mix sheet")
            draw(pen, facts)
            canvas.showPage()
            canvas.save()
        finally:
            setter.fallbacks.close()
    return Printed(out.getvalue(), 1, setter.missing, tuple(pen.elided))


def draw(pen: Pen, facts: MixSheetFacts) -> None:
    """Draws the page; the pen has been started on it."""
    left, right = MARGIN, pen.width - MARGIN
    top = _head(pen, facts, left, right)
    for step in facts.steps:
        top = _step(pen, step, left, right, top)
    top = _elsewhere(pen, facts.elsewhere, left, right, top + 4.0)
    top = _fills(pen, facts.fills, left, right, top + 5.0)
    top = _times(pen, facts.times, left, right, top + 6.0)
    top = _looks(pen, facts.looks, left, right, top + 5.0)
    blocks = [Block(f"caution {n}", (Span(words),), 9.0, 6.0, 1.2, keep=5) for n, words in enumerate(facts.cautions)]
    pen.line(left, top + 4.0, right, top + 4.0, weight=0.35)
    pen.lines(pen.fit(blocks, right - left, pen.height - MARGIN + 3.0 - top - 6.0), left, top + 6.0)


def _one(
    pen: Pen, name: str, text: str, left: float, top: float, width: float, *, size: float, kind: str = REGULAR
) -> None:
    """Sets one short text into a line of its own."""
    block = Block(name, (Span(text, kind),), size, size * 0.5, leading=1.1, keep=KEPT_TO_THE_LAST)
    pen.lines(pen.fit([block], width, size * 0.52), left, top)


def _head(pen: Pen, facts: MixSheetFacts, left: float, right: float) -> float:
    top = MARGIN
    _one(pen, "heading", "Mix sheet", left, top - 3.0, 60.0, size=22.0, kind=EXTRABOLD)
    made = Block("made on", (Span(facts.made_on, quiet=True),), 9.0, 6.0)
    studio = Block("studio", (Span(facts.studio_name, quiet=True),), 9.0, 5.0)
    laid = pen.fit([studio, made], right - left - 70.0, 10.0)
    pen.lines(laid, right - laid.width, top - 2.0)
    _one(pen, "resin", facts.resin, left, top + 8.0, right - left, size=14.0, kind=BOLD)
    _one(pen, "ratio", facts.ratio, left, top + 15.0, right - left, size=10.5)
    at, shown = left, 0
    for number in facts.numbers[:TAGS_SHOWN]:
        width = number_tag(pen, number, at, top + 22.0, 7.0, most=min(44.0, right - at))
        if not width:
            break
        at, shown = at + width + 2.5, shown + 1
        if at > right - 30.0:
            break
    if shown < len(facts.numbers):
        _one(pen, "more", f"and {len(facts.numbers) - shown} more", at, top + 23.0, right - at, size=10.0)
    rule(pen, left, right, top + 33.0, columns=())
    return top + 37.0


def _step(pen: Pen, step: MixStep, left: float, right: float, top: float) -> float:
    """A box to tick, what to do, the figure to reach, and a line for what the scale showed."""
    middle = top + STEP_HIGH / 2
    _square(pen, left, middle - 3.0, 6.0)
    words = Block("step", (Span(step.words),), 12.0, 8.0, leading=1.15, keep=KEPT_TO_THE_LAST)
    laid = pen.fit([words], right - left - 108.0, STEP_HIGH - 2.0)
    pen.lines(laid, left + 10.0, middle - (laid.lines[-1].baseline if laid.lines else 0.0) / 2 - 0.6)
    if step.target:
        figure = Block("target", (Span(step.target, EXTRABOLD),), 30.0, 16.0, leading=1.05, keep=KEPT_TO_THE_LAST)
        laid = pen.fit([figure], 44.0, 12.5)
        pen.lines(laid, right - 50.0 - laid.width, top + 1.2)
        _one(pen, "unit", "g", right - 48.5, top + 5.9, 6.0, size=11.0)
    if step.written:
        _write_in(pen, step.written, right - 40.0, right, top + STEP_HIGH - 4.6)
    pen.line(left, top + STEP_HIGH, right, top + STEP_HIGH, weight=0.2, colour=HAIR)
    return top + STEP_HIGH


def _elsewhere(pen: Pen, pairs: tuple[tuple[str, str], ...], left: float, right: float, top: float) -> float:
    """What to go on to where Part A stopped on another figure, without a computer at hand."""
    if not pairs:
        return top - 4.0
    _one(pen, "if A", "If Part A stops at", left, top, 38.0, size=9.5)
    _one(pen, "then B", "go on with B until", left, top + 6.0, 38.0, size=9.5)
    wide = (right - left - 40.0) / len(pairs)
    for place, (shown, until) in enumerate(pairs):
        at = left + 40.0 + place * wide
        _one(pen, "A shows", shown, at, top - 0.3, wide - 2.0, size=10.5)
        _one(pen, "B until", until, at, top + 5.7, wide - 2.0, size=10.5, kind=BOLD)
    pen.line(left, top + 5.4, right, top + 5.4, weight=0.2, colour=HAIR)
    return top + 11.0


def _fills(pen: Pen, fills: tuple[MixFill, ...], left: float, right: float, top: float) -> float:
    shown = fills[:FILLS_SHOWN]
    for fill in shown:
        _one(pen, "mould", fill.mould, left, top + 1.0, 58.0, size=10.5, kind=BOLD)
        _one(pen, "holds", fill.holds, left + 60.0, top + 1.0, 40.0, size=10.0)
        _one(pen, "share", fill.share, left + 103.0, top + 1.0, 30.0, size=10.5)
        _write_in(pen, "poured", right - 40.0, right, top + FILL_HIGH - 4.0)
        top += FILL_HIGH
    if len(fills) > len(shown):
        _one(pen, "more moulds", f"and {len(fills) - len(shown)} more", left, top + 1.0, 60.0, size=10.0)
        top += 6.0
    return top


def _times(pen: Pen, labels: tuple[str, ...], left: float, right: float, top: float) -> float:
    """Lines for the times and the gauge, three beside each other."""
    wide = (right - left - 8.0) / 3
    for place, label in enumerate(labels):
        at = left + place % 3 * (wide + 4.0)
        _write_in(pen, label, at, at + wide, top + 8.0 + place // 3 * 12.0)
    return top + 8.0 + (len(labels) + 2) // 3 * 12.0 - 7.0


def _looks(pen: Pen, words: tuple[str, ...], left: float, right: float, top: float) -> float:
    """How it came out, a box each."""
    wide = (right - left) / len(words)
    for place, word in enumerate(words):
        at = left + place * wide
        _square(pen, at, top, 4.5)
        _one(pen, "looks", word, at + 6.0, top - 0.1, wide - 7.0, size=10.0)
    return top + 5.0


def _write_in(pen: Pen, label: str, left: float, right: float, y: float) -> None:
    """A line to write on, and under it what belongs there."""
    pen.line(left, y, right, y, weight=0.25)
    block = Block("write-in", (Span(clean(label), quiet=True),), 7.5, 5.0, keep=KEPT_TO_THE_LAST)
    pen.lines(pen.fit([block], right - left, 4.0), left, y + 0.6)


def _square(pen: Pen, left: float, top: float, side: float) -> None:
    for x1, y1, x2, y2 in ((0, 0, 1, 0), (1, 0, 1, 1), (1, 1, 0, 1), (0, 1, 0, 0)):
        pen.line(left + x1 * side, top + y1 * side, left + x2 * side, top + y2 * side, weight=0.35)
    pen.note("box", left, top, left + side, top + side)
