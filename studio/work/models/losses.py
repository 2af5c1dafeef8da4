"""What broke, at which step, and why."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.ledger.links import EntryKey
from studio.pictures.models import PictureLink
from studio.work.models.steps import StepCode
from studio.work.models.workpieces import Workpiece


class Cause(models.TextChoices):
    """Why it broke: six chips, and one for what no craft could help."""

    CHECKED = "checked", "Checked in drying"
    VOID = "void", "Void or soft resin"
    PARTED = "parted", "Resin let go of the wood"
    CATCH = "catch", "Catch or blow-out"
    THROUGH = "through", "Went through the wall"
    FINISH = "finish", "Finish spoiled it"
    ACCIDENT = "accident", "Fire, flood, fall or theft"


class Loss(models.Model):
    """It broke: at which step, why, and what it had cost. Photograph and salvage may come later."""

    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="losses")
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    step = models.CharField(max_length=10, choices=StepCode.choices, blank=True)
    cause = models.CharField(max_length=10, choices=Cause.choices)
    unusual = models.BooleanField(default=False)
    words = models.CharField(max_length=500, blank=True)
    looked_after = models.BooleanField(default=False)
    taken_back_at = models.DateTimeField(null=True, blank=True)
    entry = EntryKey(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["workpiece"], condition=Q(taken_back_at__isnull=True), name="lost_once")
        ]

    def __str__(self) -> str:
        return f"loss of {self.workpiece_id}"


class LossPicture(PictureLink):
    loss = models.ForeignKey(Loss, on_delete=models.PROTECT, related_name="pictures")
