"""Letters our own faces lack are looked for in the fonts of the computer; only those letters are embedded.

Outlines of the other kind (OpenType CFF, as most Chinese, Japanese and Korean fonts have) are redrawn as
TrueType ones first, because only those can be embedded. A script that runs right to left or joins its letters
is not set letter by letter: wrong order is worse than a named gap.
"""

import os
import sys
import unicodedata
from collections.abc import Iterable
from functools import cache, lru_cache
from io import BytesIO
from pathlib import Path
from typing import Any

from .fonts import BOLD, BUILDING, EXTRABOLD, Face

# Regular and bold file names by how well they sit beside Alegreya Sans, then by how much they hold.
_FAMILIES: tuple[tuple[str, str], ...] = (
    ("NotoSans-Regular.ttf", "NotoSans-Bold.ttf"),
    ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf"),
    ("segoeui.ttf", "segoeuib.ttf"),
    ("LiberationSans-Regular.ttf", "LiberationSans-Bold.ttf"),
    ("NotoSansCJK-Regular.ttc", "NotoSansCJK-Bold.ttc"),
    ("NotoSansCJKsc-Regular.otf", "NotoSansCJKsc-Bold.otf"),
    ("NotoSansCJKjp-Regular.otf", "NotoSansCJKjp-Bold.otf"),
    ("SourceHanSans-Regular.ttc", "SourceHanSans-Bold.ttc"),
    ("YuGothM.ttc", "YuGothB.ttc"),
    ("msyh.ttc", "msyhbd.ttc"),
    ("malgun.ttf", "malgunbd.ttf"),
    ("wqy-microhei.ttc", ""),
    ("wqy-zenhei.ttc", ""),
    ("DroidSansFallbackFull.ttf", ""),
    ("DroidSansFallback.ttf", ""),
    ("Hiragino Sans GB.ttc", ""),
    ("AppleSDGothicNeo.ttc", ""),
    ("STHeiti Light.ttc", "STHeiti Medium.ttc"),
    ("simsun.ttc", ""),
    ("msgothic.ttc", ""),
    ("NotoSansSymbols-Regular.ttf", "NotoSansSymbols-Bold.ttf"),
    ("NotoSansSymbols2-Regular.ttf", ""),
    ("seguisym.ttf", ""),
    ("Apple Symbols.ttf", ""),
    ("FreeSans.ttf", "FreeSansBold.ttf"),
    ("Arial Unicode.ttf", ""),
    ("arialuni.ttf", ""),
)
# Devanagari to Sinhala, Thai to Myanmar, Khmer, Mongolian: letters that change shape beside each other.
_JOINING = ((0x0900, 0x0DFF), (0x0E00, 0x109F), (0x1780, 0x18AF), (0x1A20, 0x1AAF), (0xA840, 0xABFF))
_DROPPED_TABLES = ["vhea", "vmtx", "VORG", "GSUB", "GPOS", "GDEF", "BASE", "DSIG", "kern", "morx", "FFTM"]


def font_folders() -> tuple[Path, ...]:
    """Where fonts usually lie on Linux, macOS and Windows."""
    home = Path.home()
    if sys.platform == "win32":
        local = os.environ.get("LOCALAPPDATA", str(home / "AppData" / "Local"))
        return (
            Path(os.environ.get("WINDIR", r"C:\Windows")) / "Fonts",
            Path(local) / "Microsoft/Windows/Fonts",
        )
    if sys.platform == "darwin":
        return (Path("/System/Library/Fonts"), Path("/Library/Fonts"), home / "Library/Fonts")
    return (
        Path("/usr/share/fonts"),
        Path("/usr/local/share/fonts"),
        home / ".local/share/fonts",
        home / ".fonts",
    )


@cache
def _installed(folders: tuple[Path, ...]) -> dict[str, Path]:
    found: dict[str, Path] = {}
    for folder in folders:
        for where, inside, files in os.walk(folder):
            inside.sort()
            for name in sorted(files):
                found.setdefault(name.lower(), Path(where) / name)
    return found


def candidates() -> tuple[tuple[Path, Path], ...]:
    """Regular and bold file of every usable family on this computer, in the order they are asked."""
    found = _installed(font_folders())
    pairs = []
    for regular, bold in _FAMILIES:
        path = found.get(regular.lower())
        if path is not None:
            pairs.append((path, found.get(bold.lower(), path) if bold else path))
    return tuple(pairs)


def can_be_set_letter_by_letter(char: str) -> bool:
    """False for scripts that run right to left or join: set so, they would be wrong."""
    if unicodedata.bidirectional(char) in {"R", "AL", "AN"}:
        return False
    return not any(first <= ord(char) <= last for first, last in _JOINING)


@lru_cache(maxsize=32)
def _coverage(path: Path) -> frozenset[int]:
    from fontTools.ttLib import TTFont, TTLibError

    try:
        with TTFont(path, fontNumber=0, lazy=True) as ttf:
            # Bit 1 of fsType (OpenType, OS/2 table) forbids embedding altogether.
            if ttf["OS/2"].fsType & 0x0002 or not ({"glyf", "CFF "} & set(ttf.keys())):
                return frozenset()
            return frozenset(ttf.getBestCmap() or ())
    except (TTLibError, OSError, KeyError):
        return frozenset()


@lru_cache(maxsize=16)
def _subset(path: Path, chars: str) -> bytes:
    """A TrueType file with only these letters; the same letters from the same file are the same bytes."""
    from fontTools import subset
    from fontTools.ttLib import TTFont

    options = subset.Options(
        layout_features=[], hinting=False, notdef_outline=True, recalc_timestamp=False, name_IDs=[1, 2, 4, 6]
    )
    options.drop_tables += _DROPPED_TABLES
    with TTFont(path, fontNumber=0, lazy=True, recalcTimestamp=False) as ttf:
        subsetter = subset.Subsetter(options)
        subsetter.populate(text=chars + " ")
        subsetter.subset(ttf)
        if "CFF " in ttf:
            _to_truetype(ttf)
        out = BytesIO()
        ttf.save(out)
    return out.getvalue()


def _to_truetype(ttf: Any) -> None:
    """Redraws cubic outlines as quadratic ones, within half a unit in a thousand."""
    from fontTools.pens.cu2quPen import Cu2QuPen
    from fontTools.pens.ttGlyphPen import TTGlyphPen
    from fontTools.ttLib import newTable

    order, outlines = ttf.getGlyphOrder(), ttf.getGlyphSet()
    glyphs = {}
    for name in order:
        pen = TTGlyphPen(outlines)
        outlines[name].draw(Cu2QuPen(pen, max_err=0.5, reverse_direction=True))
        glyphs[name] = pen.glyph()
    ttf["loca"], glyf = newTable("loca"), newTable("glyf")
    glyf.glyphOrder, glyf.glyphs = order, glyphs
    ttf["glyf"] = glyf
    del ttf["CFF "]
    for name, glyph in glyphs.items():
        glyph.recalcBounds(glyf)
        ttf["hmtx"][name] = (ttf["hmtx"][name][0], getattr(glyph, "xMin", 0))
    maxp = ttf["maxp"]
    maxp.tableVersion = 0x00010000
    for field_name in ("maxTwilightPoints", "maxStorage", "maxFunctionDefs", "maxInstructionDefs"):
        setattr(maxp, field_name, 0)
    maxp.maxZones, maxp.maxStackElements, maxp.maxSizeOfInstructions, maxp.maxComponentElements = 1, 0, 0, 0
    ttf["post"].formatType, ttf["post"].extraNames, ttf["post"].mapping = 2.0, [], {}
    ttf["post"].glyphOrder = order
    ttf["head"].glyphDataFormat = 0
    ttf.sfntVersion = "\x00\x01\x00\x00"


class Fallbacks:
    """The borrowed letters of one document. Fonts made for it are let go with `close`."""

    def __init__(self, chars: Iterable[str]) -> None:
        self._family: dict[str, tuple[Path, Path]] = {}
        self._faces: dict[Path, Face] = {}
        wanted = {char for char in chars if can_be_set_letter_by_letter(char)}
        for pair in candidates() if wanted else ():
            held = {char for char in wanted if ord(char) in _coverage(pair[0])}
            self._family.update(dict.fromkeys(held, pair))
            wanted -= held
            if not wanted:
                break

    def face(self, char: str, kind: str) -> Face | None:
        """A face that draws the letter, or None when no font here does."""
        pair = self._family.get(char)
        if pair is None:
            return None
        path = pair[1] if kind in (BOLD, EXTRABOLD) and ord(char) in _coverage(pair[1]) else pair[0]
        if path not in self._faces:
            mine = (each for each, family in self._family.items() if family == pair and ord(each) in _coverage(path))
            self._faces[path] = _load(path, "".join(sorted(mine)), len(self._faces))
        return self._faces[path]

    def close(self) -> None:
        """Forgets the fonts made for this document, so that a long-lived process doesn't collect them."""
        with BUILDING:
            for each in self._faces.values():
                each.font.unregister()
        self._faces.clear()


def _load(path: Path, chars: str, number: int) -> Face:
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    font = TTFont(f"Borrowed-{number}", BytesIO(_subset(path, chars)))
    pdfmetrics.registerFont(font)
    return Face(font, None)
