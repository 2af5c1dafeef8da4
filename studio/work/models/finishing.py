"""The finish bench: schedules of lines, a workpiece on one of them, and what was tapped."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.fields.whole import WholeField, whole_checks
from studio.ledger.links import EntryKey
from studio.stores.models import Material
from studio.work.models.workpieces import Workpiece


class LineKind(models.TextChoices):
    SAND = "sand", "sand"
    COAT = "coat", "coat"
    BUFF = "buff", "buff"
    CURE = "cure", "cure before packing"


class FinishSchedule(models.Model):
    """A finish by name. Changed, it is a new row: what is under way keeps the lines it began with."""

    name = models.CharField(max_length=80)
    follows = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["name"], condition=Q(ended_at=None), name="finish_schedule_one_of_a_name")
        ]

    def __str__(self) -> str:
        return self.name


class FinishLine(models.Model):
    """One line: what is done, how long to wait after it, and until when the next should follow.

    `spread_mgm2` is how many milligrams of the tin go on a square metre. `not_on_resin`: it won't cure there.
    `oily`: its rags can set themselves on fire. A cure has only its time.
    """

    schedule = models.ForeignKey(FinishSchedule, on_delete=models.PROTECT, related_name="lines")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=4, choices=LineKind.choices)
    grit = WholeField(null=True, blank=True)
    material = models.ForeignKey(Material, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    spread_mgm2 = WholeField(null=True, blank=True)
    wait_s = WholeField(default=0)
    latest_s = WholeField(null=True, blank=True)
    not_on_resin = models.BooleanField(default=False)
    oily = models.BooleanField(default=False)

    class Meta:
        ordering = ["position"]
        constraints = [
            *whole_checks("finishline", "grit", "spread_mgm2", "latest_s", at_least=1),
            *whole_checks("finishline", "wait_s", at_least=0),
            models.UniqueConstraint(fields=["schedule", "position"], name="finish_line_once"),
            models.CheckConstraint(
                name="finish_coat_has_its_tin",
                condition=Q(kind=LineKind.COAT, material__isnull=False) | ~Q(kind=LineKind.COAT),
            ),
        ]

    def __str__(self) -> str:
        return self.words

    @property
    def words(self) -> str:
        """`Sand to 240`, `Coat with hard oil`, `Buff`, `Cure before packing`."""
        if self.kind == LineKind.SAND:
            return f"Sand to {self.grit}" if self.grit else "Sand"
        if self.kind == LineKind.COAT:
            return f"Coat with {self.material}"
        return str(self.get_kind_display()).capitalize()


class FinishRun(models.Model):
    """A workpiece on a schedule, from when it was put on it until its last line is done or it was taken off.

    `resin_words`: why a finish that won't cure on resin went on one that has resin in it, all the same.
    """

    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="finish_runs")
    schedule = models.ForeignKey(FinishSchedule, on_delete=models.PROTECT, related_name="runs")
    started_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    ended_at = models.DateTimeField(null=True, blank=True)
    cured_at = models.DateTimeField(null=True, blank=True)
    taken_off = models.BooleanField(default=False)
    resin_words = models.CharField(max_length=300, blank=True, default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["workpiece"], condition=Q(ended_at=None), name="finish_run_one_at_a_time"
            )
        ]

    def __str__(self) -> str:
        return f"{self.workpiece_id} {self.schedule_id}"


class FinishDone(models.Model):
    """A line that was tapped; a coat with what it took and its entry. Taken back, it stays to be seen."""

    run = models.ForeignKey(FinishRun, on_delete=models.PROTECT, related_name="done")
    line = models.ForeignKey(FinishLine, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    amount = WholeField(null=True, blank=True)
    entry = EntryKey(null=True, blank=True)
    taken_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            *whole_checks("finishdone", "amount", at_least=1),
            models.UniqueConstraint(
                fields=["run", "line"], condition=Q(taken_back_at=None), name="finish_line_done_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.run_id} {self.line_id}"


class RagsIn(models.Model):
    """That evening the oily rags went into a closed metal tin."""

    on = models.DateField(unique=True)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    def __str__(self) -> str:
        return f"{self.on}"
