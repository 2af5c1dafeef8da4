"""Facts that tests print: ordinary, bare and hostile ones, and tools that look at a page from outside."""

import shutil
import subprocess
from dataclasses import replace
from io import BytesIO
from itertools import combinations
from pathlib import Path

import pytest
from PIL import Image

from studio.papers.facts import Box, CardFacts, Recorder, TagFacts, WoodFact

ADDRESS = "https://skerry.example/p/q7hT2mWc9LrXv4Kd8Zb1"
OAK = WoodFact("bog oak", "Quercus robur", "a field drain near Harra mill", "Sure of the species")
ORDINARY = CardFacts(
    signed_number="0179",
    title="Bog-oak jar with a grey seam",
    working_number="33/1",
    form="Lidded jar",
    woods=(OAK,),
    resin_words="A seam of grey resin where the trunk had split",
    size_words="148 mm across, 92 mm high",
    weight_words="412 g",
    year="2026",
    maker="Ines Thorvald",
    studio_name="Skerry Turning Room",
    finish="Hard wax oil, six coats",
    care=("Wipe with a dry cloth", "Keep it out of full sun"),
    public_url=ADDRESS,
)
BARE = CardFacts(signed_number="12", title="Small dish")
HOSTILE = replace(
    ORDINARY,
    signed_number="7" * 200,
    title="W" * 200,
    form="<b>form</b> " * 16,
    woods=(WoodFact("Łęg żółty Ж " * 16, "Dalbergia × sp. 'Big Leaf'", "ą" * 200, "q" * 200),) * 3,
    resin_words="R" * 200,
    size_words="9" * 200,
    weight_words="8" * 200,
    year="2" * 200,
    maker="M" * 200,
    studio_name="S" * 200,
    finish="f " * 100,
    care=("c" * 200,) * 4,
    cautions=("Not for food or flame", "x" * 200),
    note="N" * 200,
)
TAG = TagFacts(
    "0179", "Bog-oak jar with a grey seam", "Lidded jar", (OAK,), "148 × 92 mm", "2026", "Ines Thorvald",
    "Skerry Turning Room", "€ 730", public_url=ADDRESS,
)  # fmt: skip
HOSTILE_TAG = TagFacts(
    "7" * 200, "W" * 200, "f" * 200, HOSTILE.woods, "9" * 200, "2" * 200, "M" * 200, "S" * 200, "p" * 200,
    ("c" * 200,), ADDRESS,
)  # fmt: skip


def overlapping(recorder: Recorder) -> list[tuple[Box, Box]]:
    """Pairs of boxes of one card that lie on each other."""
    return [
        (one, two)
        for one, two in combinations([box for box in recorder.boxes if box.owner >= 0], 2)
        if one.owner == two.owner and one.overlaps(two)
    ]


def outside(recorder: Recorder, width: float, height: float) -> list[Box]:
    """Boxes that leave their card."""
    return [
        box
        for box in recorder.boxes
        if box.owner >= 0 and (box.left < 0 or box.top < 0 or box.right > width or box.bottom > height)
    ]


def rasterized(pdf: bytes, tmp_path: Path, *, dpi: int) -> list[Image.Image]:
    """Every page as an independent program draws it (poppler)."""
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm was not found: install poppler-utils to look at printed pages")
    (tmp_path / "paper.pdf").write_bytes(pdf)
    command = ["pdftoppm", "-r", str(dpi), "-png", "paper.pdf", "page"]
    subprocess.run(command, cwd=tmp_path, check=True, timeout=60)
    return [Image.open(BytesIO(path.read_bytes())) for path in sorted(tmp_path.glob("page*.png"))]
