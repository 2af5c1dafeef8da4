"""Taking pictures in and letting them go. Files are whole on disk before a row says so."""

import contextlib
import hashlib
import os
import secrets
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, Protocol

from django.db import IntegrityError, transaction
from django.db.models import ProtectedError

from studio.fields.errors import Refused
from studio.pictures.models import Picture, Size, place, unshown

DAY_S = 24 * 3600


class Readable(Protocol):
    def read(self, length: int = ..., /) -> bytes: ...


class StillUsed(Refused):
    """A thing still shows this picture."""


def take(*, file: Readable, by: Any, at: datetime) -> Picture:
    """Will keep a photograph as two new JPEG files and return its row; the same file again, the same row.

    `file` is anything with `read`, an upload or an open file. Raises `reading.NotAPicture` or
    `reading.TooLarge`, with a sentence. Decoding and writing happen before the transaction; if the process
    dies between, files without a row are left, which `queries.audit` finds and `sweep` removes. Call
    it outside a transaction of your own: decoding takes up to a second, and others wait.
    """
    from studio.pictures import reading

    data = file.read(reading.MOST_BYTES + 1)
    reading.check_bytes(len(data))
    sha256 = hashlib.sha256(data).hexdigest()
    known = Picture.objects.filter(sha256=sha256).first()
    if known is not None:
        _taken_again(known, at)
    if known is not None and all(known.path(size).exists() for size in Size):
        return known
    made = reading.renditions(data)
    if known is not None:
        return _mended(known, made.files)
    name = secrets.token_hex(16)
    picture = Picture(
        sha256=sha256,
        name=name,
        width=made.width,
        height=made.height,
        large_sha256=hashlib.sha256(made.files[Size.LARGE]).hexdigest(),
        small_sha256=hashlib.sha256(made.files[Size.SMALL]).hexdigest(),
        uploaded_by=by,
        at=at,
    )
    try:
        for size in Size:
            _write(place(name, size), made.files[size])
        with transaction.atomic():
            picture.save(force_insert=True)
    except IntegrityError:
        _remove(name)
        same = Picture.objects.filter(sha256=sha256).first()
        if same is None:
            raise
        return same
    except BaseException:
        _remove(name)
        raise
    return picture


def discard(*, picture: Picture) -> None:
    """Will remove a picture that nothing shows any more, its row and then its files.

    Raises `StillUsed` while a row of any room points at it.
    """
    name = picture.name
    try:
        with transaction.atomic():
            picture.delete()
            transaction.on_commit(lambda: _remove(name))
    except (ProtectedError, IntegrityError) as error:
        raise StillUsed("Something still shows this picture. Take it off there first.", code="still_used") from error


def sweep(*, now: datetime, older_than_s: int = 3600) -> int:
    """Will remove files that no row knows and that are older than an hour; returns how many.

    Younger ones may belong to a picture that is being taken in this moment.
    """
    from studio.pictures.queries import audit

    oldest = now.timestamp() - older_than_s
    gone = 0
    for path in audit(deep=False).strangers:
        with contextlib.suppress(FileNotFoundError):
            if path.stat().st_mtime <= oldest:
                path.unlink()
                gone += 1
    return gone


def sweep_unshown(*, now: datetime, older_than_s: int = DAY_S) -> int:
    """Will remove pictures that no room shows and that were taken in more than a day ago; returns how many.

    They stem from forms that were begun, with a photograph, and never sent. Younger ones may be on such a form.
    """
    old = Picture.objects.filter(at__lt=now - timedelta(seconds=older_than_s))
    gone = 0
    for picture in unshown(old).order_by("pk"):
        with contextlib.suppress(StillUsed):  # shown since we looked
            discard(picture=picture)
            gone += 1
    return gone


def tidy_up(*, now: datetime) -> None:
    """Will remove what nothing shows and what no row knows; for whoever sweeps while nothing else is to be done."""
    sweep_unshown(now=now)
    sweep(now=now)


def _taken_again(known: Picture, at: datetime) -> None:
    """A picture on a form again isn't left over from the form before."""
    unshown(Picture.objects.filter(pk=known.pk, at__lt=at)).update(at=at)


def _mended(picture: Picture, files: dict[Size, bytes]) -> Picture:
    """Write the files of a known picture that were lost from the disk."""
    for size in Size:
        _write(picture.path(size), files[size])
    picture.large_sha256 = hashlib.sha256(files[Size.LARGE]).hexdigest()
    picture.small_sha256 = hashlib.sha256(files[Size.SMALL]).hexdigest()
    with transaction.atomic():
        picture.save(update_fields=["large_sha256", "small_sha256"])
    return picture


def _write(path: Path, data: bytes) -> None:
    """Put a file in its place so that after a power cut it is there whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        with open(unfinished, "xb") as handle:
            handle.write(data)
            handle.flush()
            os.fsync(handle.fileno())
        os.replace(unfinished, path)
    finally:
        unfinished.unlink(missing_ok=True)
    if hasattr(os, "O_DIRECTORY"):  # Windows can't open a directory to have it written out
        directory = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(directory)
        finally:
            os.close(directory)


def _remove(name: str) -> None:
    for size in Size:
        place(name, size).unlink(missing_ok=True)
