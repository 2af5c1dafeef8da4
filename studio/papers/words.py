"""How facts become the sentences of a card."""

import re

from .facts import WoodFact
from .fonts import BOLD, ITALIC, REGULAR
from .text import Span, clean

_RANKS = {"sp.", "spp.", "subsp.", "ssp.", "var.", "f.", "cf.", "aff.", "×", "hort."}
_OWN_BEGINNINGS = {
    "from", "near", "in", "at", "by", "on", "under", "behind", "beside", "along", "above", "below",
    "between", "outside", "inside", "off", "out", "over", "it", "stood", "grew", "fell", "felled",
    "cut", "found", "blown", "dug", "drawn", "washed", "not", "nobody", "unknown", "where", "bought",
    "given", "salvaged", "taken",
}  # fmt: skip


def sentence(text: str) -> str:
    """The text with a capital and a full stop; empty stays empty."""
    text = clean(text).strip()
    if not text:
        return ""
    if text[-1] not in ".!?…":
        text += "."
    return text[0].upper() + text[1:]


def sentences(*texts: str) -> str:
    """Several, one after the other."""
    return " ".join(filter(None, (sentence(text) for text in texts)))


def where_from(text: str) -> str:
    """Where a tree stood, as a sentence: "From a field drain." unless it already begins as one."""
    text = clean(text).strip()
    if not text:
        return ""
    first = re.split(r"[ ,]", text, maxsplit=1)[0].lower()
    return sentence(text if first in _OWN_BEGINNINGS else f"From {text}")


def botanical(name: str, *, quiet: bool = False) -> tuple[Span, ...]:
    """A plant's name: italic but for ranks, "sp.", the hybrid sign and a cultivar's name in quotes.

    Convention of the International Code of Nomenclature for plants, from memory.
    """
    words = clean(name).strip().split(" ")
    spans: list[Span] = []
    quoted = False
    for number, word in enumerate(words):
        # A lone x before or between names stands for the hybrid sign, which few keyboards have.
        if word in {"x", "X"} and number + 1 < len(words):
            word = "×"
        quoted = quoted or word[:1] in {"'", "‘", '"'}
        upright = quoted or word in _RANKS
        text = word if number == 0 else f" {word}"
        for part, kind in _hybrid_parts(text, REGULAR if upright else ITALIC):
            spans.append(Span(part, kind, quiet))
        if word[-1:] in {"'", "’", '"'}:
            quoted = False
    return tuple(spans) if words != [""] else ()


def _hybrid_parts(text: str, kind: str) -> list[tuple[str, str]]:
    """A hybrid sign that touches its name stays upright too."""
    return [(part, REGULAR if part == "×" else kind) for part in re.split("(×)", text) if part]


def wood_spans(wood: WoodFact, *, where: bool = True) -> tuple[Span, ...]:
    """One wood as it stands on a card: its name in bold, the plant's in italic, then what is known of it."""
    common = clean(wood.common).strip()
    plant = botanical(wood.botanical)
    spans: list[Span] = []
    if common:
        spans.append(Span(common[0].upper() + common[1:], BOLD))
    if plant:
        spans.extend((Span(", ", REGULAR), *plant) if spans else plant)
    if spans and not clean("".join(span.text for span in spans)).endswith("."):
        spans.append(Span("."))
    known = " ".join(filter(None, (where_from(wood.where_it_stood), sentence(wood.how_sure))))
    if known and where:
        spans.append(Span(f" {known}"))
    return tuple(spans)


def wood_name(number: int) -> str:
    """What the first, second ... wood is called where it had to be shortened."""
    return f"wood {number}" if number > 1 else "wood"


def joined(*texts: str, by: str = ", ") -> str:
    """The texts that are not empty, joined."""
    return by.join(filter(None, (clean(text).strip() for text in texts)))
