"""Making the two renditions from a file that somebody sent. It brings Pillow: not for start-up.

What a file is, its first bytes say; its name and the sender's word count for nothing. The picture is
decoded, turned upright, brought into sRGB and encoded anew: place, camera and whatever else travelled in it
stay behind.
"""

import io
import zlib
from dataclasses import dataclass
from typing import Any

from PIL import Image, ImageCms, ImageOps

from studio.fields.errors import Refused
from studio.pictures.models import SIDES, Size

MOST_BYTES = 15 * 1024 * 1024
MOST_PIXELS = 50_000_000
# Pictures that take more memory while they are decoded: none may take 400 MB.
MOST_SEE_THROUGH = 40_000_000
MOST_WEBP = 25_000_000
QUALITY = 84
_PAPER = (255, 255, 255)
# What Pillow raises on files that are broken, by accident or on purpose.
_BROKEN = (
    OSError,
    ValueError,
    SyntaxError,
    EOFError,
    TypeError,
    IndexError,
    KeyError,
    RuntimeError,
    OverflowError,
    zlib.error,
    Image.DecompressionBombError,
)


class NotAPicture(Refused):
    """The file is of no kind that is kept here, or can't be read."""


class TooLarge(Refused):
    """The file has too many bytes or too many pixels."""


@dataclass(frozen=True)
class Renditions:
    """The upright picture's full width and height in the large rendition, and both encoded files."""

    width: int
    height: int
    files: dict[Size, bytes]


def kind_of(data: bytes) -> str:
    """Return Pillow's name of the format by the first bytes. Raises `NotAPicture` for others."""
    if data.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "WEBP"
    if data[4:8] == b"ftyp" and data[8:12] in (b"heic", b"heix", b"heim", b"heis", b"mif1", b"msf1"):
        return "HEIF"
    raise NotAPicture(
        "That isn't a photograph this can read. Send a JPEG, PNG, WebP or HEIC, as phones make them.",
        field="picture",
        code="not_a_picture",
    )


def renditions(data: bytes) -> Renditions:
    """Return both renditions of a picture.

    Raises `NotAPicture` for a file of another kind or a broken one, `TooLarge` beyond 15 MB or 50 million
    pixels (looked at before a pixel is decoded).
    """
    check_bytes(len(data))
    kind = kind_of(data)
    try:
        with _opened(data, kind) as image:
            check_pixels(image.size, _most_pixels(image, kind))
            image.draft("RGB", (SIDES[Size.LARGE],) * 2)  # a JPEG is decoded no larger than needed
            plain = _plain(_upright(_shrunk(image)))
            files = {size: _encoded(plain, side) for size, side in SIDES.items()}
            size_shown = _fitted(plain, SIDES[Size.LARGE]).size
    except Image.DecompressionBombError as error:
        raise _too_many_pixels(MOST_PIXELS) from error
    except Refused:
        raise
    except _BROKEN as error:
        raise NotAPicture(
            "That picture is damaged and can't be read to its end. Send it once more, or take another.",
            field="picture",
            code="damaged",
        ) from error
    return Renditions(size_shown[0], size_shown[1], files)


def check_bytes(length: int) -> None:
    """Raise `TooLarge` for a file beyond 15 MB, `NotAPicture` for an empty one."""
    if length > MOST_BYTES:
        raise TooLarge(
            f"That file is larger than {MOST_BYTES // 1024**2} MB, the most that fits. Send a smaller one.",
            field="picture",
            code="too_large",
        )
    if not length:
        raise NotAPicture("That file is empty. Choose the picture once more.", field="picture", code="empty")


def _opened(data: bytes, kind: str) -> Any:
    if kind == "HEIF":
        from pillow_heif import register_heif_opener

        register_heif_opener(thumbnails=False)
    return Image.open(io.BytesIO(data), formats=[kind])


def check_pixels(size: tuple[int, int], most: int) -> None:
    """Raise `TooLarge` for a picture of more than `most` pixels."""
    if size[0] * size[1] > most:
        raise _too_many_pixels(most)


def _most_pixels(image: Any, kind: str) -> int:
    if kind == "WEBP":
        return MOST_WEBP
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        return MOST_SEE_THROUGH
    return MOST_PIXELS


def _too_many_pixels(most: int) -> TooLarge:
    return TooLarge(
        f"That picture has more than {most // 10**6} million pixels. Send it in a smaller size.",
        field="picture",
        code="too_many_pixels",
    )


def _shrunk(image: Any) -> Any:
    """Bring a large picture down first, so that it is never held several times at full size."""
    image.load()
    side = 2 * SIDES[Size.LARGE]
    if image.mode.startswith("I;16") or image.mode in ("I", "F"):
        image = _eight_bits(image, side)
    elif image.mode in ("P", "PA", "1") or (image.mode in ("RGB", "L") and "transparency" in image.info):
        image = image.convert("RGBA" if "transparency" in image.info or image.mode == "PA" else "RGB")
    if max(image.size) > side:
        image.thumbnail((side, side), Image.Resampling.LANCZOS)
    return image


def _eight_bits(image: Any, side: int) -> Any:
    """Return a picture of 16-bit greys in 8 bits (Pillow's own conversion cuts off at 255)."""
    if max(image.size) > side:
        scale = side / max(image.size)
        fitted = (max(1, int(image.width * scale)), max(1, int(image.height * scale)))
        image = image.resize(fitted, Image.Resampling.NEAREST)
    return image.convert("I").point(lambda value: value * (1 / 256)).convert("L")


def _upright(image: Any) -> Any:
    """Turn the picture as the camera was held; marks that can't be read turn nothing."""
    try:
        return ImageOps.exif_transpose(image)
    except _BROKEN:
        return image


def _plain(image: Any) -> Any:
    """Return the picture in 8-bit sRGB on white, whatever colours it came in."""
    profile = image.info.get("icc_profile")
    if image.mode in ("RGBA", "LA"):
        clear = image.convert("RGBA")
        paper = Image.new("RGBA", clear.size, (*_PAPER, 255))
        image = Image.alpha_composite(paper, clear).convert("RGB")
    if profile and image.mode in ("RGB", "CMYK", "L"):
        image = _in_srgb(image, profile)
    return image if image.mode == "RGB" else image.convert("RGB")


def _in_srgb(image: Any, profile: bytes) -> Any:
    """Bring a phone's wide colours into sRGB; a profile that can't be used leaves the numbers as they are."""
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        return ImageCms.profileToProfile(image, source, ImageCms.createProfile("sRGB"), outputMode="RGB") or image
    except (ImageCms.PyCMSError, OSError, ValueError):
        return image


def _fitted(image: Any, side: int) -> Any:
    fitted = image.copy()
    fitted.thumbnail((side, side), Image.Resampling.LANCZOS)
    return fitted


def _encoded(image: Any, side: int) -> bytes:
    fitted = _fitted(image, side)
    bare = Image.new("RGB", fitted.size, _PAPER)
    bare.paste(fitted)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=QUALITY, optimize=True, progressive=False)
    return out.getvalue()
