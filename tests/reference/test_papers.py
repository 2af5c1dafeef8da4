"""Sizes and codes of papers, measured in the finished file and by programs that are not ours."""

import re
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
import zxingcpp
from pypdf import PdfReader

from studio.papers import qr
from studio.papers.facts import Recorder
from studio.papers.sheet import print_cards, print_tags
from tests.papers.facts_for_papers import ADDRESS, ORDINARY, TAG, rasterized

# ISO 216: A4 is 210 × 297 mm, A6 105 × 148 mm (841 × 1189 halved, fractions dropped).
# ISO/IEC 7810: ID-1 is 85.60 × 53.98 mm. Letter is 8.5 × 11 inches of 25.4 mm.
A4, A6, ID1, LETTER = (210.0, 297.0), (148.0, 105.0), (85.60, 53.98), (215.9, 279.4)


def page_mm(pdf: bytes) -> tuple[float, float]:
    box = PdfReader(BytesIO(pdf)).pages[0].mediabox
    return float(box.width) / 72 * 25.4, float(box.height) / 72 * 25.4


def strokes_mm(pdf: bytes) -> list[tuple[float, float, float, float]]:
    """The single strokes of the first page before its first card: the cut marks, as the file has them."""
    content = PdfReader(BytesIO(pdf)).pages[0].get_contents()
    assert content is not None
    before_cards = content.get_data().decode("latin-1").split("\nq\n")[0]
    found = re.findall(r"([\d.]+) ([\d.]+) m ([\d.]+) ([\d.]+) l S", before_cards)
    return [tuple(float(each) / 72 * 25.4 for each in stroke) for stroke in found]  # type: ignore[misc]


@pytest.mark.parametrize(("size", "paper", "wanted"), [
    ("a6", None, A6), ("id1", None, ID1), ("a6", "a4", A4), ("id1", "a4", A4), ("a6", "letter", LETTER),
])  # fmt: skip
def test_a_page_has_the_size_of_the_standard(size: str, paper: str | None, wanted: tuple[float, float]) -> None:
    assert page_mm(print_cards([ORDINARY], size=size, paper=paper).pdf) == pytest.approx(wanted, abs=0.2)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_cut_marks_stand_the_width_and_height_of_a_card_apart(paper: str) -> None:
    for size, (wide, high), columns, rows in (("id1", ID1, 2, 5),):
        strokes = strokes_mm(print_cards([ORDINARY] * 10, size=size, paper=paper).pdf)
        upright = sorted({round(x1, 2) for x1, _, x2, _ in strokes if abs(x1 - x2) < 0.001})
        level = sorted({round(y1, 2) for _, y1, _, y2 in strokes if abs(y1 - y2) < 0.001})
        assert (len(upright), len(level)) == (columns + 1, rows + 1)
        assert [b - a for a, b in zip(upright, upright[1:], strict=False)] == pytest.approx([wide] * columns, abs=0.2)
        assert [b - a for a, b in zip(level, level[1:], strict=False)] == pytest.approx([high] * rows, abs=0.2)


def test_four_a6_cards_are_cut_from_an_a4_sheet_at_its_middles() -> None:
    strokes = strokes_mm(print_cards([ORDINARY] * 4, paper="a4").pdf)
    assert {round(x1, 1) for x1, _, x2, _ in strokes if abs(x1 - x2) < 0.001} == {105.0}
    assert sorted({round(y1, 1) for _, y1, _, y2 in strokes if abs(y1 - y2) < 0.001}) == [0.5, 148.5, 296.5]


def test_codes_are_read_back_from_a_page_at_150_dpi_by_an_independent_reader(tmp_path: Path) -> None:
    """ISO/IEC 18004: read by a decoder and from a rasterizer that share nothing with what drew the code."""
    addresses = [f"{ADDRESS}{number}" for number in range(10)]
    cards = [replace(ORDINARY, public_url=address) for address in addresses]
    for number, printed in enumerate(
        (print_cards(cards, size="id1", paper="letter"), print_cards(cards[:4], paper="a4"))
    ):
        folder = tmp_path / str(number)
        folder.mkdir()
        (page,) = rasterized(printed.pdf, folder, dpi=150)
        read = {found.text for found in zxingcpp.read_barcodes(page)}
        assert read == set(addresses[: len(addresses) if number == 0 else 4])


@pytest.mark.parametrize("more", [0, 60, 130])
def test_the_longest_addresses_a_small_card_takes_still_read(more: int, tmp_path: Path) -> None:
    address = ADDRESS + "Zb1qT"[0:5] * (more // 5)
    (page,) = rasterized(print_cards([replace(ORDINARY, public_url=address)], size="id1").pdf, tmp_path, dpi=150)
    assert [found.text for found in zxingcpp.read_barcodes(page)] == [address]


def test_a_tag_reads_too(tmp_path: Path) -> None:
    (page,) = rasterized(print_tags([TAG]).pdf, tmp_path, dpi=150)
    assert [found.text for found in zxingcpp.read_barcodes(page)] == [ADDRESS]


def test_a_code_has_the_standards_sides_quiet_zone_and_correction() -> None:
    """ISO/IEC 18004: 17 + 4v modules a side, four modules of quiet zone, level M."""
    symbol = qr.code(ADDRESS)
    modules = symbol.side - 2 * 4
    assert (modules - 17) % 4 == 0
    columns = [column for column, _, _, _ in symbol.runs] + [column + wide for column, _, wide, _ in symbol.runs]
    lines = [row for _, row, _, _ in symbol.runs] + [row + high for _, row, _, high in symbol.runs]
    assert (min(columns), max(columns)) == (min(lines), max(lines)) == (4, 4 + modules)
    # 49 letters at level M fill version 4 (62 bytes); at the next level, Q, version 4 would hold 46.
    assert modules == 33


def test_nothing_but_paper_stands_in_the_quiet_zone(tmp_path: Path) -> None:
    recorder = Recorder()
    printed = print_cards([ORDINARY], size="id1", recorder=recorder)
    (box,) = [box for box in recorder.boxes if box.kind == "code"]
    (page,) = rasterized(printed.pdf, tmp_path, dpi=600)
    dots = 600 / 25.4
    quiet = (box.right - box.left) / qr.code(ADDRESS).side * 4
    grey = page.convert("L")
    whole = (box.left, box.top, box.right, box.bottom)
    inner = (box.left + quiet, box.top + quiet, box.right - quiet, box.bottom - quiet)
    left, top, right, bottom = (round(edge * dots) for edge in whole)
    in_left, in_top, in_right, in_bottom = (round(edge * dots) for edge in inner)
    for strip in (
        (left, top, right, in_top - 2),
        (left, in_bottom + 2, right, bottom),
        (left, top, in_left - 2, bottom),
        (in_right + 2, top, right, bottom),
    ):
        assert grey.crop(strip).getextrema()[0] > 250
