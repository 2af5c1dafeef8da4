"""A printed page as programs see it that know nothing of ours."""

import shutil
import subprocess
from pathlib import Path

import pytest


def words_of(file: Path) -> str:
    from pypdf import PdfReader

    return " ".join(" ".join(page.extract_text() for page in PdfReader(file).pages).split())


def code_on(file: Path, folder: Path) -> str:
    """Where the square code leads, read off the printed page by programs that know nothing of ours."""
    import zxingcpp
    from PIL import Image

    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm was not found: install poppler-utils to read what was printed")
    subprocess.run(["pdftoppm", "-r", "200", "-png", file, folder / file.stem], check=True, timeout=60)
    pages = sorted(folder.glob(f"{file.stem}*.png"))
    found = [code.text for page in pages for code in zxingcpp.read_barcodes(Image.open(page))]
    assert len(found) == 1, found
    return found[0]
