"""How a casting came out of its mould."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.work.models.resin import PourFill


class Outcome(models.Model):
    """One thing seen of a casting, one tap: several may be true of it, never good beside a fault."""

    class What(models.TextChoices):
        GOOD = "good", "looks good"
        SOFT = "soft", "soft"
        VOID = "void", "a void"
        LEAK = "leak", "it leaked"
        FLOATED = "floated", "the wood floated"
        CLOUDY = "cloudy", "cloudy"
        CRACKED = "cracked", "cracked"

    fill = models.ForeignKey(PourFill, on_delete=models.PROTECT, related_name="outcomes")
    what = models.CharField(max_length=8, choices=What.choices)
    words = models.CharField(max_length=200, blank=True, default="")
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["fill", "what"], name="outcome_once"),
            models.CheckConstraint(
                name="outcome_known",
                condition=Q(what__in=["good", "soft", "void", "leak", "floated", "cloudy", "cracked"]),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.fill_id} {self.what}"
