"""Pours, and loads through the stabilizing bath."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.equipment.models import Load, Mould
from studio.fields.whole import WholeField, whole_checks
from studio.ledger.links import EntryKey
from studio.stores.models import Bath, Material, ResinSystem
from studio.work.models.workpieces import Workpiece


class Pour(models.Model):
    """One mixing: what was planned, what the scale really showed, and the moulds it went into."""

    system = models.ForeignKey(ResinSystem, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    planned_a_mg = WholeField()
    planned_b_mg = WholeField()
    poured_a_mg = WholeField()
    poured_b_mg = WholeField()
    colour_words = models.CharField(max_length=120, blank=True)
    load = models.ForeignKey(Load, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    demould_not_before = models.DateTimeField(null=True, blank=True)
    full_cure_at = models.DateTimeField(null=True, blank=True)
    demoulded_at = models.DateTimeField(null=True, blank=True)
    entry = EntryKey()
    off_ratio_words = models.CharField(max_length=200, blank=True)
    # When the two parts met, how warm the resin was, in how many cups, and when somebody saw it thicken: together
    # they are a work time of this bench's own.
    began_at = models.DateTimeField(null=True, blank=True)
    resin_mdegc = WholeField(null=True, blank=True)
    cups = WholeField(default=1)
    thickened_at = models.DateTimeField(null=True, blank=True)
    # what was left in the cup, set or not, its own weight taken off
    cup_mg = WholeField(null=True, blank=True)

    class Meta:
        constraints = [
            *whole_checks("pour", "resin_mdegc"),
            *whole_checks("pour", "cups", at_least=1),
            models.CheckConstraint(
                name="pour_thickens_after_it_began",
                condition=Q(thickened_at=None) | Q(began_at__isnull=False, thickened_at__gt=models.F("began_at")),
            ),
            *whole_checks("pour", "planned_a_mg", "planned_b_mg", "poured_a_mg", "poured_b_mg", "cup_mg", at_least=0),
        ]

    def __str__(self) -> str:
        return f"pour {self.pk}"

    @property
    def poured_mg(self) -> int:
        return self.poured_a_mg + self.poured_b_mg


class PourFill(models.Model):
    """One mould of a pour and the casting that came of it. All resin weighed into the pour lies on the fills."""

    pour = models.ForeignKey(Pour, on_delete=models.PROTECT, related_name="fills")
    mould = models.ForeignKey(Mould, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    casting = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="fills")
    planned_mg = WholeField()
    # what the mould was reckoned to take, without any allowance; None for pours from before that was kept
    reckoned_mg = WholeField(null=True, blank=True)
    share_mg = WholeField()
    wood_mg = WholeField(default=0)
    wood_mm3 = WholeField(default=0)
    # where a screw sits in it, in the maker's words: whoever turns it must know
    screw_words = models.CharField(max_length=120, blank=True, default="")

    class Meta:
        constraints = [
            *whole_checks("pourfill", "planned_mg", "share_mg", "wood_mg", "wood_mm3", at_least=0),
            *whole_checks("pourfill", "reckoned_mg", at_least=1),
        ]

    def __str__(self) -> str:
        return f"{self.pour_id} {self.casting_id}"


class PourSwirl(models.Model):
    """One cup of a mix, taken after the two parts met, with colours of its own; `fill`: all of it into that mould.

    Its colours are drawn with the pour's own entry, or under `entry` where they lie on one casting alone.
    """

    pour = models.ForeignKey(Pour, on_delete=models.PROTECT, related_name="swirls")
    fill = models.ForeignKey(PourFill, null=True, blank=True, on_delete=models.PROTECT, related_name="swirls")
    taken_mg = WholeField()
    entry = EntryKey(null=True, blank=True)

    class Meta:
        constraints = [*whole_checks("pourswirl", "taken_mg", at_least=1)]

    def __str__(self) -> str:
        return f"cup {self.pk} of pour {self.pour_id}"


class PourColorant(models.Model):
    pour = models.ForeignKey(Pour, on_delete=models.PROTECT, related_name="colorants")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="+")
    mass_mg = WholeField()
    # stirred into a cup taken after mixing; None: into a part before the two met
    swirl = models.ForeignKey(
        PourSwirl, null=True, blank=True, on_delete=models.PROTECT, related_name="colorants"
    )

    class Meta:
        constraints = [*whole_checks("pourcolorant", "mass_mg", at_least=1)]

    def __str__(self) -> str:
        return f"{self.pour_id} {self.material_id}"


class RoomReading(models.Model):
    """How much room a blank takes, as somebody measured it: an observation, the latest of its way counts.

    By bucket: the millilitres it pushed away. By beads: what this mould held with the blank in it, and with as many
    others as `together` says. By density: the blank's own, oven-dry, in kg/m³.
    """

    class Way(models.TextChoices):
        BUCKET = "bucket", "bucket on the scale"
        BEADS = "beads", "dry fill in the mould"
        DENSITY = "density", "its own density"

    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="room_readings")
    way = models.CharField(max_length=8, choices=Way.choices)
    mould = models.ForeignKey(Mould, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    mm3 = WholeField(null=True, blank=True)
    kgm3 = WholeField(null=True, blank=True)
    together = WholeField(default=1)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints = [
            *whole_checks("roomreading", "mm3", "kgm3", "together", at_least=1),
            models.CheckConstraint(
                name="room_reading_has_its_figure",
                condition=Q(way="bucket", mm3__isnull=False, kgm3=None, mould=None)
                | Q(way="beads", mm3__isnull=False, kgm3=None, mould__isnull=False)
                | Q(way="density", mm3=None, kgm3__isnull=False, mould=None),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.workpiece_id} {self.way}"


class Stabilizing(models.Model):
    """One load through the bath: three weights for each workpiece, uptake on the dry weight.

    The taps say what was seen and when, none of them has to be there. The vacuum's gauge is below the air outside.
    What left the bath beyond what the wood kept is `lost_mg`, known only where the bath was weighed before and after.
    """

    bath = models.ForeignKey(Bath, on_delete=models.PROTECT, related_name="+")
    load = models.ForeignKey(Load, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    cooled_at = models.DateTimeField(null=True, blank=True)
    under_at = models.DateTimeField(null=True, blank=True)
    vacuum_at = models.DateTimeField(null=True, blank=True)
    vacuum_pa = WholeField(null=True, blank=True)
    bubbles_at = models.DateTimeField(null=True, blank=True)
    drained_at = models.DateTimeField(null=True, blank=True)
    foil_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    bath_before_mg = WholeField(null=True, blank=True)
    bath_after_mg = WholeField(null=True, blank=True)
    lost_mg = WholeField(null=True, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    entry = EntryKey(null=True, blank=True)

    class Meta:
        constraints = [
            *whole_checks("stabilizing", "vacuum_pa", "bath_before_mg", "bath_after_mg", at_least=1),
            *whole_checks("stabilizing", "lost_mg", at_least=0),
            models.CheckConstraint(
                name="stabilizing_gauge_belongs_to_a_vacuum",
                condition=Q(vacuum_pa=None) | Q(vacuum_at__isnull=False),
            ),
            models.CheckConstraint(
                name="stabilizing_loss_is_weighed",
                condition=Q(lost_mg=None) | Q(bath_before_mg__isnull=False, bath_after_mg__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"stabilizing {self.pk}"


class StabilizingItem(models.Model):
    stabilizing = models.ForeignKey(Stabilizing, on_delete=models.PROTECT, related_name="items")
    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="stabilizings")
    dry_mg = WholeField()
    drained_mg = WholeField(null=True, blank=True)
    baked_mg = WholeField(null=True, blank=True)
    # its share of what dripped off and bled out, drawn with what it kept
    loss_mg = WholeField(default=0)
    dark = models.BooleanField(default=False)
    brushed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            *whole_checks("stabilizingitem", "dry_mg", "drained_mg", "baked_mg", at_least=1),
            *whole_checks("stabilizingitem", "loss_mg", at_least=0),
            models.UniqueConstraint(fields=["stabilizing", "workpiece"], name="stabilizing_item_once"),
        ]

    def __str__(self) -> str:
        return f"{self.stabilizing_id} {self.workpiece_id}"

    @property
    def uptake_mg(self) -> int | None:
        return None if self.baked_mg is None else self.baked_mg - self.dry_mg
