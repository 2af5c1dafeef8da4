"""Answers as they are typed and shown: the studio's formats at the edge, stored units within."""

from typing import Any

from studio.fields import quantity
from studio.fields.formats import Formats
from studio.people.kinds import Whole, Words, YesNo
from studio.people.questions import Question

_METRE_UM = 10**6
_YES, _NO = ("yes", "y"), ("no", "n")


def read(question: Question, text: str, formats: Formats) -> Any:
    """Return what was typed as a canonical answer. Raises ValueError with a sentence."""
    kind = question.kind
    if isinstance(kind, Whole):
        found = quantity.parse(text, str(kind.dimension), formats=formats, unit=kind.unit, negative=kind.low < 0)
        if kind.dimension == "length":
            found = (2 * found + _METRE_UM) // (2 * _METRE_UM)
        return kind.clean(found)
    if isinstance(kind, YesNo):
        word = text.strip().casefold()
        return kind.clean(True if word in _YES else False if word in _NO else None)
    if isinstance(kind, Words):
        return kind.clean(text.splitlines())
    return kind.clean(text)


def show(question: Question, answer: Any, formats: Formats, *, boxed: bool = False) -> str:
    """Return an answer for reading or, `boxed`, for its input box: it reads back to the same answer."""
    kind = question.kind
    if answer is None:
        return ""
    if isinstance(kind, Whole):
        stored = answer * _METRE_UM if kind.dimension == "length" else answer
        # A tariff has more digits than a coin; rounded to one it would read as another figure.
        finer = kind.dimension == "money" and stored % 10 ** (6 - formats.coin_digits) != 0
        if boxed or finer:
            return quantity.typed(stored, str(kind.dimension), formats=formats, unit=kind.unit)
        return quantity.show(stored, str(kind.dimension), formats=formats, unit=kind.unit)
    if isinstance(kind, YesNo):
        return "yes" if answer else "no"
    if isinstance(kind, Words):
        return "\n".join(answer)
    return str(answer)
