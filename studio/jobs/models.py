"""A piece of long work: asked for on a screen, done by the worker, watched and stopped from the screen."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q

MESSAGE_LENGTH = 500


class State(models.TextChoices):
    WAITING = "waiting", "waiting for its turn"
    RUNNING = "running", "being done"
    DONE = "done", "done"
    FAILED = "failed", "failed"
    CANCELLED = "cancelled", "stopped"


ENDED = (State.DONE, State.FAILED, State.CANCELLED)


class JobQuerySet(models.QuerySet["Job"]):
    def unended(self) -> Self:
        return self.filter(state__in=(State.WAITING, State.RUNNING))

    def newest_first(self) -> Self:
        return self.order_by("-pk")


class Job(models.Model):
    kind = models.CharField(max_length=40)
    args = models.JSONField(default=dict)
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    percent = models.PositiveSmallIntegerField(default=0)
    message = models.CharField(max_length=MESSAGE_LENGTH, blank=True)
    cancel_requested = models.BooleanField(default=False)
    # Where the file the work made lies, below MEDIA's neighbour `jobs/` in the data folder; blank when it
    # made none.
    result_path = models.CharField(max_length=200, blank=True)
    result = models.JSONField(null=True, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    created_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    objects = JobQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["state"], name="job_state")]
        constraints = [
            models.CheckConstraint(condition=Q(state__in=State.values), name="job_state_known"),
            models.CheckConstraint(condition=Q(percent__lte=100), name="job_percent_within_100"),
            models.CheckConstraint(
                condition=Q(state__in=ENDED, finished_at__isnull=False)
                | (~Q(state__in=ENDED) & Q(finished_at__isnull=True)),
                name="job_ended_has_a_time",
            ),
            models.CheckConstraint(
                condition=Q(started_at__isnull=True) | Q(started_at__gte=F("created_at")),
                name="job_starts_after_it_is_asked",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.pk}"

    @property
    def ended(self) -> bool:
        return self.state in ENDED
