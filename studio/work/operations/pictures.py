"""Photographs of what lies on the bench, and of what broke."""

from datetime import datetime

from django.db import transaction

from studio.people.models import User
from studio.pictures.models import Picture
from studio.work.models import Loss, LossPicture, Workpiece, WorkpiecePicture


def add_picture(*, workpiece: Workpiece, picture: Picture, at: datetime, by: User) -> WorkpiecePicture:
    """Will put a photograph with a workpiece, behind those that are there; the same one twice stays one.

    What has left the bench may still be photographed.
    """
    with transaction.atomic():
        Workpiece.objects.select_for_update().get(pk=workpiece.pk)
        mine = WorkpiecePicture.objects.filter(workpiece=workpiece)
        return mine.filter(picture=picture).first() or WorkpiecePicture.objects.create(
            workpiece=workpiece, picture=picture, position=mine.count(), at=at, by=by
        )


def add_loss_picture(*, loss: Loss, picture: Picture, at: datetime, by: User) -> LossPicture:
    """Will put a photograph with a loss, behind those that are there; the same one twice stays one."""
    with transaction.atomic():
        Loss.objects.select_for_update().get(pk=loss.pk)
        mine = LossPicture.objects.filter(loss=loss)
        return mine.filter(picture=picture).first() or LossPicture.objects.create(
            loss=loss, picture=picture, position=mine.count(), at=at, by=by
        )
