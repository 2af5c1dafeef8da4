"""Measures, wraps, shrinks and, last of all, shortens text so that nothing overlaps and nothing is cut.

What a person typed is only ever drawn letter by letter: no markup in it means anything here. Widths are in
thousandths of the type size until a line is drawn; sizes are points, boxes millimetres.
"""

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from .facts import MissingGlyph
from .fallback import Fallbacks
from .fonts import BOLD, EXTRABOLD, ITALIC, REGULAR, Face, face

MM_PER_POINT = 25.4 / 72
ASCENT, DESCENT = 0.80, 0.28
ELLIPSIS = "…"
KEPT_TO_THE_LAST = 9
_STEPS = (1.0, 0.97, 0.94, 0.91, 0.88, 0.85, 0.82, 0.76, 0.70, 0.64, 0.58, 0.52, 0.46, 0.40)


@lru_cache(maxsize=4096)
def clean(text: str) -> str:
    """Text as it will be drawn: composed letters, single spaces, no control or direction marks."""
    if text.isascii() and text.isprintable():
        return re.sub(" +", " ", text)
    kept = []
    for char in unicodedata.normalize("NFC", text):
        category = unicodedata.category(char)
        if char == "\u00a0":
            kept.append(char)
        elif category[0] == "Z" or char in "\t\n\r\v\f\x85":
            kept.append(" ")
        elif category not in {"Cc", "Cf", "Cs"} and not 0xFE00 <= ord(char) <= 0xFE0F:
            kept.append(char)
    return re.sub(" +", " ", "".join(kept))


@dataclass(frozen=True)
class Span:
    """A stretch of one block in one face."""

    text: str
    kind: str = REGULAR
    quiet: bool = False


@dataclass(frozen=True)
class Block:
    """A paragraph. `keep` says which blocks hold out longest when room is short (the highest does)."""

    name: str
    spans: tuple[Span, ...]
    size: float
    floor: float
    gap: float = 0.0
    leading: float = 1.22
    keep: int = 0


@dataclass(frozen=True)
class Bit:
    """Letters of one face that stand together, with the kerning between them."""

    face: Face
    text: str
    width: float
    kerns: tuple[float, ...]
    quiet: bool


@dataclass(frozen=True)
class Word:
    """Bits that are not parted unless they are wider than the line."""

    bits: tuple[Bit, ...]
    width: float
    space: float


@dataclass(frozen=True)
class Line:
    """Bits with their distance from the left, and the width of the whole."""

    bits: tuple[tuple[float, Bit], ...]
    width: float

    @property
    def text(self) -> str:
        return "".join(bit.text for _, bit in self.bits)


@dataclass(frozen=True)
class SetLine:
    """A line with its place: `top` and `baseline` in millimetres from the top of the box."""

    line: Line
    size: float
    top: float
    baseline: float
    name: str

    @property
    def width_mm(self) -> float:
        return self.line.width * self.size / 1000 * MM_PER_POINT


@dataclass(frozen=True)
class Laid:
    """Blocks set into a box; `step` is how much smaller than wished the type became."""

    lines: tuple[SetLine, ...]
    height: float
    elided: tuple[str, ...]
    step: float = 1.0

    @property
    def width(self) -> float:
        """Width of the widest line, in millimetres."""
        return max((line.width_mm for line in self.lines), default=0.0)


class Typesetter:
    """Sets the text of one document; collects letters nobody can draw."""

    def __init__(self, texts: Iterable[str]) -> None:
        self.faces = {kind: face(kind) for kind in (REGULAR, ITALIC, BOLD, EXTRABOLD)}
        used = set().union(*(set(clean(text)) for text in texts))
        lacking = {char for char in used if not all(each.covers(char) for each in self.faces.values())}
        self.fallbacks = Fallbacks(sorted(lacking))
        self._missing: dict[str, MissingGlyph] = {}
        self._blocks: dict[tuple[Span, ...], list[Word]] = {}
        self._words: dict[tuple[str, str, bool], tuple[Bit, ...]] = {}

    @property
    def missing(self) -> tuple[MissingGlyph, ...]:
        """Every letter that was replaced by its code, in the order of the code points."""
        return tuple(self._missing[char] for char in sorted(self._missing))

    def bits(self, text: str, kind: str, quiet: bool) -> tuple[Bit, ...]:
        """Splits a word into stretches of one face; a letter no face has becomes its bracketed code."""
        key = (text, kind, quiet)
        if key not in self._words:
            own = self.faces[kind]
            runs: list[tuple[Face, str]] = []
            for char in text:
                where: Face | None = own if own.covers(char) else self.fallbacks.face(char, kind)
                drawn = char
                if where is None:
                    where, drawn = own, self._name_missing(char)
                if runs and runs[-1][0] is where:
                    runs[-1] = (where, runs[-1][1] + drawn)
                else:
                    runs.append((where, drawn))
            self._words[key] = tuple(measured(where, drawn, quiet) for where, drawn in runs)
        return self._words[key]

    def _name_missing(self, char: str) -> str:
        glyph = self._missing.get(char)
        if glyph is None:
            glyph = MissingGlyph(char, unicodedata.name(char, f"a letter without a name, U+{ord(char):04X}"))
            self._missing[char] = glyph
        return glyph.code

    def words(self, spans: tuple[Span, ...]) -> list[Word]:
        """Words of a block; spans that touch without a space stay one word, as a comma after a name does."""
        if spans not in self._blocks:
            self._blocks[spans] = self._set_words(spans)
        return self._blocks[spans]

    def _set_words(self, spans: tuple[Span, ...]) -> list[Word]:
        fragments: list[list[Bit]] = []
        spaces: list[float] = []
        pending = 0.0
        for span in spans:
            space = self.faces[span.kind].width(" ")
            for number, part in enumerate(clean(span.text).split(" ")):
                if number:
                    pending = space
                for piece in _breakable(part):
                    bits = self.bits(piece, span.kind, span.quiet)
                    if pending or not fragments or _wide(piece[0]):
                        fragments.append(list(bits))
                        spaces.append(pending)
                    else:
                        fragments[-1].extend(bits)
                    pending = 0.0
        return [
            Word(tuple(bits), sum(bit.width for bit in bits), space)
            for bits, space in zip(fragments, spaces, strict=True)
        ]


def measured(where: Face, text: str, quiet: bool) -> Bit:
    """A bit with its width and the kerning between its letters."""
    kerns = tuple(where.kern(left, right) for left, right in zip(text, text[1:], strict=False))
    return Bit(where, text, sum(where.width(char) for char in text) + sum(kerns), kerns, quiet)


def _wide(char: str) -> bool:
    return unicodedata.east_asian_width(char) in {"W", "F"}


def _breakable(part: str) -> Sequence[str]:
    """Lines may be broken between ideographs; other words hold together."""
    if part.isascii() or not any(_wide(char) for char in part):
        return (part,) if part else ()
    return re.findall(r"[^\u2e80-\uffef\U00020000-\U0003ffff]+|.", part)


def wrap(words: Sequence[Word], width: float) -> list[Line]:
    """Words as lines no wider than `width` (thousandths of the size); a longer word is broken in itself."""
    lines: list[Line] = []
    bits: list[tuple[float, Bit]] = []
    x = 0.0
    for word in words:
        if bits and x + word.space + word.width > width:
            lines.append(Line(tuple(bits), x))
            bits, x = [], 0.0
        if bits:
            x += word.space
        for bit in word.bits:
            rest: Bit | None = bit
            while rest is not None:
                part, rest = _split(rest, width - x, force=not bits)
                if part is not None:
                    bits.append((x, part))
                    x += part.width
                if rest is not None:
                    lines.append(Line(tuple(bits), x))
                    bits, x = [], 0.0
    if bits:
        lines.append(Line(tuple(bits), x))
    return lines


def _split(bit: Bit, room: float, *, force: bool) -> tuple[Bit | None, Bit | None]:
    """As much of a bit as fits, and the rest; with `force` at least one letter, so that wrapping ends."""
    if bit.width <= room:
        return bit, None
    used, count = 0.0, 0
    for number, char in enumerate(bit.text):
        used += bit.face.width(char) + (bit.kerns[number - 1] if number else 0.0)
        if used > room:
            break
        count += 1
    count = max(count, 1) if force else count
    if count >= len(bit.text):
        return bit, None
    head = measured(bit.face, bit.text[:count], bit.quiet) if count else None
    return head, measured(bit.face, bit.text[count:], bit.quiet)


def shorten(line: Line, width: float, fallback_face: Face) -> Line:
    """The line with an ellipsis at its end, and as many last letters taken off as that needs."""
    bits = list(line.bits)
    while bits:
        x, last = bits[-1]
        face_ = last.face if last.face.covers(ELLIPSIS) else fallback_face
        dots = measured(face_, ELLIPSIS, last.quiet)
        text = last.text
        while text:
            cut = measured(last.face, text.rstrip(" ,.;:"), last.quiet)
            if x + cut.width + dots.width <= width:
                end = x + cut.width
                return Line((*bits[:-1], (x, cut), (end, dots)), end + dots.width)
            text = text[:-1]
        bits.pop()
    dots = measured(fallback_face, ELLIPSIS, False)
    return Line(((0.0, dots),), dots.width)


def fit(
    setter: Typesetter, blocks: Sequence[Block], width_mm: float, height_mm: float, *, at_most: float = 1.0
) -> Laid:
    """Sets blocks into a box: at their size if they fit, else smaller down to their floors, else shortened.

    Blocks without text take no room; `at_most` begins with a smaller step, to match a neighbour's type. Where
    even the floors are too large, lines are taken from the block that is to be kept least, then whole blocks,
    and their names are returned in `elided`.
    """
    worded = [(block, setter.words(block.spans)) for block in blocks]
    worded = [(block, words) for block, words in worded if words]
    columns: list[tuple[Block, list[Line]]] = []
    step = at_most
    for step in (each for each in _STEPS if each <= at_most):
        columns = []
        for block, words in worded:
            sized = replace(block, size=max(block.floor, block.size * step), gap=block.gap * step)
            columns.append((sized, wrap(words, width_mm / MM_PER_POINT / sized.size * 1000)))
        if _height(columns) <= height_mm:
            return _place(columns, (), step)
        if all(block.size * step <= block.floor for block, _ in worded):
            break
    return _cut_down(setter, columns, width_mm, height_mm, step)


def _height(columns: Sequence[tuple[Block, Sequence[Line]]]) -> float:
    total = sum(block.size * block.leading * len(lines) for block, lines in columns)
    gaps = sum(block.gap for block, _ in columns[1:])
    return (total + gaps) * MM_PER_POINT


def _cut_down(
    setter: Typesetter, columns: list[tuple[Block, list[Line]]], width: float, height: float, step: float
) -> Laid:
    elided: dict[str, None] = {}
    while columns and _height(columns) > height:
        # What must be kept (a caution) gives way only when nothing else is left.
        lesser = [index for index, (each, _) in enumerate(columns) if each.keep < KEPT_TO_THE_LAST]
        pool = lesser or list(range(len(columns)))
        long = [index for index in pool if len(columns[index][1]) > 1]
        index = min(long or pool, key=lambda each: (columns[each][0].keep, -each))
        block, lines = columns[index]
        elided[block.name] = None
        if len(lines) > 1:
            room = width / MM_PER_POINT / block.size * 1000
            short = shorten(lines[-2], room, setter.faces[REGULAR])
            columns[index] = (block, [*lines[:-2], short])
        else:
            del columns[index]
    return _place(columns, tuple(elided), step)


def _place(columns: Sequence[tuple[Block, Sequence[Line]]], elided: tuple[str, ...], step: float) -> Laid:
    placed: list[SetLine] = []
    y = 0.0
    for number, (block, lines) in enumerate(columns):
        y += block.gap * MM_PER_POINT if number else 0.0
        size = block.size * MM_PER_POINT
        for line in lines:
            top = y + (block.leading - ASCENT - DESCENT) / 2 * size
            placed.append(SetLine(line, block.size, top, top + ASCENT * size, block.name))
            y += block.leading * size
    return Laid(tuple(placed), y, elided, step)
