"""The letters of the screens, cut down from the installed font package when static files are collected.

Three files of about 20 to 60 kB stand in for half a megabyte of desktop fonts: regular, extra bold, and an
italic for botanical names. They are made once and kept beside the studio's data under a hash of their making.
"""

import hashlib
import os
import tempfile
import threading
from collections.abc import Iterator
from functools import cache
from importlib import metadata, resources
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles.finders import BaseFinder
from django.contrib.staticfiles.utils import matches_patterns
from django.core.files.storage import FileSystemStorage

PACKAGE = "fontpkg_alegreya_sans"
PREFIX = "fonts"
RECIPE = 1  # raised when what is kept changes in a way the lists below don't show
LATIN = "0020-007E,00A0-024F,0300-036F,1E00-1EFF,2000-206F,20A0-20BF"
ALL = LATIN + ",0370-03FF,0400-052F,2070-209F,2100-218F,2190-21FF,2200-22FF,2500-25FF"
# Figures that line up (lnum, tnum), fractions as 3½ is drawn (frac and its parts), and what accents need.
FEATURES = (
    "kern", "liga", "ccmp", "locl", "mark", "mkmk", "lnum", "tnum", "frac", "numr", "dnom", "sups", "subs",
)  # fmt: skip
FILES = {
    "alegreya-sans-regular.woff2": ("AlegreyaSans-Regular.ttf", ALL),
    "alegreya-sans-extrabold.woff2": ("AlegreyaSans-ExtraBold.ttf", ALL),
    "alegreya-sans-italic.woff2": ("AlegreyaSans-Italic.ttf", LATIN),
}
LICENCE = "OFL.txt"
_one_at_a_time = threading.Lock()


def _source(name: str) -> bytes:
    return (resources.files(PACKAGE) / name).read_bytes()


@cache
def recipe_hash() -> str:
    """Return a hash over what the files depend on: sources, letters kept, the library that cuts them."""
    seed = hashlib.sha256(f"{RECIPE} {FEATURES} {metadata.version('fonttools')}".encode())
    for target, (source, letters) in FILES.items():
        seed.update(f"{target} {letters}".encode())
        seed.update(_source(f"files/{source}"))
    return seed.hexdigest()[:16]


def cut(source: bytes, letters: str) -> bytes:
    """Return `source` (a TTF) with only these letters, as WOFF2. The same input gives the same bytes."""
    import io

    from fontTools import subset

    options = subset.Options()
    options.flavor = "woff2"
    options.layout_features = list(FEATURES)
    options.recalc_timestamp = False
    font = subset.load_font(io.BytesIO(source), options)
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=subset.parse_unicodes(letters))
    cutter.subset(font)
    out = io.BytesIO()
    subset.save_font(font, out, options)
    return out.getvalue()


def _write(path: Path, content: bytes) -> None:
    # Two processes may cut at once: each writes aside and renames, so neither sees half a file.
    handle, aside = tempfile.mkstemp(dir=path.parent)
    with os.fdopen(handle, "wb") as out:
        out.write(content)
    os.chmod(aside, 0o644)
    os.replace(aside, path)


def folder() -> Path:
    """Return the folder that holds the cut fonts, cutting what is missing (a few seconds, once)."""
    place = Path(settings.DATA_DIR) / "cache" / PREFIX / recipe_hash()
    place.mkdir(parents=True, exist_ok=True)
    with _one_at_a_time:
        for target, (source, letters) in FILES.items():
            if not (place / target).exists():
                _write(place / target, cut(_source(f"files/{source}"), letters))
        if not (place / LICENCE).exists():
            _write(place / LICENCE, _source("LICENSE"))
    return place


class FontFinder(BaseFinder):
    """Gives the cut fonts to `collectstatic` and to the development view as `fonts/...`."""

    def check(self, **kwargs: Any) -> list[Any]:
        return []

    def _storage(self) -> FileSystemStorage:
        storage = FileSystemStorage(location=folder())
        storage.prefix = PREFIX  # type: ignore[attr-defined]  # collectstatic reads it
        return storage

    def list(self, ignore_patterns: Any) -> Iterator[tuple[str, FileSystemStorage]]:
        storage = self._storage()
        for name in (*FILES, LICENCE):
            if not matches_patterns(name, ignore_patterns):
                yield name, storage

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        prefix, _, name = path.replace("\\", "/").partition("/")
        if prefix != PREFIX or name not in (*FILES, LICENCE):
            return []
        found = str(folder() / name)
        return [found] if find_all or kwargs.get("all") else found
