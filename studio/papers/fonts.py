"""The faces papers are set in, and where a letter is looked for that they lack.

Alegreya Sans comes out of its installed package. Its figures are old-style by default; here regular and
italic are given the lining tabular ones, bold and extrabold the lining ones, by pointing the digits at them.
"""

import threading
from functools import cache
from pathlib import Path
from typing import Any

REGULAR, ITALIC, BOLD, EXTRABOLD = "regular", "italic", "bold", "extrabold"
_FILES = {
    REGULAR: ("AlegreyaSans-Regular.ttf", ".tf"),
    ITALIC: ("AlegreyaSans-Italic.ttf", ".tf"),
    BOLD: ("AlegreyaSans-Bold.ttf", ".lf"),
    EXTRABOLD: ("AlegreyaSans-ExtraBold.ttf", ".lf"),
}
# The drawing library keeps a read position inside each face: two documents must not be built at once.
BUILDING = threading.RLock()


class Face:
    """A font ready to measure and draw: widths and kerning in thousandths of the type size."""

    def __init__(self, font: Any, kerning: "Kerning | None") -> None:
        self.font = font
        self.name: str = font.fontName
        self._widths: dict[int, float] = font.face.charWidths
        self._default: float = font.face.defaultWidth
        self._glyphs: dict[int, int] = font.face.charToGlyph
        self._kerning = kerning
        self._pairs: dict[tuple[str, str], float] = {}

    def covers(self, char: str) -> bool:
        """Whether this face can draw the letter."""
        return ord(char) in self._glyphs

    def width(self, char: str) -> float:
        """Advance of one letter."""
        return self._widths.get(ord(char), self._default)

    def kern(self, left: str, right: str) -> float:
        """What is added between two letters, negative when they move together."""
        if self._kerning is None:
            return 0.0
        pair = (left, right)
        value = self._pairs.get(pair)
        if value is None:
            value = self._pairs[pair] = self._kerning.between(left, right)
        return value


class Kerning:
    """Pair adjustments from a font's GPOS table (OpenType: `kern` feature, pair formats 1 and 2)."""

    def __init__(self, ttf: Any, glyph_names: dict[int, str]) -> None:
        self._names = glyph_names
        self._scale = 1000.0 / ttf["head"].unitsPerEm
        self._lookups: list[list[Any]] = []
        if "GPOS" not in ttf:
            return
        table = ttf["GPOS"].table
        wanted = {
            index
            for record in table.FeatureList.FeatureRecord
            if record.FeatureTag == "kern"
            for index in record.Feature.LookupListIndex
        }
        for index in sorted(wanted):
            subtables = [getattr(each, "ExtSubTable", each) for each in table.LookupList.Lookup[index].SubTable]
            pairs = [(each, set(each.Coverage.glyphs)) for each in subtables if each.LookupType == 2]
            if pairs:
                self._lookups.append(pairs)

    def between(self, left: str, right: str) -> float:
        """Thousandths of the type size added between two letters; 0 where the font says nothing."""
        first, second = self._names.get(ord(left)), self._names.get(ord(right))
        if first is None or second is None:
            return 0.0
        for subtables in self._lookups:
            for table, covered in subtables:
                if first not in covered:
                    continue
                value = _pair_value(table, first, second)
                if value is not None:
                    return value * self._scale
        return 0.0


def _pair_value(table: Any, first: str, second: str) -> float | None:
    if table.Format == 1:
        for record in table.PairSet[table.Coverage.glyphs.index(first)].PairValueRecord:
            if record.SecondGlyph == second:
                return getattr(record.Value1, "XAdvance", 0) or 0
        return None
    one, two = table.ClassDef1.classDefs.get(first, 0), table.ClassDef2.classDefs.get(second, 0)
    return getattr(table.Class1Record[one].Class2Record[two].Value1, "XAdvance", 0) or 0


def font_folder() -> Path:
    """The folder of the installed Alegreya Sans package."""
    import fontpkg_alegreya_sans

    return Path(fontpkg_alegreya_sans.__file__).parent / "files"


@cache
def face(kind: str) -> Face:
    """One of the four faces, loaded once a process."""
    from fontTools.ttLib import TTFont as Outlines
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    filename, figures = _FILES[kind]
    path = font_folder() / filename
    with BUILDING:
        font = TTFont(f"Gramwood-{kind}", str(path))
        pdfmetrics.registerFont(font)
        with Outlines(path, lazy=True) as outlines:
            names = dict(outlines.getBestCmap())
            _use_lining_figures(font, outlines, names, figures)
            return Face(font, Kerning(outlines, names))


def _use_lining_figures(font: Any, outlines: Any, names: dict[int, str], figures: str) -> None:
    scale = 1000.0 / outlines["head"].unitsPerEm
    known = set(outlines.getGlyphOrder())
    for code in range(ord("0"), ord("9") + 1):
        lining = names[code] + figures
        if lining in known:
            names[code] = lining
            font.face.charToGlyph[code] = outlines.getGlyphID(lining)
            font.face.charWidths[code] = outlines["hmtx"][lining][0] * scale
