"""The provenance card, A6 and card size: quiet enough to lie beside the piece."""

from collections.abc import Sequence
from dataclasses import dataclass

from . import qr
from .facts import CardFacts
from .fonts import BOLD, EXTRABOLD
from .pen import Pen
from .shapes import number_tag, rule, signing_line
from .text import KEPT_TO_THE_LAST, Block, Span
from .words import joined, sentence, sentences, wood_name, wood_spans


@dataclass(frozen=True)
class Measures:
    """Sizes of one kind of card: millimetres for places, points for type."""

    name: str
    width: float
    height: float
    margin: float
    tag: float
    title: float
    title_floor: float
    body: float
    body_floor: float
    small: float
    tick: float
    code: float
    code_most: float
    signing: float
    care_most: float
    gap: float
    second_column: float | None
    picture: tuple[float, float] | None


# ISO 216: A6 is 105 × 148 mm, here lying. ISO/IEC 7810: ID-1 is 85.60 × 53.98 mm.
A6 = Measures(
    name="A6",
    width=148.0,
    height=105.0,
    margin=9.0,
    tag=8.0,
    title=24.0,
    title_floor=10.0,
    body=9.8,
    body_floor=6.0,
    small=8.4,
    tick=1.8,
    code=25.0,
    code_most=34.0,
    signing=11.0,
    care_most=17.0,
    gap=3.0,
    second_column=80.0,
    picture=(50.0, 38.0),
)
ID1 = Measures(
    name="ID-1",
    width=85.60,
    height=53.98,
    margin=4.2,
    tag=4.9,
    title=12.6,
    title_floor=6.4,
    body=6.9,
    body_floor=5.0,
    small=6.6,
    tick=0.9,
    code=18.5,
    code_most=27.0,
    signing=6.0,
    care_most=0.0,
    gap=1.1,
    second_column=None,
    picture=None,
)
SIZES = {"a6": A6, "id1": ID1}


def draw(pen: Pen, facts: CardFacts, size: Measures) -> None:
    """Draws one card; the pen has been started on it.

    Raises AddressTooLong where the public address makes a code too fine for this size.
    """
    left, right, bottom = size.margin, size.width - size.margin, size.height - size.margin
    text_right, code_top = right, bottom
    if facts.public_url:
        side = qr.side_mm(facts.public_url, size.code, size.code_most)
        # The quiet zone is bare paper and reaches into the margin: the dark modules stand on its edge.
        quiet = side / qr.code(facts.public_url).side * qr.QUIET_MODULES
        text_right, code_top = right - side + quiet, bottom - side + quiet
        pen.code(facts.public_url, text_right, code_top, side)
    head = _head(pen, facts, size, code_top - size.tick * 2)
    signing_top = bottom - size.signing
    if size.second_column is None:
        rule(pen, left, right, head, columns=(left,), tick=size.tick)
        top = head + size.tick * 2
        blocks = [*_first(facts, size), *_second(facts, size), *_care(facts, size)]
        pen.lines(pen.fit(blocks, text_right - left, signing_top - top), left, top)
    else:
        care = pen.fit(_care(facts, size), text_right - left, size.care_most)
        care_top = signing_top - care.height
        _two_columns(pen, facts, size, head, min(care_top - size.gap, code_top))
        pen.lines(care, left, care_top)
    _signature(pen, facts.maker, size, left, text_right, right)


def _head(pen: Pen, facts: CardFacts, size: Measures, lowest: float) -> float:
    """Tag, studio, title and form, with the picture beside them; returns where the rule lies, at most `lowest`."""
    left, top, right = size.margin, size.margin, size.width - size.margin
    wide = right - left
    with_picture = facts.picture_path is not None and size.picture is not None
    if facts.picture_path is not None and size.picture is not None:
        wide -= pen.picture(facts.picture_path, right, top, *size.picture) + 5.0
    tag = number_tag(pen, facts.signed_number, left, top, size.tag, most=wide * 0.55)
    bench = f"bench number {facts.working_number}" if facts.working_number and size is A6 else ""
    beside = joined(facts.studio_name, bench, by=" · ")
    laid = pen.fit([Block("studio", (Span(beside, quiet=True),), size.small + 0.6, 5.0)], wide - tag - 4.0, size.tag)
    if laid.lines:
        indent = tag + 3.0 if with_picture else wide - laid.width
        pen.lines(laid, left + indent, top + (size.tag - laid.height) / 2)
    under_tag = top + size.tag * 1.4
    form = joined(facts.form, facts.year)
    blocks = [
        Block("title", (Span(facts.title, EXTRABOLD),), size.title, size.title_floor, leading=1.1, keep=8),
        Block("form", (Span(form),), size.body * 1.15, size.body_floor, gap=0.5, keep=7),
    ]
    room = min((size.height - 2 * top) * 0.31, lowest - size.gap - under_tag)
    laid = pen.fit(blocks, wide, room)
    pen.lines(laid, left, under_tag)
    end = under_tag + laid.height + size.gap
    if with_picture and size.picture is not None:
        end = max(end, top + size.picture[1] + size.gap)
    return end


def _first(facts: CardFacts, size: Measures) -> list[Block]:
    """What it is made of, in the order it came to the bench."""
    gap = size.body * 0.35
    blocks = [
        Block(wood_name(number), wood_spans(wood), size.body, size.body_floor, gap, keep=6)
        for number, wood in enumerate(facts.woods, start=1)
    ]
    blocks.append(Block("resin", (Span(sentence(facts.resin_words)),), size.body, size.body_floor, gap, keep=5))
    return blocks


def _second(facts: CardFacts, size: Measures) -> list[Block]:
    """What it measures and how it was finished; on the small card in one paragraph, to spare a line."""
    gap = size.body * 0.35
    measures = sentence(joined(facts.size_words, facts.weight_words))
    finish = sentence(facts.finish)
    texts = [("size and weight", measures, 4), ("finish", finish, 3), ("note", sentence(facts.note), 1)]
    if size.second_column is None:
        texts[:2] = [("size, weight and finish", joined(measures, finish, by=" "), 4)]
    return [Block(name, (Span(text),), size.body, size.body_floor, gap, keep=keep) for name, text, keep in texts]


def _two_columns(pen: Pen, facts: CardFacts, size: Measures, head: float, bottom: float) -> None:
    left, right = size.margin, size.width - size.margin
    assert size.second_column is not None
    second = left + size.second_column
    top = head + size.tick * 2 + 1.0
    groups = [group for group in (_first(facts, size), _second(facts, size)) if _has_text(group)]
    starts: Sequence[float] = (left, second)[: len(groups)]
    rule(pen, left, right, head, columns=tuple(starts), tick=size.tick)
    ends = (second - 5.0, right) if len(groups) == 2 else (right,)
    boxes = [(group, ends[number] - starts[number]) for number, group in enumerate(groups)]
    step = min((pen.fit(group, width, bottom - top).step for group, width in boxes), default=1.0)
    for (group, width), start in zip(boxes, starts, strict=True):
        pen.lines(pen.fit(group, width, bottom - top, at_most=step), start, top)


def _has_text(blocks: Sequence[Block]) -> bool:
    return any(span.text.strip() for block in blocks for span in block.spans)


def _care(facts: CardFacts, size: Measures) -> list[Block]:
    """How to live with it, and what it must not be used for; a caution is the last thing ever left out."""
    gap = size.body * 0.35 if size.second_column is None else 1.0
    return [
        Block("care", (Span(sentences(*facts.care)),), size.small, 5.0, gap, keep=2),
        Block(
            "cautions",
            (Span(sentences(*facts.cautions), BOLD),),
            size.small,
            5.0,
            gap * 0.5,
            keep=KEPT_TO_THE_LAST,
        ),
    ]


def _signature(pen: Pen, maker: str, size: Measures, left: float, text_right: float, right: float) -> None:
    """The maker's name with a line to sign on beside it."""
    bottom = size.height - size.margin
    block = Block("maker", (Span(maker),), size.body, 5.0, keep=KEPT_TO_THE_LAST)
    laid = pen.fit([block], (text_right - left) * 0.55, size.signing * 0.8)
    begin = left
    if laid.lines:
        pen.lines(laid, left, bottom - laid.lines[-1].baseline - 0.4)
        begin += laid.width + size.gap
    signing_line(pen, begin, right if text_right == right else text_right - size.gap, bottom - 0.4)
