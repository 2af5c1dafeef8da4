"""The table of submitted keys: what makes a form posted twice count once."""

from django.conf import settings
from django.db import models


class Submission(models.Model):
    """One form or request that was carried out: who sent it, its key, a hash of its body, what came of it."""

    actor = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    key = models.CharField(max_length=64)
    body_hash = models.CharField(max_length=64)
    result = models.TextField(blank=True)
    at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["actor", "key"], name="submission_once")]

    def __str__(self) -> str:
        return self.key
