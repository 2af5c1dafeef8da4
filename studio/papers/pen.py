"""Draws on one card at a time: millimetres from its top left corner, in the two inks a paper has."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from studio.fields.errors import Refused

from . import qr
from .facts import Box, Recorder
from .text import ASCENT, DESCENT, MM_PER_POINT, Bit, Block, Laid, Line, SetLine, Typesetter, fit

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas


class PictureUnreadable(Refused):
    """A picture meant for a card is gone or is no picture."""


INK = (0x18 / 255, 0x21 / 255, 0x1C / 255)
QUIET = (0x4D / 255, 0x5A / 255, 0x52 / 255)
HAIR = (0xAF / 255, 0xBA / 255, 0xB1 / 255)
POINTS = 72 / 25.4
PICTURE_DPI = 200


@dataclass
class Pen:
    """Bound to a document; `start` places it on a card."""

    canvas: Canvas
    setter: Typesetter
    recorder: Recorder | None = None
    owner: int = 0
    page: int = 0
    width: float = 0.0
    height: float = 0.0
    label: str = ""

    def __post_init__(self) -> None:
        self.elided: list[str] = []
        self._pictures: dict[Path, Any] = {}
        self._shown: dict[tuple[str, str], list[tuple[str, str]]] = {}

    def start(self, *, owner: int, page: int, width: float, height: float, label: str) -> None:
        """Begins a card; the canvas must already be moved so that its lower left corner is the origin."""
        self.owner, self.page, self.width, self.height, self.label = owner, page, width, height, label

    def note(self, kind: str, left: float, top: float, right: float, bottom: float, text: str = "") -> None:
        """Tells the recorder, if there is one."""
        if self.recorder is not None:
            self.recorder.boxes.append(Box(self.owner, self.page, kind, left, top, right, bottom, text))

    def line(self, x1: float, y1: float, x2: float, y2: float, *, weight: float, colour: Any = INK) -> None:
        """A straight stroke, `weight` in millimetres."""
        red, green, blue = colour
        start, stop = self.height - y1, self.height - y2
        self.canvas._code.append(
            f"{red:.4f} {green:.4f} {blue:.4f} RG {weight * POINTS:.3f} w "
            f"{x1 * POINTS:.3f} {start * POINTS:.3f} m {x2 * POINTS:.3f} {stop * POINTS:.3f} l S"
        )

    def circle(self, x: float, y: float, radius: float, *, weight: float, colour: Any = INK) -> None:
        """A ring, as the punched hole of a tag."""
        self.canvas.setStrokeColorRGB(*colour)
        self.canvas.setLineWidth(weight * POINTS)
        self.canvas.circle(x * POINTS, (self.height - y) * POINTS, radius * POINTS, stroke=1, fill=0)

    def outline(
        self,
        left: float,
        top: float,
        width: float,
        height: float,
        *,
        radius: float,
        weight: float,
        colour: Any = INK,
    ) -> None:
        """The tie-on tag: rounded at the left, square at the right."""
        path = self.canvas.beginPath()
        r = radius * POINTS
        x1, x2 = left * POINTS, (left + width) * POINTS
        y1, y2 = (self.height - top - height) * POINTS, (self.height - top) * POINTS
        path.moveTo(x2, y1)
        path.lineTo(x2, y2)
        path.lineTo(x1 + r, y2)
        path.arcTo(x1, y2 - 2 * r, x1 + 2 * r, y2, startAng=90, extent=90)
        path.lineTo(x1, y1 + r)
        path.arcTo(x1, y1, x1 + 2 * r, y1 + 2 * r, startAng=180, extent=90)
        path.close()
        self.canvas.setStrokeColorRGB(*colour)
        self.canvas.setLineWidth(weight * POINTS)
        self.canvas.drawPath(path, stroke=1, fill=0)

    def fit(self, blocks: Sequence[Block], width: float, height: float, *, at_most: float = 1.0) -> Laid:
        """Sets blocks into a box, as `text.fit` does."""
        return fit(self.setter, blocks, width, height, at_most=at_most)

    def lines(self, laid: Laid, left: float, top: float) -> None:
        """Draws set lines with their box's corner at (left, top), and remembers what had to be shortened."""
        self.elided.extend(f"{self.label}: {name}" for name in laid.elided)
        for each in laid.lines:
            self.set_line(each, left, top)

    def set_line(self, each: SetLine, left: float, top: float) -> None:
        """Draws one set line."""
        baseline = top + each.baseline
        size = each.size * MM_PER_POINT
        top, bottom = baseline - ASCENT * size, baseline + DESCENT * size
        self.note(f"text:{each.name}", left, top, left + each.width_mm, bottom, each.line.text)
        self._show(each.line, each.size, left * POINTS, (self.height - baseline) * POINTS)

    def _show(self, line: Line, size: float, x: float, y: float) -> None:
        """Writes the text operators itself, because only so can letters be kerned.

        Words that follow each other in one face are one string with their spaces in it, so that what is copied
        out of the file reads as it looks.
        """
        out = ["BT"]
        colour: bool | None = None
        subset = before = None
        end = 0.0
        for offset, bit in line.bits:
            spaced = offset - end > 1.0
            follows = before is bit.face and colour is bit.quiet
            if spaced and before is not None:
                out.append("( )")
            if not follows or (spaced and abs(offset - end - bit.face.width(" ")) > 0.5):
                if before is not None:
                    out.append("] TJ")
                if colour is not bit.quiet:
                    out.append("{:.4f} {:.4f} {:.4f} rg".format(*(QUIET if bit.quiet else INK)))
                out.append(f"1 0 0 1 {x + offset * size / 1000:.3f} {y:.3f} Tm")
                subset = None
            for name, shown in self._strings(bit):
                if name != subset:
                    out.append(f"{'' if subset is None else '] TJ '}{name} {size:.3f} Tf [")
                    subset = name
                out.append(shown)
            before, colour, end = bit.face, bit.quiet, offset + bit.width
        if before is not None:
            out.append("] TJ")
        out.append("ET")
        self.canvas._code.append("\n".join(out))

    def _strings(self, bit: Bit) -> list[tuple[str, str]]:
        """A bit as strings with the kerning between them, each with the name of its embedded font."""
        key = (bit.face.name, bit.text)
        if key not in self._shown:
            font, document, escape = bit.face.font, self.canvas._doc, self.canvas._escape
            found: list[tuple[str, str]] = []
            number = 0
            for subset, chunk in font.splitString(bit.text, document):
                parts: list[str] = []
                start = 0
                for stop in range(1, len(chunk) + 1):
                    kern = bit.kerns[number] if number < len(bit.kerns) else 0.0
                    number += 1
                    if kern or stop == len(chunk):
                        parts.append(f"({escape(chunk[start:stop])})")
                        if kern:
                            parts.append(f"{-kern:.4g}")
                        start = stop
                found.append((font.getSubsetInternalName(subset, document), " ".join(parts)))
            self._shown[key] = found
        return self._shown[key]

    def code(self, address: str, left: float, top: float, side: float) -> None:
        """The code with its quiet zone, filling a square of `side`."""
        symbol = qr.code(address)
        module = side / symbol.side * POINTS
        x, y = left * POINTS, (self.height - top) * POINTS
        # Rows count downward, in modules. A hundredth of one more below and to the right closes the seams that
        # some viewers would show between rectangles.
        out = [f"q {module:.5f} 0 0 {-module:.5f} {x:.3f} {y:.3f} cm {INK[0]:.4f} {INK[1]:.4f} {INK[2]:.4f} rg"]
        out.extend(f"{column} {row} {wide}.01 {high}.01 re" for column, row, wide, high in symbol.runs)
        out.append("f Q")
        self.canvas._code.append("\n".join(out))
        self.note("code", left, top, left + side, top + side, address)

    def picture(self, path: Path, right: float, top: float, width: float, height: float) -> float:
        """The picture as large as fits the box, against its top right corner; returns the width it took."""
        image, aspect = self._picture(path, width, height)
        wide = min(width, height * aspect)
        high = wide / aspect
        self.canvas.drawImage(
            image, (right - wide) * POINTS, (self.height - top - high) * POINTS, wide * POINTS, high * POINTS
        )
        self.note("picture", right - wide, top, right, top + high)
        return wide

    def _picture(self, path: Path, width: float, height: float) -> tuple[Any, float]:
        from PIL import Image, ImageOps
        from reportlab.lib.utils import ImageReader

        if path not in self._pictures:
            pixels = (round(width / 25.4 * PICTURE_DPI), round(height / 25.4 * PICTURE_DPI))
            try:
                with Image.open(path) as opened:
                    opened.draft("RGB", (pixels[0] * 2, pixels[1] * 2))
                    image = ImageOps.exif_transpose(opened).convert("RGB")
                    image.thumbnail(pixels, Image.Resampling.LANCZOS)
            except (OSError, ValueError, Image.DecompressionBombError) as error:
                raise PictureUnreadable(
                    f"The picture for {self.label} can't be opened. Choose another, or print without one.",
                    code="picture-unreadable",
                ) from error
            out = BytesIO()
            image.save(out, "JPEG", quality=88, optimize=True)
            self._pictures[path] = (ImageReader(out), image.width / image.height)
        return self._pictures[path]
