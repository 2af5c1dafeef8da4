"""The letters of the screens: what is kept of them, and where they are found."""

import io
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.staticfiles import finders
from fontTools.ttLib import TTFont

from studio.web import fonts

NAMES = sorted(fonts.FILES)


@pytest.mark.parametrize("name", NAMES)
def test_a_cut_font_keeps_the_letters_names_are_written_with(name: str):
    font = TTFont(io.BytesIO((fonts.folder() / name).read_bytes()))
    assert font.flavor == "woff2"
    kept = font.getBestCmap()
    assert not [letter for letter in "AaÉŁřğ½¾€–…“”×" if ord(letter) not in kept]
    if "italic" not in name:
        assert not [letter for letter in "ЖяΩµ→₂≥" if ord(letter) not in kept]


@pytest.mark.parametrize("name", NAMES)
def test_figures_can_line_up_and_fractions_be_drawn(name: str):
    font = TTFont(io.BytesIO((fonts.folder() / name).read_bytes()))
    tags = {record.FeatureTag for record in font["GSUB"].table.FeatureList.FeatureRecord}
    assert {"lnum", "tnum", "frac"} <= tags


@pytest.mark.parametrize("name", NAMES)
def test_a_cut_font_is_at_most_half_of_what_it_was_cut_from(name: str):
    assert (fonts.folder() / name).stat().st_size * 2 < len(fonts._source(f"files/{fonts.FILES[name][0]}"))


def test_the_same_letters_give_the_same_bytes():
    source = fonts._source("files/AlegreyaSans-Italic.ttf")
    assert fonts.cut(source, "0041-005A") == fonts.cut(source, "0041-005A")


def test_a_font_is_cut_once(monkeypatch: pytest.MonkeyPatch):
    fonts.folder()
    monkeypatch.setattr(fonts, "cut", lambda *_: pytest.fail("cut again"))
    fonts.folder()


def test_a_font_that_is_missing_is_cut_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(fonts.settings, "DATA_DIR", tmp_path)
    monkeypatch.setattr(fonts, "cut", lambda source, letters: b"cut")
    place = fonts.folder()
    (place / NAMES[0]).unlink()
    assert (fonts.folder() / NAMES[0]).read_bytes() == b"cut"


def test_the_fonts_are_found_as_static_files_with_their_licence():
    for name in (*NAMES, fonts.LICENCE):
        assert finders.find(f"fonts/{name}") == str(fonts.folder() / name)
    assert finders.find("fonts/../secret") is None
    assert finders.find("fonts/alegreya-sans-thin.woff2") is None


def test_every_file_a_style_sheet_asks_for_exists():
    sheets = sorted((Path(settings.BASE_DIR) / "static" / "css").glob("*.css"))
    asked = {found for sheet in sheets for found in re.findall(r'url\("\.\./([^"]+)"\)', sheet.read_text())}
    assert len(asked) == len(NAMES)
    assert [path for path in sorted(asked) if finders.find(path) is None] == []


def test_style_sheets_load_nothing_from_elsewhere():
    for sheet in (Path(settings.BASE_DIR) / "static" / "css").glob("*.css"):
        assert not re.search(r"https?:|@import|url\(data", sheet.read_text()), sheet
