"""What was done to it, by whom, and for how long."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.fields.whole import WholeField, whole_checks
from studio.ledger.links import EntryKey
from studio.work.models.workpieces import Workpiece


class StepCode(models.TextChoices):
    CLEAN = "clean", "Clean"
    SEASON = "season", "Season"
    DRY = "dry", "Dry"
    STABILIZE = "stabilize", "Stabilize"
    CAST = "cast", "Cast"
    ROUGH = "rough", "Rough"
    REST = "rest", "Rest"
    TURN = "turn", "Turn"
    SAND = "sand", "Sand"
    FINISH = "finish", "Finish"
    OTHER = "other", "Other"


class StepState(models.TextChoices):
    PLANNED = "planned", "to come"
    OPEN = "open", "begun"
    DONE = "done", "done"
    SKIPPED = "skipped", "left out"


class Step(models.Model):
    """One step of one workpiece. Done again is a new row, and costs again."""

    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="steps")
    code = models.CharField(max_length=10, choices=StepCode.choices)
    attempt = models.PositiveSmallIntegerField(default=1)
    position = models.PositiveSmallIntegerField()
    state = models.CharField(max_length=8, choices=StepState.choices, default=StepState.PLANNED)
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    started_at = models.DateTimeField(null=True, blank=True)
    stopped_at = models.DateTimeField(null=True, blank=True)
    hands_on_s = WholeField(default=0)
    skipped_why = models.CharField(max_length=200, blank=True)
    note = models.CharField(max_length=500, blank=True)
    not_before = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["position", "attempt"]
        constraints = [
            *whole_checks("step", "hands_on_s", at_least=0),
            models.UniqueConstraint(fields=["workpiece", "code", "attempt"], name="step_attempt_once"),
            models.CheckConstraint(
                name="step_skipped_says_why", condition=~Q(state=StepState.SKIPPED) | ~Q(skipped_why="")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.workpiece_id} {self.code} {self.attempt}"


class ClockRun(models.Model):
    """Hands-on time, counted on the server (one running for each person) or typed afterwards.

    Of typed hours nobody knows when they began: both ends are the moment they were booked for.
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    code = models.CharField(max_length=10, choices=StepCode.choices)
    started_at = models.DateTimeField()
    stopped_at = models.DateTimeField(null=True, blank=True)
    seconds = WholeField(null=True, blank=True)
    entry = EntryKey(null=True, blank=True)
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints = [
            *whole_checks("clockrun", "seconds", at_least=0),
            models.UniqueConstraint(
                fields=["person"], condition=Q(stopped_at__isnull=True), name="clock_one_for_each_person"
            ),
        ]

    def __str__(self) -> str:
        return f"clock {self.pk}"


class ClockShare(models.Model):
    """A workpiece the clock runs on, the part of the time it got when it was stopped, and the step it went to."""

    run = models.ForeignKey(ClockRun, on_delete=models.PROTECT, related_name="shares")
    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="clock_shares")
    step = models.ForeignKey(Step, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    seconds = WholeField(null=True, blank=True)

    class Meta:
        constraints = [
            *whole_checks("clockshare", "seconds", at_least=0),
            models.UniqueConstraint(fields=["run", "workpiece"], name="clock_share_once"),
        ]

    def __str__(self) -> str:
        return f"{self.run_id} {self.workpiece_id}"


class UsualMinutes(models.Model):
    """How long this person usually stands at this step, for those who don't start clocks."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    code = models.CharField(max_length=10, choices=StepCode.choices)
    seconds = WholeField()

    class Meta:
        constraints = [
            *whole_checks("usualminutes", "seconds", at_least=1),
            models.UniqueConstraint(fields=["person", "code"], name="usual_minutes_once"),
        ]

    def __str__(self) -> str:
        return f"{self.person_id} {self.code}"
