import io
import os
import struct
import subprocess
import sys
import zlib
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, ImageCms

from studio.fields.errors import Refused
from studio.people.models import User
from studio.pictures import operations, queries, reading
from studio.pictures.models import Picture, Size

pytestmark = pytest.mark.django_db
Photo = Callable[..., io.BytesIO]


@pytest.fixture
def take(maker: User, at: datetime) -> Callable[[Any], Picture]:
    def _take(file: Any) -> Picture:
        if isinstance(file, bytes):
            file = io.BytesIO(file)
        return operations.take(file=file, by=maker, at=at)

    return _take


Take = Callable[[Any], Picture]


def _pixel(picture: Picture, x: float, y: float, size: Size = Size.LARGE) -> tuple[int, int, int]:
    with Image.open(picture.path(size)) as image:
        return image.getpixel((int(x * (image.width - 1)), int(y * (image.height - 1))))  # type: ignore[return-value]


def _is_red(pixel: tuple[int, int, int]) -> bool:
    return pixel[0] > 150 and pixel[2] < 80


def _is_blue(pixel: tuple[int, int, int]) -> bool:
    return pixel[2] > 150 and pixel[0] < 80


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_a_photograph_is_kept_in_two_sizes(take: Take, photo: Photo, kind: str) -> None:
    picture = take(photo(kind, 2000, 1500))
    assert (picture.width, picture.height) == (1600, 1200)
    for size, side in ((Size.LARGE, 1600), (Size.SMALL, 400)):
        with Image.open(picture.path(size)) as image:
            assert image.format == "JPEG"
            assert image.mode == "RGB"
            assert image.size == (side, side * 3 // 4) == picture.shown_size(size)
    assert _is_red(_pixel(picture, 0.1, 0.5))
    assert _is_blue(_pixel(picture, 0.9, 0.5))


def test_a_small_picture_is_not_blown_up(take: Take, photo: Photo) -> None:
    picture = take(photo("PNG", 64, 48))
    assert picture.shown_size(Size.LARGE) == picture.shown_size(Size.SMALL) == (64, 48)
    with Image.open(picture.path(Size.SMALL)) as image:
        assert image.size == (64, 48)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_nothing_of_the_place_or_the_camera_is_left(take: Take, photo: Photo, kind: str) -> None:
    sent = photo(kind, 300, 200).getvalue()
    with Image.open(io.BytesIO(sent)) as image:  # what is sent does carry it
        assert image.getexif()[0x010F] == "Sentinelcamera"
        assert image.getexif().get_ifd(0x8825)
    picture = take(sent)
    for size in Size:
        data = picture.path(size).read_bytes()
        assert b"Sentinel" not in data
        assert b"Exif" not in data
        with Image.open(io.BytesIO(data)) as image:
            assert not image.getexif()
            assert not image.getexif().get_ifd(0x8825)
            assert not {"exif", "xmp", "icc_profile", "photoshop", "comment"} & image.info.keys()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("large", [False, True])
def test_a_picture_taken_with_the_camera_on_its_side_stands_upright(
    take: Take, photo: Photo, kind: str, large: bool
) -> None:
    width, height = (4000, 2000) if large else (200, 100)
    picture = take(photo(kind, width, height, orientation=6))  # 6: turn a quarter clockwise to see it
    assert picture.height == 2 * picture.width
    assert _is_red(_pixel(picture, 0.5, 0.1))
    assert _is_blue(_pixel(picture, 0.5, 0.9))


def test_a_heic_turned_by_its_camera_stands_upright(take: Take, photo: Photo) -> None:
    picture = take(photo("HEIF", 200, 100, orientation=6))
    assert picture.height == 2 * picture.width
    assert _is_red(_pixel(picture, 0.5, 0.1))


@pytest.mark.parametrize(
    ("kind", "mode"), [("JPEG", "CMYK"), ("JPEG", "L"), ("PNG", "P"), ("PNG", "1"), ("PNG", "LA")]
)
def test_any_way_of_keeping_colours_is_read(take: Take, photo: Photo, kind: str, mode: str) -> None:
    picture = take(photo(kind, 100, 50, mode=mode))
    assert (picture.width, picture.height) == (100, 50)
    if mode in ("CMYK", "P"):
        assert _is_red(_pixel(picture, 0.1, 0.5))
        assert _is_blue(_pixel(picture, 0.9, 0.5))


@pytest.mark.parametrize("width", [100, 4000])
def test_greys_of_sixteen_bits_do_not_turn_white(take: Take, width: int) -> None:
    out = io.BytesIO()
    Image.new("I;16", (width, 40), 128 * 256).save(out, "PNG")
    assert abs(_pixel(take(out.getvalue()), 0.5, 0.5)[0] - 128) <= 2


@pytest.mark.parametrize("mode", ["RGBA", "P"])
def test_what_is_see_through_becomes_white_paper(take: Take, mode: str) -> None:
    out = io.BytesIO()
    image = Image.new("RGBA", (100, 100), (0, 0, 0, 0))
    image.paste((200, 20, 20, 255), (0, 0, 50, 100))
    image.convert(mode).save(out, "PNG")
    picture = take(out.getvalue())
    assert min(_pixel(picture, 0.9, 0.5)) > 245
    assert _is_red(_pixel(picture, 0.1, 0.5))


def test_a_profile_is_applied_and_a_broken_one_leaves_the_colours(take: Take, photo: Photo) -> None:
    grey = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    assert _is_red(_pixel(take(photo("JPEG", 100, 50, icc_profile=grey)), 0.1, 0.5))
    assert _is_red(_pixel(take(photo("JPEG", 102, 50, icc_profile=b"not a profile at all")), 0.1, 0.5))


def test_the_same_file_twice_is_one_picture(take: Take, photo: Photo) -> None:
    first = take(photo())
    assert take(photo()) == first
    assert Picture.objects.count() == 1
    assert len(list(queries.root().rglob("*.jpg"))) == 2


def test_a_lost_file_comes_back_with_the_same_photograph(take: Take, photo: Photo) -> None:
    first = take(photo())
    first.path(Size.SMALL).unlink()
    assert len(queries.audit().missing) == 1
    assert take(photo()) == first
    assert queries.audit().clean


SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("svg.jpg", SVG),
        ("svg with a declaration.jpg", b'<?xml version="1.0"?>' + SVG),
        ("page.jpg", b"<!doctype html><script>alert(1)</script>"),
        ("gif.jpg", b"GIF89a/*<script>alert(1)</script>*/="),
        ("postscript.jpg", b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n"),
        ("paper.jpg", b"%PDF-1.7\n"),
        ("tiff.jpg", b"II*\x00" + b"\x00" * 40),
        ("bmp.jpg", b"BM" + b"\x00" * 60),
        ("avif.jpg", b"\x00\x00\x00\x20ftypavif" + b"\x00" * 40),
        ("words.jpg", b"just words"),
    ],
)
def test_what_is_no_photograph_is_refused_whatever_its_name(take: Take, name: str, data: bytes) -> None:
    file = io.BytesIO(data)
    file.name = name
    with pytest.raises(reading.NotAPicture, match="JPEG, PNG, WebP or HEIC") as refused:
        take(file)
    assert refused.value.field == "picture"
    _nothing_stayed()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_a_file_cut_short_is_refused_with_a_sentence(take: Take, photo: Photo, kind: str) -> None:
    whole = photo(kind, 900, 700).getvalue()
    for end in (13, 40, len(whole) // 2):
        with pytest.raises(reading.NotAPicture, match="damaged|isn't a photograph"):
            take(whole[:end])
    _nothing_stayed()


def test_a_page_hidden_behind_the_first_bytes_of_a_picture_is_refused(take: Take) -> None:
    for start in (
        b"\xff\xd8\xff",
        b"\x89PNG\r\n\x1a\n",
        b"RIFF\x00\x00\x00\x00WEBP",
        b"\x00\x00\x00\x18ftypheic",
    ):
        with pytest.raises(reading.NotAPicture, match="damaged"):
            take(start + b"<script>alert(1)</script>" * 20)
    _nothing_stayed()


def test_what_hangs_behind_a_real_picture_is_not_kept(take: Take, photo: Photo) -> None:
    picture = take(photo().getvalue() + b"<script>sentinel</script>")
    assert all(b"sentinel" not in picture.path(size).read_bytes() for size in Size)


@pytest.mark.parametrize("side", [7072, 20_000, 60_000])
def test_a_bomb_is_refused_before_it_is_unpacked(take: Take, side: int, monkeypatch: Any) -> None:
    def unpacked(*_args: Any, **_more: Any) -> None:
        raise AssertionError("a pixel was unpacked")

    monkeypatch.setattr("PIL.ImageFile.ImageFile.load", unpacked)
    with pytest.raises(reading.TooLarge, match="50 million") as refused:
        take(_bomb(side, side))
    assert refused.value.code == "too_many_pixels"
    _nothing_stayed()


def test_an_empty_or_a_too_large_file_is_refused(take: Take) -> None:
    with pytest.raises(reading.NotAPicture, match="empty"):
        take(b"")
    with pytest.raises(reading.TooLarge, match="15 MB"):
        take(b"\xff\xd8\xff" + bytes(reading.MOST_BYTES))
    _nothing_stayed()


def test_no_more_of_a_file_is_read_than_may_be_kept(take: Take) -> None:
    class Endless:
        asked = 0

        def read(self, length: int) -> bytes:
            self.asked += length
            return bytes(length)

    endless = Endless()
    with pytest.raises(reading.TooLarge):
        take(endless)
    assert endless.asked == reading.MOST_BYTES + 1


def test_every_refusal_is_a_sentence(take: Take) -> None:
    for data in (b"", b"x", _bomb(9000, 9000), b"\xff\xd8\xff"):
        with pytest.raises(Refused) as refused:
            take(data)
        assert refused.value.message.endswith(".")


def _nothing_stayed() -> None:
    assert not Picture.objects.exists()
    assert not [path for path in queries.root().rglob("*") if path.is_file()]


def _bomb(width: int, height: int) -> bytes:
    """A PNG of a few bytes that says it is huge."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b"\0" * 999))
        + chunk(b"IEND", b"")
    )


def test_the_largest_pictures_taken_do_not_eat_the_machines_memory(tmp_path: Path) -> None:
    pytest.importorskip("resource")
    measure = """
import django, pathlib, resource, sys
django.setup()
from studio.pictures import reading
grown = []
for name in ("small", "PNG", "WEBP"):
    reading.renditions(pathlib.Path(sys.argv[1], name).read_bytes())
    grown.append(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
print((grown[-1] - grown[0]) // 1024)
"""
    Image.new("RGB", (20, 20)).save(tmp_path / "small", "PNG")
    for kind, mode, most in (("PNG", "RGBA", reading.MOST_SEE_THROUGH), ("WEBP", "RGB", reading.MOST_WEBP)):
        Image.new(mode, (5000, most // 5000), (9, 99, 9, 99)[: len(mode)]).save(tmp_path / kind, kind)
    assert int(_run(measure, str(tmp_path))) < 400  # megabytes


@pytest.mark.parametrize(("kind", "mode", "million"), [("PNG", "RGBA", 40), ("WEBP", "RGB", 25)])
def test_kinds_that_take_more_memory_may_have_fewer_pixels(take: Take, kind: str, mode: str, million: int) -> None:
    out = io.BytesIO()
    Image.new(mode, (5000, million * 200 + 1)).save(out, kind)
    with pytest.raises(reading.TooLarge, match=f"{million} million"):
        take(out.getvalue())


def _run(code: str, argument: str) -> str:
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run(  # noqa: S603  our own interpreter, our own words
        [sys.executable, "-c", code, argument], env=env, check=True, capture_output=True, text=True
    )
    return done.stdout.strip()
