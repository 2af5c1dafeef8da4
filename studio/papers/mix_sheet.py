"""The mix sheet: one page that stands beside the scale, with what to weigh and room to write what was weighed."""

from dataclasses import dataclass
from io import BytesIO

from . import document, impose, qr
from .facts import Printed, Recorder, texts_of
from .fonts import BOLD, BUILDING, EXTRABOLD, REGULAR
from .pen import HAIR, Pen
from .shapes import number_tag, rule
from .text import KEPT_TO_THE_LAST, Block, Span, Typesetter, clean

MARGIN = 15.0
STEP_HIGH, FILL_HIGH = 15.5, 9.5
TAGS_SHOWN, FILLS_SHOWN = 7, 8
# A row of a cup as high as fits, between these; how few rows stay where the page is full.
CUP_HIGH, CUP_LOW, FILL_LOW, CUPS_LEAST, FILLS_LEAST = 15.0, 10.0, 8.0, 2, 2
# A digit of the heavy face, in millimetres for each point of its size.
DIGIT_WIDE = 0.21
HEADINGS_HIGH, SWIRL_HIGH = 9.0, 10.0
CAUTIONS_HIGH, CODE_LEAST, CODE_MOST = 26.0, 24.0, 42.0


@dataclass(frozen=True)
class MixStep:
    """One thing to do at the scale. `target` is what it shall show, in grams, without a unit or a comma."""

    words: str
    target: str
    written: str = "it showed"


@dataclass(frozen=True)
class MixCup:
    """One of several cups, mixed one after the other: what the scale shall show after A and after B, and what of the
    colour is weighed by itself."""

    a: str
    colour: str
    b: str


@dataclass(frozen=True)
class MixSwirl:
    """A cup taken out of the mix: its grams, each colour with its own, and where it all goes ("": everywhere)."""

    taken: str
    colours: tuple[tuple[str, str], ...]
    into: str = ""


@dataclass(frozen=True)
class MixFill:
    """One mould: what it is called, what lies in it, its share of the mix."""

    mould: str
    holds: str
    share: str


@dataclass(frozen=True)
class MixSheetFacts:
    """`elsewhere` pairs what the scale may show after Part A with what it shall show in the end.

    With several `cups` the `steps` are only what comes before the first; `colour` heads their column. `otherwise`
    says in words what `elsewhere` can't. `window` is when the `swirls` go in, `address` where it is typed in later.
    """

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
    cups: tuple[MixCup, ...] = ()
    colour: str = ""
    otherwise: str = ""
    swirls: tuple[MixSwirl, ...] = ()
    window: str = ""
    address: str = ""


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
    rows = _rows(facts, pen.height - MARGIN + 3.0 - top)
    top = _cups(pen, facts, rows, left, right, top)
    top = _elsewhere(pen, facts.elsewhere, left, right, top + 4.0)
    if facts.otherwise:
        _one(pen, "otherwise", facts.otherwise, left, top + 2.0, right - left, size=9.5)
        top += 8.0
    top = _swirls(pen, facts, left, right, top + 2.0)
    top = _fills(pen, facts.fills, rows, left, right, top + 5.0)
    top = _times(pen, facts.times, left, right, top + 6.0)
    top = _looks(pen, facts.looks, left, right, top + 5.0)
    pen.line(left, top + 4.0, right, top + 4.0, weight=0.35)
    wide = right - left - _code(pen, facts.address, right, top + 6.0, pen.height - MARGIN + 6.0)
    blocks = [Block(f"caution {n}", (Span(words),), 9.0, 6.0, 1.2, keep=5) for n, words in enumerate(facts.cautions)]
    pen.lines(pen.fit(blocks, wide, pen.height - MARGIN + 3.0 - top - 6.0), left, top + 6.0)


@dataclass(frozen=True)
class Rows:
    """How high a row is and how many are shown, so that one page holds them."""

    cup_high: float
    cups: int
    fill_high: float
    fills: int


def _rows(facts: MixSheetFacts, room: float) -> Rows:
    """Rows get lower first; then moulds, at last cups are counted instead of shown."""
    cups, fills = len(facts.cups), min(len(facts.fills), FILLS_SHOWN)
    room -= HEADINGS_HIGH if cups else 0.0
    room -= 4.0 + 11.0 if facts.elsewhere else 0.0
    room -= 8.0 if facts.otherwise else 0.0
    room -= 2.0 + len(facts.swirls) * SWIRL_HIGH + (6.0 if facts.window else 0.0)
    room -= 5.0 + 6.0 + 1.0 + (len(facts.times) + 2) // 3 * 12.0 + 10.0 + CAUTIONS_HIGH
    room -= 6.0 if len(facts.fills) > fills else 0.0
    if cups * CUP_HIGH + fills * FILL_HIGH <= room:
        return Rows(CUP_HIGH, cups, FILL_HIGH, fills)
    if cups * CUP_LOW + fills * FILL_LOW > room:
        room -= 6.0 if len(facts.fills) == fills else 0.0
        fills = max(min(fills, FILLS_LEAST), min(fills, int((room - cups * CUP_LOW) / FILL_LOW)))
    if cups * CUP_LOW + fills * FILL_LOW > room:
        cups = max(CUPS_LEAST, int((room - 6.0 - fills * FILL_LOW) / CUP_LOW))
    cup_high = min(CUP_HIGH, (room - fills * FILL_LOW) / cups) if cups else CUP_HIGH
    return Rows(max(CUP_LOW, cup_high), cups, FILL_LOW, fills)


def _code(pen: Pen, address: str, right: float, top: float, bottom: float) -> float:
    """The code that leads to where the sheet is typed in, where there is room for it; returns the width it took."""
    most = min(CODE_MOST, bottom - top)
    if not address or most < CODE_LEAST:
        return 0.0
    try:
        side = qr.side_mm(address, CODE_LEAST, most)
    except qr.AddressTooLong:
        return 0.0
    pen.code(address, right - side, top, side)
    words = Block("code", (Span("Type it in later"),), 7.5, 5.0, leading=1.1, keep=KEPT_TO_THE_LAST)
    laid = pen.fit([words], 18.0, 8.0)
    pen.lines(laid, right - side - laid.width, top + 4.0)
    return side + laid.width + 4.0


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


def _cups(pen: Pen, facts: MixSheetFacts, rows: Rows, left: float, right: float, top: float) -> float:
    """Several cups as rows: tick, figure, line to write on, for A, for the colour and for B."""
    if not facts.cups:
        return top
    coloured = any(cup.colour for cup in facts.cups)
    a, colour, b = left + 26.0, left + 82.0, left + (128.0 if coloured else 96.0)
    heads = [(a, "Part A until the scale shows", 50.0), (b, "then Part B until it shows", right - b)]
    if coloured:
        heads.append((colour, facts.colour, b - colour - 4.0))
    for at, words, wide in heads:
        block = Block("column", (Span(words),), 9.5, 6.0, leading=1.1, keep=KEPT_TO_THE_LAST)
        pen.lines(pen.fit([block], wide, HEADINGS_HIGH - 1.5), at, top + 1.0)
    top += HEADINGS_HIGH
    for number, cup in enumerate(facts.cups[: rows.cups], start=1):
        high = rows.cup_high
        _square(pen, left, top + high / 2 - 2.6, 5.2)
        _one(pen, "cup", f"Cup {number}", left + 8.0, top + high / 2 - 2.4, 17.0, size=11.0, kind=BOLD)
        _figure(pen, cup.a, a, top, high, 28.0, "it showed", colour - 4.0 if coloured else b - 8.0)
        if cup.colour:
            _figure(pen, cup.colour, colour, top, high, 18.0, "it weighed", b - 4.0)
        _figure(pen, cup.b, b, top, high, 28.0, "it showed", right)
        top += high
        pen.line(left, top, right, top, weight=0.2, colour=HAIR)
    if len(facts.cups) > rows.cups:
        more = f"and {len(facts.cups) - rows.cups} more cups: their figures stand on the screen"
        _one(pen, "more cups", more, left, top + 1.0, right - left, size=10.0)
        top += 6.0
    return top


def _figure(
    pen: Pen, figure: str, left: float, top: float, high: float, wide: float, written: str, right: float
) -> None:
    """A figure to reach and, after it, a line for what the scale showed."""
    size = min(20.0, high * 1.6, (wide - 5.0) / (DIGIT_WIDE * max(1, len(figure))))
    block = Block("target", (Span(figure, EXTRABOLD),), size, min(size, 9.0), leading=1.05, keep=KEPT_TO_THE_LAST)
    laid = pen.fit([block], wide - 5.0, high - 1.5)
    pen.lines(laid, left, top + (high - laid.height) / 2)
    _one(pen, "unit", "g", left + laid.width + 1.0, top + high / 2 - 1.2, 4.0, size=9.0)
    _write_in(pen, written, left + wide, right, top + high - 4.4)


def _swirls(pen: Pen, facts: MixSheetFacts, left: float, right: float, top: float) -> float:
    """Cups for swirls: what is taken of the mix, what of each colour, and when they go in."""
    for number, cup in enumerate(facts.swirls, start=1):
        blocks = [Block("swirl", (Span(f"Swirl cup {number}: {cup.taken} g of the mix", BOLD),), 10.5, 7.0)]
        blocks += [Block("into", (Span(f"all of it into {cup.into}"),), 8.5, 6.0)] if cup.into else []
        pen.lines(pen.fit(blocks, 52.0, SWIRL_HIGH - 1.0), left, top + 0.6)
        _write_in(pen, "taken", left + 54.0, left + 72.0, top + SWIRL_HIGH - 4.4)
        wide = (right - left - 76.0) / 2
        for place, (name, mass) in enumerate(cup.colours[:2]):
            at = left + 76.0 + place * wide
            _one(pen, "swirl colour", f"{name} {mass} g", at, top + 1.0, wide - 20.0, size=10.0)
            _write_in(pen, "it weighed", at + wide - 18.0, at + wide - 2.0, top + SWIRL_HIGH - 4.4)
        top += SWIRL_HIGH
    if facts.window:
        _one(pen, "window", facts.window, left, top + 1.0, right - left, size=10.0)
        top += 6.0
    return top


def _fills(pen: Pen, fills: tuple[MixFill, ...], rows: Rows, left: float, right: float, top: float) -> float:
    shown = fills[: rows.fills]
    for fill in shown:
        _one(pen, "mould", fill.mould, left, top + 1.0, 58.0, size=10.5, kind=BOLD)
        _one(pen, "holds", fill.holds, left + 60.0, top + 1.0, 40.0, size=10.0)
        _one(pen, "share", fill.share, left + 103.0, top + 1.0, 30.0, size=10.5)
        _write_in(pen, "poured", right - 40.0, right, top + rows.fill_high - 4.0)
        top += rows.fill_high
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
