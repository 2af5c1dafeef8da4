import io
import os
import subprocess
import sys
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db.models import ProtectedError
from django.http import Http404

from studio.people.models import User
from studio.pictures import operations, queries, serve
from studio.pictures.models import CAPTION_LENGTH, Picture, PictureLink, Size

pytestmark = pytest.mark.django_db
Photo = Callable[..., io.BytesIO]


@pytest.fixture
def picture(maker: User, at: datetime, photo: Photo) -> Picture:
    return operations.take(file=photo("JPEG", 640, 480), by=maker, at=at)


def test_a_picture_is_answered_as_nothing_but_a_picture(picture: Picture) -> None:
    for size in Size:
        answer = serve.response(picture, size)
        assert answer["Content-Type"] == "image/jpeg"
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert answer["Content-Security-Policy"] == "default-src 'none'; sandbox"
        assert answer["Cache-Control"].startswith("private")
        assert b"".join(answer.streaming_content) == picture.path(size).read_bytes()
        answer.close()
    assert serve.response(picture, "large")["ETag"] != serve.response(picture, "small")["ETag"]


@pytest.mark.parametrize("size", ["huge", "", "../large", "LARGE"])
def test_a_size_there_is_not_is_not_found(picture: Picture, size: str) -> None:
    with pytest.raises(Http404):
        serve.response(picture, size)


def test_a_picture_whose_file_is_gone_is_not_found(picture: Picture) -> None:
    picture.path(Size.LARGE).unlink()
    with pytest.raises(Http404):
        serve.response(picture, Size.LARGE)


def test_the_name_on_disk_tells_nothing_of_what_was_sent(picture: Picture) -> None:
    assert len(picture.name) == 32
    assert picture.sha256 not in str(picture.path())
    assert queries.by_name(picture.name) == picture
    assert queries.by_name("../../etc/passwd") is None


def test_audit_sees_a_file_gone_a_file_changed_and_a_file_nobody_knows(picture: Picture) -> None:
    assert queries.audit() == queries.Audit(pictures=1, missing=(), damaged=(), strangers=())
    assert queries.audit().clean
    stranger = queries.root() / "left-over.part"
    stranger.write_bytes(b"x")
    picture.path(Size.LARGE).write_bytes(b"other")
    picture.path(Size.SMALL).unlink()
    found = queries.audit()
    assert found.missing == (picture.path(Size.SMALL),)
    assert found.damaged == (picture.path(Size.LARGE),)
    assert found.strangers == (stranger,)
    assert not found.clean
    assert queries.audit(deep=False).damaged == ()


def test_audit_takes_one_query_however_many(
    maker: User, at: datetime, photo: Photo, django_assert_num_queries: Any
) -> None:
    for width in range(20, 30):
        operations.take(file=photo("PNG", width, 20), by=maker, at=at)
    with django_assert_num_queries(1):
        assert queries.audit().pictures == 10
    ids = list(Picture.objects.values_list("pk", flat=True))
    with django_assert_num_queries(1):
        assert queries.by_ids(ids).keys() == set(ids)


def test_a_sweep_takes_old_files_nobody_knows_and_leaves_fresh_ones(picture: Picture, at: datetime) -> None:
    old, fresh = queries.root() / "old.jpg", queries.root() / "fresh.jpg"
    for path, age_s in ((old, 7200), (fresh, 60)):
        path.write_bytes(b"x")
        stamp = at.timestamp() - age_s
        os.utime(path, (stamp, stamp))
    assert operations.sweep(now=at) == 1
    assert not old.exists()
    assert fresh.exists()
    assert operations.sweep(now=at + timedelta(days=3650)) == 1
    assert queries.audit().clean


def test_a_picture_nothing_shows_can_go_and_its_files_with_it(
    picture: Picture, django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True):
        operations.discard(picture=picture)
    assert queries.audit() == queries.Audit(pictures=0, missing=(), damaged=(), strangers=())


def test_a_picture_something_shows_stays(picture: Picture, monkeypatch: Any) -> None:
    def held(self: Picture) -> None:
        raise ProtectedError("held", {self})

    monkeypatch.setattr(Picture, "delete", held)
    with pytest.raises(operations.StillUsed):
        operations.discard(picture=picture)
    assert queries.audit().clean


def test_when_the_row_cannot_be_written_no_file_stays(
    maker: User, at: datetime, photo: Photo, monkeypatch: Any
) -> None:
    def broken(self: Picture, **_more: Any) -> None:
        assert all(self.path(size).exists() for size in Size), "the files come first"
        raise OSError("the disk is full")

    monkeypatch.setattr(Picture, "save", broken)
    with pytest.raises(OSError, match="full"):
        operations.take(file=photo(), by=maker, at=at)
    assert queries.audit() == queries.Audit(pictures=0, missing=(), damaged=(), strangers=())


def test_a_write_that_fails_leaves_no_half_file(maker: User, at: datetime, photo: Photo, monkeypatch: Any) -> None:
    def broken(_handle: int) -> None:
        raise OSError("the disk is full")

    monkeypatch.setattr(os, "fsync", broken)
    with pytest.raises(OSError, match="full"):
        operations.take(file=photo(), by=maker, at=at)
    assert not [path for path in queries.root().rglob("*") if path.is_file()]


def test_the_other_of_two_in_the_same_moment_gets_the_first_ones_picture(
    maker: User, at: datetime, photo: Photo, monkeypatch: Any
) -> None:
    from studio.pictures import reading

    real, first = reading.renditions, []

    def meanwhile(data: bytes) -> reading.Renditions:
        if not first:
            first.append(None)
            first[0] = operations.take(file=photo(), by=maker, at=at)
        return real(data)

    monkeypatch.setattr(reading, "renditions", meanwhile)
    assert operations.take(file=photo(), by=maker, at=at) == first[0]
    assert queries.audit() == queries.Audit(pictures=1, missing=(), damaged=(), strangers=())


def test_every_room_gets_its_own_table_of_pictures_from_one_pattern() -> None:
    assert PictureLink._meta.abstract
    fields = {field.name: field for field in PictureLink._meta.get_fields()}
    assert fields.keys() == {"picture", "position", "caption", "at", "by"}
    assert fields["caption"].max_length == CAPTION_LENGTH
    assert fields["picture"].remote_field.on_delete.__name__ == "PROTECT"


def test_starting_up_does_not_bring_in_the_imaging_library() -> None:
    code = (
        "import django, sys; django.setup(); "
        "import studio.pictures.operations, studio.pictures.queries, studio.pictures.serve; "
        "sys.exit('PIL' in sys.modules or 'pillow_heif' in sys.modules)"
    )
    here = Path(__file__).resolve().parents[2]
    done = subprocess.run(  # noqa: S603  our own interpreter, our own words
        [sys.executable, "-c", code],
        cwd=here,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        check=False,
    )
    assert done.returncode == 0
