"""How a workpiece is held on the lathe."""

from django.conf import settings
from django.db import models

from studio.fields.whole import WholeField, whole_checks
from studio.work.models.workpieces import Workpiece


class Holding(models.TextChoices):
    TENON = "tenon", "tenon in the jaws"
    RECESS = "recess", "recess over the jaws"
    WASTE = "waste", "glued to a waste block"
    FACEPLATE = "faceplate", "faceplate and screws"
    CENTRES = "centres", "between centres"
    JAM = "jam", "jam chuck"


class Balance(models.TextChoices):
    TRUE = "true", "runs true"
    ROUGH = "rough", "not round yet"
    OFF = "off", "heavy on one side"


class Mount(models.Model):
    """One way it was held. Never changed: the newest row counts, the others are kept for a later repair."""

    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="mounts")
    how = models.CharField(max_length=9, choices=Holding.choices)
    waste_words = models.CharField("waste block and glue", max_length=120, blank=True)
    jaws = models.CharField(max_length=80, blank=True)
    held_um = WholeField(null=True, blank=True)
    jaw_one = models.CharField("mark at jaw one", max_length=80, blank=True)
    across_um = WholeField(null=True, blank=True)
    balance = models.CharField(max_length=5, choices=Balance.choices, default=Balance.ROUGH)
    wall_um = WholeField(null=True, blank=True)
    kept = models.BooleanField("kept for a later repair", default=False)
    note = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [*whole_checks("mount", "held_um", "across_um", "wall_um", at_least=1)]

    def __str__(self) -> str:
        return f"{self.workpiece_id} {self.how}"
