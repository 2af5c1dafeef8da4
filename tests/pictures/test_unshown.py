"""What a form begun and left has kept goes after a day; what any room shows stays."""

import os
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.core.management import call_command
from django.utils import timezone

from studio.jobs import registry, sweeping
from studio.people.models import User
from studio.pictures import operations, queries
from studio.pictures.models import Picture, Size
from studio.wood.models import Purchase, PurchasePicture

pytestmark = pytest.mark.django_db
DAY, HOUR = timedelta(days=1), timedelta(hours=1)


@pytest.fixture
def take(maker: User, photo: Callable[..., Any]) -> Callable[[datetime, int], Picture]:
    return lambda at, width=64: operations.take(file=photo(width=width), by=maker, at=at)


@pytest.fixture
def commits(django_capture_on_commit_callbacks: Any) -> Any:
    return django_capture_on_commit_callbacks(execute=True)


def test_a_picture_nothing_shows_goes_with_its_files_after_a_day(take, at, commits) -> None:
    left, fresh = take(at), take(at + 2 * HOUR, 80)
    assert operations.sweep_unshown(now=at + 23 * HOUR) == 0
    with commits:
        assert operations.sweep_unshown(now=at + DAY + HOUR) == 1
    assert list(Picture.objects.all()) == [fresh]
    assert not any(left.path(size).exists() for size in Size)
    assert queries.audit().clean


@pytest.mark.parametrize("room", ["purchase", "workpiece", "loss", "piece"])
def test_a_picture_any_room_shows_stays(take, at, maker, room: str) -> None:
    from studio.pictures.models import PictureLink
    from studio.work import operations as work

    picture = take(at)
    lump = work.take_in_lump(number="41", mass_mg=1000, paid_micro=0, at=at, by=maker)
    if room == "purchase":
        PurchasePicture.objects.create(purchase=Purchase.objects.get(), picture=picture, at=at, by=maker)
    elif room == "workpiece":
        work.add_picture(workpiece=lump, picture=picture, at=at, by=maker)
    elif room == "loss":
        loss = work.it_broke(workpiece=lump, cause="checked", at=at, by=maker)
        work.add_loss_picture(loss=loss, picture=picture, at=at, by=maker)
    else:
        from studio.pieces import operations as pieces

        piece = pieces.become_piece(workpiece=lump, at=at, by=maker)
        pieces.photograph(piece=piece, picture=picture, at=at, by=maker)
    assert sum(model.objects.count() for model in PictureLink.__subclasses__()) == 1
    assert operations.sweep_unshown(now=at + 30 * DAY) == 0
    assert Picture.objects.get() == picture


def test_the_same_photograph_on_a_new_form_begins_its_day_anew(take, at) -> None:
    first = take(at)
    again = take(at + 3 * DAY)
    assert again.pk == first.pk
    assert operations.sweep_unshown(now=at + 3 * DAY + HOUR) == 0


def test_a_picture_that_is_shown_keeps_its_day_when_it_is_sent_again(take, at, maker) -> None:
    from studio.work import operations as work

    lump = work.take_in_lump(number="41", mass_mg=1000, paid_micro=0, at=at, by=maker)
    picture = take(at)
    work.add_picture(workpiece=lump, picture=picture, at=at, by=maker)
    take(at + 3 * DAY)
    assert Picture.objects.get().at == at


def test_the_worker_tidies_up_when_it_starts(take, monkeypatch, commits) -> None:
    from studio.jobs.management.commands import worker

    take(timezone.now() - 2 * DAY)
    stranger = queries.root() / "stranger.jpg"
    stranger.write_bytes(b"x")
    os.utime(stranger, (0, 0))
    monkeypatch.setattr(worker, "call_command", lambda *args, **how: None)
    with commits:
        call_command("worker", once=True)
    assert not Picture.objects.exists() and not stranger.exists()


def test_a_sweep_that_breaks_keeps_no_other_from_its_turn(monkeypatch, caplog) -> None:
    called: list[datetime] = []
    monkeypatch.setattr(registry, "_sweeps", {"broken": "studio.nowhere:at_all", "good": f"{__name__}:note"})
    monkeypatch.setitem(globals(), "note", lambda *, now: called.append(now))
    now = timezone.now()
    sweeping.sweep_all(now=now)
    assert called == [now] and "Tidying up broken broke" in caplog.text
