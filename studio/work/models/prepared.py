"""A mould made ready for its pour."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.equipment.models import Mould
from studio.fields.whole import WholeField, whole_checks
from studio.ledger.links import EntryKey
from studio.stores.models import Material, ResinSystem
from studio.work.models.resin import PourFill
from studio.work.models.workpieces import Workpiece


class MouldReady(models.Model):
    """What was done at one mould with this wood in it: five ticks, each the moment it was made.

    `mould` is None where it is none of the studio's own. Open until it is poured; then `fill` says which casting
    came of it, and the ticks stay as they were.
    """

    mould = models.ForeignKey(Mould, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    blanks = models.ManyToManyField(Workpiece, related_name="+")
    released_at = models.DateTimeField(null=True, blank=True)
    sealed_at = models.DateTimeField(null=True, blank=True)
    held_at = models.DateTimeField(null=True, blank=True)
    coated_at = models.DateTimeField(null=True, blank=True)
    level_at = models.DateTimeField(null=True, blank=True)
    screw_words = models.CharField(max_length=120, blank=True)
    # the seal coat: of what, how much, and between when it takes the pour well
    coat_resin = models.ForeignKey(ResinSystem, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    coat_material = models.ForeignKey(Material, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    coat_mg = WholeField(null=True, blank=True)
    coat_from_at = models.DateTimeField(null=True, blank=True)
    coat_until_at = models.DateTimeField(null=True, blank=True)
    coat_entry = EntryKey(null=True, blank=True)
    fill = models.OneToOneField(
        PourFill, null=True, blank=True, on_delete=models.PROTECT, related_name="ready"
    )
    begun_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints = [
            *whole_checks("mouldready", "coat_mg", at_least=1),
            models.CheckConstraint(
                name="mould_ready_coat_of_one_thing",
                condition=Q(coat_mg=None, coat_resin=None, coat_material=None, coat_entry=None)
                | Q(coat_mg__isnull=False, coat_resin__isnull=False, coat_material=None, coat_entry__isnull=False)
                | Q(coat_mg__isnull=False, coat_resin=None, coat_material__isnull=False, coat_entry__isnull=False),
            ),
            models.CheckConstraint(
                name="mould_ready_coat_window_in_order",
                condition=Q(coat_from_at=None)
                | Q(coat_until_at=None)
                | Q(coat_until_at__gt=models.F("coat_from_at")),
            ),
            models.UniqueConstraint(fields=["mould"], condition=Q(fill=None), name="mould_ready_one_open"),
        ]

    def __str__(self) -> str:
        return f"mould {self.mould_id} ready {self.pk}"
