"""What is asked about pictures."""

import hashlib
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from studio.pictures.models import Picture, Size, place, root


@dataclass(frozen=True)
class Audit:
    """Where rows and files disagree: files that are gone, that changed, and that no row knows."""

    pictures: int
    missing: tuple[Path, ...]
    damaged: tuple[Path, ...]
    strangers: tuple[Path, ...]

    @property
    def clean(self) -> bool:
        return not (self.missing or self.damaged or self.strangers)


def by_name(name: str) -> Picture | None:
    """Return the picture of that name (as its address holds it), or None. One query."""
    return Picture.objects.filter(name=name).first()


def by_ids(ids: Iterable[int]) -> dict[int, Picture]:
    """Return pictures by id. One query."""
    return Picture.objects.in_bulk(list(ids))


def audit(*, deep: bool = True) -> Audit:
    """Return every disagreement between the table and the disk. One query.

    `deep` reads each file and compares its hash; without it only their being there is looked at.
    """
    expected: dict[Path, str] = {}
    rows = Picture.objects.values_list("name", "large_sha256", "small_sha256")
    count = 0
    for name, large, small in rows.iterator(chunk_size=2000):
        count += 1
        expected[place(name, Size.LARGE)] = large
        expected[place(name, Size.SMALL)] = small
    found = set(_files())
    present = sorted(found & expected.keys())
    return Audit(
        pictures=count,
        missing=tuple(sorted(expected.keys() - found)),
        damaged=tuple(path for path in present if deep and _hash(path) != expected[path]),
        strangers=tuple(sorted(found - expected.keys())),
    )


def _files() -> Iterable[Path]:
    for directory, _below, names in os.walk(root()):
        for name in names:
            yield Path(directory) / name


def _hash(path: Path) -> str:
    with open(path, "rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()
