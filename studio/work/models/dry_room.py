"""What was seen of drying wood beside its weight: in the bag and out, what was taken off it, what was overruled."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from studio.work.models.workpieces import Workpiece


class Wrap(models.Model):
    """Dry wood in a tight bag, from when until when; fog in the bag says that it isn't dry."""

    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="wraps")
    wrapped_at = models.DateTimeField()
    opened_at = models.DateTimeField(null=True, blank=True)
    fogged_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["workpiece"], condition=Q(opened_at__isnull=True), name="wrap_one_bag_at_a_time"
            ),
            models.CheckConstraint(
                name="wrap_opens_after_it_closed",
                condition=(Q(opened_at__isnull=True) | Q(opened_at__gte=F("wrapped_at")))
                & (Q(fogged_at__isnull=True) | Q(fogged_at__gte=F("wrapped_at"))),
            ),
        ]
        indexes = [models.Index(fields=["workpiece", "wrapped_at"])]

    def __str__(self) -> str:
        return f"bag of {self.workpiece_id}"


class WoodEvent(models.Model):
    """What was done to wood that changes how it dries or what it weighs: its weights are another series then."""

    class Kind(models.TextChoices):
        BARK_OFF = "bark_off", "bark off"
        WAX_OFF = "wax_off", "wax off"
        ENDS_SEALED = "sealed", "ends sealed"

    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="wood_events")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    struck_out = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="wood_event_kind_known", condition=Q(kind__in=["bark_off", "wax_off", "sealed"])
            ),
        ]
        indexes = [models.Index(fields=["workpiece", "at"])]

    def __str__(self) -> str:
        return f"{self.workpiece_id} {self.kind}"


class Overruled(models.Model):
    """A refusal that somebody went past, in their own words. Kept with the workpiece for good."""

    class What(models.TextChoices):
        CAST = "cast", "cast although it was not known to be dry"

    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="overruled")
    what = models.CharField(max_length=10, choices=What.choices)
    refused = models.CharField(max_length=300)
    words = models.CharField(max_length=300)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["at", "pk"]
        constraints = [models.CheckConstraint(name="overruled_says_why", condition=~Q(words=""))]
        indexes = [models.Index(fields=["workpiece", "at"])]

    def __str__(self) -> str:
        return self.words
