"""A walk through the demo with a camera: which screens, how wide, and what is clicked to get there."""

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urljoin

if TYPE_CHECKING:
    from playwright.sync_api import Page, ViewportSize

WIDE: "ViewportSize" = {"width": 1280, "height": 800}
NARROW: "ViewportSize" = {"width": 390, "height": 844}
COLOURS = 64


class NoBrowser(Exception):
    """No Chromium was found, or the test extra isn't installed."""


@dataclass(frozen=True)
class Stop:
    """One picture: its name, the size of the screen, and how one gets there from the round."""

    name: str
    size: "ViewportSize"
    go: "Callable[[Page], None]"


def _word(word: str) -> "Callable[[Page], None]":
    def go(page: "Page") -> None:
        page.get_by_role("navigation").get_by_role("link", name=word, exact=True).click()

    return go


def _stay(page: "Page") -> None:
    pass


def _first_of(word: str, address: str) -> "Callable[[Page], None]":
    """Under a word of the header, the first link that leads to something of this kind."""

    def go(page: "Page") -> None:
        _word(word)(page)
        page.locator(f'main a[href^="{address}"]').first.click()

    return go


STOPS = (
    Stop("round", WIDE, _stay),
    Stop("round-phone", NARROW, _stay),
    Stop("stores", WIDE, _word("Stores")),
    Stop("piece", WIDE, _first_of("Pieces", "/pieces/")),
    Stop("commissions", WIDE, _word("Commissions")),
    Stop("galleries", WIDE, _word("Galleries")),
    Stop("prices", WIDE, _word("Prices")),
    Stop("books", WIDE, _word("Books")),
)


def take(link: str, folder: Path) -> Iterator[str]:
    """Sign in by the link, walk the stops, write one PNG each; yields the names as they are done."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        raise NoBrowser("The pictures want the test extra: run `python3 manage.py test` once first.") from None
    chromium = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if chromium is None:
        raise NoBrowser("Chromium was not found. Install it, then run this again.")
    as_root = hasattr(os, "geteuid") and os.geteuid() == 0
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium, args=["--no-sandbox"] if as_root else [])
        context = browser.new_context(color_scheme="light")
        page = context.new_page()
        page.goto(link)
        for stop in STOPS:
            page.set_viewport_size(WIDE)
            page.goto(urljoin(link, "/"))
            stop.go(page)
            page.wait_for_load_state("networkidle")
            page.set_viewport_size(stop.size)
            page.evaluate("document.fonts.ready")
            target = folder / f"{stop.name}.png"
            page.screenshot(path=str(target))
            _make_small(target)
            yield stop.name
        browser.close()


def _make_small(path: Path) -> None:
    """Few colours make a screen a small picture; a README is read on trains."""
    from PIL import Image

    with Image.open(path) as picture:
        small = picture.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
    small.save(path, optimize=True)
