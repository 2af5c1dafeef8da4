"""Photographs as the studio keeps them: made anew from what was sent, never the file itself."""

from pathlib import Path

from django.apps import apps
from django.conf import settings
from django.db import models
from django.db.models import Q

CAPTION_LENGTH = 200


class Size(models.TextChoices):
    """The two renditions: `LARGE`, at most 1600 pixels a side, for desk and card; `SMALL`, at most 400."""

    LARGE = "large"
    SMALL = "small"


SIDES = {Size.LARGE: 1600, Size.SMALL: 400}
CONTENT_TYPE = "image/jpeg"
SUFFIX = ".jpg"


class Picture(models.Model):
    """One photograph. `sha256` is of the file that was sent, so that the same one sent twice is kept once."""

    sha256 = models.CharField(max_length=64, unique=True)
    name = models.CharField(max_length=32, unique=True)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    large_sha256 = models.CharField(max_length=64)
    small_sha256 = models.CharField(max_length=64)
    uploaded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=Q(width__gte=1, height__gte=1), name="picture_has_a_size")]

    def __str__(self) -> str:
        return self.name

    def path(self, size: Size | str = Size.LARGE) -> Path:
        """Return where a rendition lies."""
        return place(self.name, Size(size))

    def shown_size(self, size: Size | str = Size.LARGE) -> tuple[int, int]:
        """Return a rendition's (width, height) in pixels, for the page to keep its room."""
        longest = max(self.width, self.height)
        side = min(SIDES[Size(size)], longest)
        return max(1, round(self.width * side / longest)), max(1, round(self.height * side / longest))


def root() -> Path:
    """Return the directory that holds every rendition."""
    return Path(settings.MEDIA_ROOT)


def place(name: str, size: Size) -> Path:
    """Return where the rendition of a picture of this name lies."""
    return root() / name[:2] / f"{name}-{size.value}{SUFFIX}"


class PictureLink(models.Model):
    """What a room derives its own table of pictures from: add a foreign key to the thing that is pictured."""

    picture = models.ForeignKey(Picture, models.PROTECT, related_name="+")
    position = models.PositiveIntegerField(default=0)
    caption = models.CharField(max_length=CAPTION_LENGTH, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        abstract = True
        ordering = ["position", "pk"]


def unshown(pictures: models.QuerySet[Picture]) -> models.QuerySet[Picture]:
    """Those of these pictures that no room's table of pictures names, whichever rooms there are."""
    for model in apps.get_models():
        if issubclass(model, PictureLink):
            pictures = pictures.filter(~models.Exists(model._default_manager.filter(picture=models.OuterRef("pk"))))
    return pictures
