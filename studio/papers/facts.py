"""What a card or a tag says, as plain values: papers draw these and look nothing up."""

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field, fields, is_dataclass
from pathlib import Path

NOT_FOR_FOOD_OR_FLAME = "Not for food or flame."


@dataclass(frozen=True)
class WoodFact:
    """One wood of a piece. `how_sure` and `where_it_stood` are the maker's own words or empty."""

    common: str
    botanical: str = ""
    where_it_stood: str = ""
    how_sure: str = ""


@dataclass(frozen=True)
class CardFacts:
    """A provenance card. Every text may be empty: an empty one leaves no label and no gap behind.

    `picture_path` is a JPEG; a picture goes on the A6 card only, the small one has no room for it.
    """

    signed_number: str
    title: str
    working_number: str = ""
    form: str = ""
    woods: tuple[WoodFact, ...] = ()
    resin_words: str = ""
    size_words: str = ""
    weight_words: str = ""
    year: str = ""
    maker: str = ""
    studio_name: str = ""
    finish: str = ""
    care: tuple[str, ...] = ()
    cautions: tuple[str, ...] = (NOT_FOR_FOOD_OR_FLAME,)
    public_url: str = ""
    picture_path: Path | None = None
    note: str = ""


@dataclass(frozen=True)
class TagFacts:
    """A hang tag: what is read with the piece in the hand. `price_words` only where the studio wants it."""

    signed_number: str
    title: str
    form: str = ""
    woods: tuple[WoodFact, ...] = ()
    size_words: str = ""
    year: str = ""
    maker: str = ""
    studio_name: str = ""
    price_words: str = ""
    cautions: tuple[str, ...] = (NOT_FOR_FOOD_OR_FLAME,)
    public_url: str = ""


@dataclass(frozen=True)
class MissingGlyph:
    """A letter no font here can draw. On paper it stands as a code in brackets, never as an empty box."""

    char: str
    name: str

    @property
    def code(self) -> str:
        """The bracketed code as printed: `[U+6F22]`."""
        return f"[U+{ord(self.char):04X}]"

    def __str__(self) -> str:
        # A letter written right to left would turn its name round as well; isolates keep it to itself.
        turned = unicodedata.bidirectional(self.char) in {"R", "AL", "AN"}
        return f"\u2067{self.char}\u2069 ({self.name})" if turned else f"{self.char} ({self.name})"


@dataclass(frozen=True)
class Printed:
    """A finished file. `elided` names each text that had to be shortened, as "0179: title"."""

    pdf: bytes
    pages: int
    missing: tuple[MissingGlyph, ...] = ()
    elided: tuple[str, ...] = ()

    @property
    def missing_sentence(self) -> str:
        """What the screen will say about letters that could not be printed; empty when all of them could."""
        if not self.missing:
            return ""
        return "These letters can't be printed: " + ", ".join(str(glyph) for glyph in self.missing) + "."


@dataclass(frozen=True)
class Box:
    """Where something was drawn, in millimetres from the top left corner of its card (or of its page)."""

    owner: int
    page: int
    kind: str
    left: float
    top: float
    right: float
    bottom: float
    text: str = ""

    def overlaps(self, other: "Box", slack: float = 0.01) -> bool:
        """Whether two boxes share more than `slack` millimetres both ways."""
        return (
            min(self.right, other.right) - max(self.left, other.left) > slack
            and min(self.bottom, other.bottom) - max(self.top, other.top) > slack
        )


@dataclass
class Recorder:
    """Collects every box drawn, for checks that nothing overlaps and nothing leaves its card."""

    boxes: list[Box] = field(default_factory=list)


def texts_of(facts: object) -> Iterator[str]:
    """Every text in a fact sheet, nested ones too: what the fonts will be asked to draw."""
    if isinstance(facts, str):
        yield facts
    elif isinstance(facts, tuple):
        for item in facts:
            yield from texts_of(item)
    elif is_dataclass(facts):
        for each in fields(facts):
            yield from texts_of(getattr(facts, each.name))
