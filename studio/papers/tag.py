"""The hang tag: the tie-on tag of the screens, grown to be tied to the piece."""

from . import qr
from .facts import TagFacts
from .fonts import BOLD, EXTRABOLD
from .pen import HAIR, Pen
from .shapes import rule
from .text import KEPT_TO_THE_LAST, Block, Span
from .words import joined, sentences, wood_name, wood_spans

WIDTH, HEIGHT = 92.0, 40.0
MARGIN = 4.5
HOLE_X, HOLE_RADIUS = 9.5, 2.2
TEXT_LEFT = 18.0
CODE, CODE_MOST = 19.0, 22.0


def draw(pen: Pen, facts: TagFacts) -> None:
    """Draws one tag; the pen has been started on it.

    Raises AddressTooLong where the public address makes a code too fine for a tag.
    """
    right, bottom = WIDTH - MARGIN, HEIGHT - MARGIN
    text_right = right
    if facts.public_url:
        side = qr.side_mm(facts.public_url, CODE, CODE_MOST)
        quiet = side / qr.code(facts.public_url).side * qr.QUIET_MODULES
        text_right = right - side + quiet
        pen.code(facts.public_url, text_right, bottom - side + quiet, side)
    _shape(pen)
    number = Block(
        "signed number",
        (Span(facts.signed_number, EXTRABOLD),),
        21.0,
        8.0,
        leading=1.08,
        keep=KEPT_TO_THE_LAST,
    )
    laid = pen.fit([number], 30.0, 8.2)
    pen.lines(laid, TEXT_LEFT, MARGIN - 1.2)
    begin = TEXT_LEFT + (laid.width + 3.0 if laid.lines else 0.0)
    studio = Block("studio", (Span(facts.studio_name, quiet=True),), 8.0, 5.0)
    laid = pen.fit([studio], right - begin, 7.5)
    if laid.lines:
        pen.lines(laid, right - laid.width, MARGIN + max(0.0, 5.6 - laid.lines[-1].baseline))
    top = MARGIN + 8.0
    rule(pen, TEXT_LEFT, right, top, columns=(), tick=1.1)
    pen.lines(pen.fit(_blocks(facts), text_right - TEXT_LEFT, bottom - top - 2.2), TEXT_LEFT, top + 2.0)


def _blocks(facts: TagFacts) -> list[Block]:
    blocks = [Block("title", (Span(facts.title, BOLD),), 11.5, 6.0, leading=1.1, keep=8)]
    blocks += [
        Block(wood_name(number), wood_spans(wood, where=False), 7.8, 5.0, 1.0, keep=6)
        for number, wood in enumerate(facts.woods, start=1)
    ]
    made = joined(facts.form, facts.size_words)
    blocks += [
        Block("form and size", (Span(made),), 7.8, 5.0, 1.0, keep=5),
        Block("maker", (Span(joined(facts.maker, facts.year)),), 7.8, 5.0, 1.0, keep=4),
        Block("price", (Span(facts.price_words, BOLD),), 10.0, 6.0, 1.5, keep=7),
        Block("cautions", (Span(sentences(*facts.cautions), BOLD),), 7.2, 5.0, 1.0, keep=KEPT_TO_THE_LAST),
    ]
    return blocks


def _shape(pen: Pen) -> None:
    """The outline to cut along and the place of the hole, with a cross to set the punch on."""
    pen.outline(0.0, 0.0, WIDTH, HEIGHT, radius=HEIGHT / 2, weight=0.12, colour=HAIR)
    y = HEIGHT / 2
    pen.circle(HOLE_X, y, HOLE_RADIUS, weight=0.35)
    pen.line(HOLE_X - 0.8, y, HOLE_X + 0.8, y, weight=0.12)
    pen.line(HOLE_X, y - 0.8, HOLE_X, y + 0.8, weight=0.12)
    pen.note("hole", HOLE_X - HOLE_RADIUS, y - HOLE_RADIUS, HOLE_X + HOLE_RADIUS, y + HOLE_RADIUS)
