"""Reading what a person types as a quantity, and writing one back.

One tokenizer for every form and every import. Arithmetic is exact (fractions) and rounded once, half up, to
the stored unit: milligrams, thousandths of a piece, micrometres, cubic millimetres, seconds, thousandths of
a degree, pascal, millionths of the currency, parts per million, kg/m³.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from studio.craft.rounding import whole

from .formats import Formats, current
from .units import DIMENSIONS, SYMBOLS, Unit, units_of, usual_unit
from .writing import clock, ruler_inches, show

__all__ = ["DIMENSIONS", "LIMIT", "NotUnderstood", "SYMBOLS", "examples", "parse", "show", "typed"]

LIMIT = 10**15
LONGEST = 60
_SPACES = dict.fromkeys(map(ord, "\t\u00a0\u2007\u2009\u202f"), " ")
_GLYPHS = {
    "½": (1, 2), "⅓": (1, 3), "⅔": (2, 3), "¼": (1, 4), "¾": (3, 4), "⅕": (1, 5), "⅖": (2, 5), "⅗": (3, 5),
    "⅘": (4, 5), "⅙": (1, 6), "⅚": (5, 6), "⅛": (1, 8), "⅜": (3, 8), "⅝": (5, 8), "⅞": (7, 8),
}  # fmt: skip
_NAMES = {
    "mass": "a weight",
    "count": "a number of pieces",
    "number": "a number",
    "whole": "a whole number",
    "length": "a length",
    "volume": "a volume",
    "duration": "a time",
    "temperature": "a temperature",
    "pressure": "a pressure",
    "money": "an amount of money",
    "share": "a percentage",
    "density": "a density",
    "power": "a power",
}
_EXAMPLES = {
    "mass": ("412", "0.4 kg", "2 lb 3 oz"),
    "count": ("12", "12 pieces"),
    "number": ("12", "1.5", "3 1/2"),
    "whole": ("12",),
    "length": ("88.9 mm", "3 1/2 in", "5 ft 6 in"),
    "volume": ("250 ml", "1.5 l", "3 fl oz"),
    "duration": ("90 min", "1:30 h", "2 days"),
    "temperature": ("21.5 °C", "70 °F"),
    "pressure": ("60 psi", "4.1 bar"),
    "money": ("12.50",),
    "share": ("45 %", "2.5"),
    "density": ("1.05 g/ml", "1050 kg/m³"),
    "power": ("1500 W", "1.5 kW"),
}
# A density outside these is a figure in another unit: 1.05 is grams per millilitre, not kilograms per m³.
_DENSITIES = (10, 25_000)
_BELOW_ZERO_IS_USUAL = ("temperature",)


class NotUnderstood(ValueError):
    """What was typed is not a quantity of this kind; `str()` is a sentence for the person who typed it."""


def examples(dimension: str, formats: Formats | None = None) -> tuple[str, ...]:
    """Return ways to write a quantity of this dimension, with this studio's decimal mark."""
    mark = (formats or current()).decimal
    return tuple(text.replace(".", mark) for text in _EXAMPLES[dimension])


def parse(
    text: str,
    dimension: str,
    *,
    formats: Formats | None = None,
    unit: str | None = None,
    negative: bool | None = None,
    least: int | None = None,
    most: int | None = None,
) -> int:
    """Return what was typed, in the stored unit of its dimension, as a whole number.

    Understands `412`, `412 g`, `0.4 kg`, `3 1/2 in`, `1½"`, `2 lb 3 oz`, `5 ft 6 in`, `1:30 h`; the decimal
    mark and the mark between thousands are the studio's, the other way round is refused. A bare number is in
    `unit`, or the studio's usual one. A figure finer than the stored unit is rounded half up; one that would
    round to nothing is refused. `negative` allows figures below zero (temperatures do unless told not to);
    `least` and `most` are in stored units.

    Raises NotUnderstood with a sentence that says what to write instead.
    """
    formats = formats or current()
    reader = _Reader(text, dimension, formats, unit or usual_unit(dimension, formats))
    exact = reader.read()
    if exact < 0 and not (dimension in _BELOW_ZERO_IS_USUAL if negative is None else negative):
        raise NotUnderstood(f"{reader.quoted} is less than nothing. Write {_NAMES[dimension]} of zero or more.")
    value = whole(exact)
    if abs(value) > LIMIT:
        raise NotUnderstood(f"{reader.quoted} is more than can be kept here. Check the figure and its unit.")
    if dimension == "whole" and exact.denominator != 1:
        raise NotUnderstood(f"{reader.quoted} is not a whole number. Write one like 12.")
    if value == 0 and exact != 0 and dimension != "temperature":
        raise NotUnderstood(f"{reader.quoted} is finer than can be kept here. Check the figure and its unit.")
    if dimension == "density" and not _DENSITIES[0] <= value <= _DENSITIES[1]:
        raise NotUnderstood(f"{reader.quoted} can't be a density. Write it with its unit, {reader.like}.")
    if least is not None and value < least:
        raise NotUnderstood(f"That is too little: {show(least, dimension, formats=formats)} is the least here.")
    if most is not None and value > most:
        raise NotUnderstood(f"That is too much: {show(most, dimension, formats=formats)} is the most here.")
    return value


def typed(value: int, dimension: str, *, formats: Formats | None = None, unit: str | None = None) -> str:
    """Return a text for an input box that reads back to exactly this value.

    The unit is left off where the box's own unit (or the studio's usual one) is meant, as a person would.
    """
    formats = formats or current()
    if abs(value) > LIMIT:
        raise ValueError("That figure is larger than anything the books hold.")
    if dimension == "duration" and unit is None:
        return clock(value)

    def reads_back(text: str) -> bool:
        try:
            return parse(text, dimension, formats=formats, unit=unit, negative=True) == value
        except NotUnderstood:
            return False

    name = unit or usual_unit(dimension, formats)
    if units_of(dimension, formats)[name.casefold().replace(" ", "_")].label == "in":
        inches = ruler_inches(value)
        if inches is not None and reads_back(inches):
            return inches
    least = formats.coin_digits if dimension == "money" else 0
    for digits in range(least, 16):
        text = show(value, dimension, formats=formats, unit=unit, digits=digits, with_unit=False, grouped=False)
        if reads_back(text):
            return text
    raise ValueError("That figure can't be written in this unit.")


@dataclass(frozen=True)
class _Term:
    number: Fraction
    unit: Unit | None
    plain: bool


class _Reader:
    """One text on its way to a number; holds what the refusals need to say."""

    def __init__(self, text: str, dimension: str, formats: Formats, bare: str) -> None:
        self.text = re.sub(" +", " ", text.translate(_SPACES)).strip(" ")
        self.dimension = dimension
        self.formats = formats
        self.table: Mapping[str, Unit] = units_of(dimension, formats)
        self.bare = self.table[_key(bare)]
        shown = self.text if len(self.text) <= 30 else self.text[:30] + "…"
        self.quoted = f"“{shown}”"
        self.like = _join(examples(dimension, formats))

    def refused(self, why: str = "") -> NotUnderstood:
        reason = why or f"I can't read {self.quoted} as {_NAMES[self.dimension]}."
        return NotUnderstood(f"{reason} Write it like {self.like}.")

    def read(self) -> Fraction:
        if not self.text:
            raise self.refused("Nothing is written here.")
        if len(self.text) > LONGEST:
            raise self.refused("That is far too long for one figure.")
        rest = self.text.casefold()
        sign = 1
        if rest[0] in "-−":
            sign, rest = -1, rest[1:].lstrip(" ")
        if self.dimension == "duration" and (clock := self.clock(rest)) is not None:
            return sign * clock
        if self.dimension == "money":
            rest = self.without_currency(rest)
        terms = self.terms(rest)
        self.check_order(terms)
        if sign < 0 and len(terms) > 1:
            raise self.refused()
        return sum((self.stored(term, sign) for term in terms), Fraction(0))

    def stored(self, term: _Term, sign: int) -> Fraction:
        unit = term.unit or self.bare
        return sign * term.number * unit.size + unit.offset

    def clock(self, rest: str) -> Fraction | None:
        found = re.fullmatch(r"([0-9]{1,5}):([0-5][0-9])(?::([0-5][0-9]))? ?([a-z.]*)", rest)
        if found is None:
            return None
        first, second, third, name = found.groups()
        unit = self.table.get(name or "h")
        if unit is None or unit.label not in ("h", "min") or (third and unit.label == "min"):
            raise self.refused()
        small = int(unit.size) // 60
        return Fraction(int(first) * int(unit.size) + int(second) * small + int(third or 0))

    def without_currency(self, rest: str) -> str:
        for name in sorted(self.table, key=len, reverse=True):
            if rest.startswith(name):
                return rest[len(name) :].lstrip(" ")
        for code, symbols in SYMBOLS.items():
            if any(symbol in rest for symbol in (code.casefold(), *symbols)) and not self.knows(rest):
                raise self.refused(f"The books are kept in {self.formats.currency} and in no other currency.")
        return rest

    def knows(self, rest: str) -> bool:
        return any(rest.endswith(name) for name in self.table)

    def terms(self, rest: str) -> list[_Term]:
        terms: list[_Term] = []
        number = _number(self.formats.decimal, self.formats.group)
        while rest:
            found = number.match(rest)
            if found is None:
                raise self.refused(self.mark_hint())
            value, plain = self.value(found)
            rest = rest[found.end() :].lstrip(" ")
            unit, rest = self.unit(rest)
            terms.append(_Term(value, unit, plain))
        if not terms:
            raise self.refused()
        return terms

    def value(self, found: re.Match[str]) -> tuple[Fraction, bool]:
        """Return the number found, and whether it is plain whole figures."""
        part = found.groupdict()
        large = Fraction(self.figures(part["large"] or part["before"] or part["whole"] or part["only"] or "0"))
        if part["glyph"]:
            return large + Fraction(*_GLYPHS[part["glyph"]]), False
        if part["top"]:
            top, bottom = int(part["top"]), int(part["bottom"])
            if bottom == 0 or (part["large"] and top >= bottom):
                raise self.refused()
            return large + Fraction(top, bottom), False
        decimals = part["decimals"]
        if decimals:
            return large + Fraction(int(decimals), 10 ** len(decimals)), False
        return large, True

    def figures(self, text: str) -> int:
        return int(re.sub(r"[^0-9]", "", text))

    def unit(self, rest: str) -> tuple[Unit | None, str]:
        """Take the longest known unit off the front; two words of one unit may be parted by a space."""
        keyed = rest.replace(" ", "_")
        for name in sorted(self.table, key=len, reverse=True):
            if not name or not keyed.startswith(_key(name)):
                continue
            after = rest[len(name) :]
            if name[-1].isalpha() and after[:1].isalpha():
                continue
            return self.table[name], after.lstrip(" ")
        if rest and not rest[0].isdigit():
            raise self.refused(self.mark_hint())
        return None, rest

    def check_order(self, terms: list[_Term]) -> None:
        """Several terms are one quantity only when each is in a smaller unit than the one before."""
        if len(terms) == 1:
            return
        hours_and_minutes = [term.unit.label if term.unit else None for term in terms] == ["h", None]
        if hours_and_minutes and terms[1].plain and terms[1].number < 60:
            terms[1] = _Term(terms[1].number, self.table["min"], True)
        sizes = [term.unit.size if term.unit else Fraction(0) for term in terms]
        falling = all(a > b for a, b in zip(sizes, sizes[1:], strict=False))
        if not falling or 0 in sizes or not all(term.plain for term in terms[:-1]):
            raise self.refused()
        if self.dimension in ("money", "share", "temperature"):
            raise self.refused()

    def mark_hint(self) -> str:
        """Say which decimal mark is used here when the other one was typed."""
        if re.search(r"[0-9][.,][0-9]", self.text):
            mark = {".": "a point", ",": "a comma"}[self.formats.decimal]
            return f"I can't read {self.quoted}: the decimal mark here is {mark}."
        return ""


@lru_cache(maxsize=16)
def _number(decimal: str, group: str) -> re.Pattern[str]:
    """Return the pattern of one number as this studio writes it: decimal, fraction, mixed or glyph."""
    figures = "[0-9]+"
    if group:
        between = {"\u202f": " ", "'": "['’]"}.get(group, re.escape(group))
        figures = rf"(?:[1-9][0-9]{{0,2}}(?:{between}[0-9]{{3}})+(?![0-9])|[0-9]+)"
    mark = re.escape(decimal)
    return re.compile(
        rf"(?:(?P<large>{figures})(?: |-))?(?P<top>[0-9]+) ?[/⁄] ?(?P<bottom>[0-9]+)(?![0-9/⁄{mark}])"
        rf"|(?P<before>{figures})?[ -]?(?P<glyph>[{''.join(_GLYPHS)}])"
        rf"|(?P<whole>{figures})?(?:{mark}(?P<decimals>[0-9]+))(?![0-9/⁄])"
        rf"|(?P<only>{figures})(?![0-9/⁄])"
    )


def _key(name: str) -> str:
    return name.casefold().replace(" ", "_")


def _join(words: tuple[str, ...]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " or " + words[-1]
