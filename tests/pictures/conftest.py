import io
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from studio.people.models import Role, User


@pytest.fixture
def at() -> datetime:
    return datetime(2025, 3, 10, 9, 30, tzinfo=UTC)


@pytest.fixture
def maker(db: None) -> User:
    return User.objects.create_user(username="maker", display_name="A Maker", role=Role.MAKER)


@pytest.fixture(autouse=True)
def folder(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path / "pictures"
    return settings.MEDIA_ROOT


def half_and_half(width: int, height: int, mode: str = "RGB") -> Image.Image:
    """A picture whose left half is red and right half blue: it shows when it was turned."""
    image = Image.new("RGB", (width, height), (200, 20, 20))
    image.paste((20, 20, 200), (width // 2, 0, width, height))
    return image.convert(mode)


@pytest.fixture
def photo() -> Callable[..., io.BytesIO]:
    """A file of a half red, half blue picture, its EXIF naming a place, a camera and how it was held."""

    def _photo(
        kind: str = "JPEG",
        width: int = 64,
        height: int = 48,
        orientation: int = 1,
        mode: str = "RGB",
        **more: Any,
    ) -> io.BytesIO:
        if kind == "HEIF":
            from pillow_heif import register_heif_opener

            register_heif_opener()
        exif = Image.Exif()
        exif[0x010F] = "Sentinelcamera"
        exif[0x0112] = orientation
        exif.get_ifd(0x8825).update({1: "N", 2: (59.0, 12.0, 34.5), 3: "E", 4: (10.0, 44.0, 21.5)})
        exif[0x8825] = exif.get_ifd(0x8825)
        out = io.BytesIO()
        half_and_half(width, height, mode).save(out, kind, exif=exif.tobytes(), **more)
        out.seek(0)
        return out

    return _photo
