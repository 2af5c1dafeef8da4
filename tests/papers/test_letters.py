"""Letters: drawn, borrowed, or named; never an empty box."""

from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.t2CharStringPen import T2CharStringPen
from pypdf import PdfReader

from studio.papers import fallback
from studio.papers.facts import MissingGlyph, Recorder
from studio.papers.fonts import BOLD, ITALIC, REGULAR, face
from studio.papers.sheet import print_cards
from tests.papers.facts_for_papers import ORDINARY, rasterized

HAN = "漢"


def embedded(pdf: bytes) -> dict[str, bool]:
    """Each font of a file by name, and whether its outlines are in the file."""
    found: dict[str, bool] = {}
    for page in PdfReader(BytesIO(pdf)).pages:
        for font in (page["/Resources"].get("/Font") or {}).values():
            font = font.get_object()
            found[str(font["/BaseFont"])] = "/FontFile2" in (font.get("/FontDescriptor") or {}).get_object()
    return found


def text_of(pdf: bytes) -> str:
    return " ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)


@pytest.fixture
def no_fonts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fallback, "candidates", tuple)


@pytest.fixture
def han_font(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[dict[str, Any]]:
    """A made-up font of the kind that can't be embedded as it is (CFF), with one ideograph: a solid square."""
    made: dict[str, Any] = {"path": tmp_path / "Square.otf"}

    def build(*, restricted: bool) -> None:
        builder = FontBuilder(1000, isTTF=False)
        builder.setupGlyphOrder([".notdef", "space", "han"])
        builder.setupCharacterMap({32: "space", ord(HAN): "han"})
        outlines = {}
        for name in (".notdef", "space", "han"):
            pen = T2CharStringPen(1000, None)
            if name == "han":
                pen.moveTo((50, -50))
                pen.lineTo((50, 850))
                pen.lineTo((950, 850))
                pen.lineTo((950, -50))
                pen.closePath()
            outlines[name] = pen.getCharString()
        builder.setupCFF("Square", {}, outlines, {})
        builder.setupHorizontalMetrics(dict.fromkeys(outlines, (1000, 0)))
        builder.setupHorizontalHeader(ascent=880, descent=-120)
        builder.setupNameTable({"familyName": "Square", "styleName": "Regular", "psName": "Square"})
        builder.setupOS2(fsType=0x0002 if restricted else 0)
        builder.setupPost()
        builder.save(made["path"])
        fallback._coverage.cache_clear()
        fallback._subset.cache_clear()

    made["build"] = build
    monkeypatch.setattr(fallback, "candidates", lambda: ((made["path"], made["path"]),))
    yield made
    fallback._coverage.cache_clear()
    fallback._subset.cache_clear()


def test_latin_and_cyrillic_letters_are_our_own_and_embedded() -> None:
    printed = print_cards([replace(ORDINARY, title="Łódź, ½ Жёлтый ясень → 10″")])
    assert printed.missing == ()
    assert "Łódź, ½ Жёлтый ясень → 10″" in text_of(printed.pdf)
    fonts = embedded(printed.pdf)
    assert len(fonts) >= 4 and all(fonts.values()), fonts
    assert all("AlegreyaSans" in name for name in fonts)


@pytest.mark.usefixtures("no_fonts")
def test_a_letter_no_font_has_is_named_and_stands_as_a_code() -> None:
    printed = print_cards([replace(ORDINARY, title=f"Bowl {HAN}")])
    assert printed.missing == (MissingGlyph(HAN, "CJK UNIFIED IDEOGRAPH-6F22"),)
    assert printed.missing_sentence == "These letters can't be printed: 漢 (CJK UNIFIED IDEOGRAPH-6F22)."
    assert "Bowl [U+6F22]" in text_of(printed.pdf)


def test_an_ideograph_is_borrowed_redrawn_and_embedded(han_font: dict[str, Any], tmp_path: Path) -> None:
    han_font["build"](restricted=False)
    recorder = Recorder()
    printed = print_cards([replace(ORDINARY, title=HAN)], recorder=recorder)
    assert printed.missing == ()
    assert HAN in text_of(printed.pdf)
    fonts = embedded(printed.pdf)
    assert any("Square" in name for name in fonts) and all(fonts.values())
    (box,) = [box for box in recorder.boxes if box.kind == "text:title"]
    (page,) = rasterized(printed.pdf, tmp_path, dpi=100)
    middle = page.convert("L").getpixel(
        (int((box.left + box.right) / 50.8 * 100), int((box.top + box.bottom) / 50.8 * 100))
    )
    assert middle < 60, "the solid square of the made-up font is not where its letter should be"


def test_a_font_that_forbids_embedding_is_not_borrowed_from(han_font: dict[str, Any]) -> None:
    han_font["build"](restricted=True)
    assert [glyph.char for glyph in print_cards([replace(ORDINARY, title=HAN)]).missing] == [HAN]


def test_an_ideograph_on_this_computer_is_either_embedded_or_named() -> None:
    printed = print_cards([replace(ORDINARY, title=f"Bowl {HAN}")])
    text = text_of(printed.pdf)
    assert (HAN in text) != bool(printed.missing)
    assert ("[U+6F22]" in text) == bool(printed.missing)
    assert all(embedded(printed.pdf).values())


def test_scripts_that_run_right_to_left_or_join_are_named_not_set_wrongly() -> None:
    printed = print_cards([replace(ORDINARY, title="שלום जय")])
    assert {glyph.char for glyph in printed.missing} == set("שלוםजय")
    assert "HEBREW LETTER SHIN" in printed.missing_sentence and "DEVANAGARI LETTER JA" in printed.missing_sentence


def test_borrowed_fonts_are_let_go_after_each_document(han_font: dict[str, Any]) -> None:
    from reportlab.pdfbase import pdfmetrics

    han_font["build"](restricted=False)
    print_cards([ORDINARY])
    before = set(pdfmetrics.getRegisteredFontNames())
    print_cards([replace(ORDINARY, title=HAN)])
    assert set(pdfmetrics.getRegisteredFontNames()) == before


def test_figures_that_are_compared_are_lining_and_of_one_width() -> None:
    def spread(kind: str) -> float:
        widths = [face(kind).width(digit) for digit in "0123456789"]
        return max(widths) / min(widths) - 1

    assert spread(REGULAR) == 0
    assert spread(ITALIC) < 0.02  # as the font has them
    assert spread(BOLD) > 0.1


def test_letters_are_kerned_as_the_font_says() -> None:
    assert face(REGULAR).kern("T", "o") < -20
    assert face(REGULAR).kern("A", "V") < face(REGULAR).kern("A", "M")
    assert face(REGULAR).kern("T", HAN) == 0
