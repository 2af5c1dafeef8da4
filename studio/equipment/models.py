"""Machines, moulds, and the loads that lie in an oven, a vacuum chamber or a pressure pot."""

from datetime import date
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from studio.fields.whole import WholeField, whole_checks
from studio.ledger.accounts import Account
from studio.ledger.links import EntryKey
from studio.people.names import FOLDED_LENGTH, fold

NAME_LENGTH = 120
NOTE_LENGTH = 2000
WHY_LENGTH = 300


class MachineKind(models.TextChoices):
    OVEN = "oven", "oven"
    VACUUM_CHAMBER = "vacuum_chamber", "vacuum chamber"
    PRESSURE_POT = "pressure_pot", "pressure pot"
    LATHE = "lathe", "lathe"
    COMPRESSOR = "compressor", "compressor"
    SCALE = "scale", "scale"
    OTHER = "other", "other machine"


class Known(models.TextChoices):
    YES = "yes", "yes"
    NO = "no", "no"
    UNKNOWN = "unknown", "don't know"


class MachineQuerySet(models.QuerySet["Machine"]):
    def in_use(self) -> Self:
        """Those not retired."""
        return self.filter(retired_on=None)

    def of_kind(self, kind: str) -> Self:
        return self.filter(kind=kind)

    def takes_loads(self) -> Self:
        return self.in_use().filter(kind__in=TAKES_LOADS)


class Machine(models.Model):
    """One machine as its nameplate and its bill describe it.

    `duty_ppm` is the share of its rated power that it really draws while running. Wear is its price over the
    hours it will last. What isn't known stays empty: an unknown figure is never taken for nothing where it is
    dangerous.
    """

    kind = models.CharField(max_length=16, choices=MachineKind)
    name = models.CharField(max_length=NAME_LENGTH)
    name_search = models.CharField(max_length=FOLDED_LENGTH, editable=False)
    inside_width_um = WholeField(null=True, blank=True)
    inside_depth_um = WholeField(null=True, blank=True)
    inside_height_um = WholeField(null=True, blank=True)
    inside_diameter_um = WholeField(null=True, blank=True)
    highest_mdegc = WholeField(null=True, blank=True)
    power_w = WholeField(null=True, blank=True)
    duty_ppm = WholeField(default=1_000_000)
    certified_pa = WholeField(null=True, blank=True)
    relief_pa = WholeField(null=True, blank=True)
    unaltered = models.CharField(max_length=8, choices=Known, default=Known.UNKNOWN)
    last_inspected_on = models.DateField(null=True, blank=True)
    inspect_by = models.DateField(null=True, blank=True)
    price_micro = WholeField(null=True, blank=True)
    life_s = WholeField(null=True, blank=True)
    step_mg = WholeField(null=True, blank=True)
    # a compressor's free air, in a second
    delivery_mm3_s = WholeField(null=True, blank=True)
    highest_rpm = WholeField(null=True, blank=True)
    note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    added_at = models.DateTimeField()
    retired_on = models.DateField(null=True, blank=True)

    objects = MachineQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "name_search", "pk"]
        constraints = [
            *whole_checks("machine", "highest_mdegc"),
            *whole_checks("machine", "certified_pa", "relief_pa", "power_w", "duty_ppm", "price_micro", at_least=0),
            *whole_checks(
                "machine",
                "inside_width_um",
                "inside_depth_um",
                "inside_height_um",
                "inside_diameter_um",
                "life_s",
                "step_mg",
                "delivery_mm3_s",
                "highest_rpm",
                at_least=1,
            ),
            models.CheckConstraint(condition=Q(duty_ppm__lte=1_000_000), name="machine_duty_at_most_whole"),
            models.CheckConstraint(condition=Q(kind__in=MachineKind.values), name="machine_kind_known"),
            models.CheckConstraint(condition=Q(unaltered__in=Known.values), name="machine_unaltered_known"),
            models.UniqueConstraint(
                fields=["name_search"], condition=Q(retired_on=None), name="machine_one_name_in_use"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: object, **kwargs: object) -> None:
        self.name_search = fold(self.name)
        super().save(*args, **kwargs)  # type: ignore[arg-type]

    @property
    def takes_loads(self) -> bool:
        return self.retired_on is None and self.kind in TAKES_LOADS

    def retired(self, on: date) -> bool:
        """Return whether the machine is out of use on that day."""
        return self.retired_on is not None and self.retired_on <= on


TAKES_LOADS = (
    MachineKind.OVEN,
    MachineKind.VACUUM_CHAMBER,
    MachineKind.PRESSURE_POT,
    MachineKind.OTHER,
)


class Shape(models.TextChoices):
    BOX = "box", "box"
    ROUND = "round", "round"
    TUBE = "tube", "tube"
    TAPERED = "tapered", "tapered pail"
    MEASURED = "measured", "filled and measured"


class MouldQuerySet(models.QuerySet["Mould"]):
    def in_use(self) -> Self:
        return self.filter(retired_on=None)


class Mould(models.Model):
    """A mould by its inside. A box has length, width and height; a round one or a tube diameter and height; a
    tapered pail the diameter at the bottom, the diameter at the rim and the height. `fill_mm3` is what it held when
    somebody filled it and measured; where it is given it counts before the geometry. The outside, as far as anybody
    measured it, says whether it goes into a pot: length and width of a box, diameter of anything round (at its
    widest), and height.
    """

    name = models.CharField(max_length=NAME_LENGTH)
    name_search = models.CharField(max_length=FOLDED_LENGTH, editable=False)
    shape = models.CharField(max_length=10, choices=Shape)
    length_um = WholeField(null=True, blank=True)
    width_um = WholeField(null=True, blank=True)
    height_um = WholeField(null=True, blank=True)
    diameter_um = WholeField(null=True, blank=True)
    top_diameter_um = WholeField(null=True, blank=True)
    fill_mm3 = WholeField(null=True, blank=True)
    outside_length_um = WholeField(null=True, blank=True)
    outside_width_um = WholeField(null=True, blank=True)
    outside_diameter_um = WholeField(null=True, blank=True)
    outside_height_um = WholeField(null=True, blank=True)
    note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    added_at = models.DateTimeField()
    retired_on = models.DateField(null=True, blank=True)

    objects = MouldQuerySet.as_manager()

    class Meta:
        ordering = ["name_search", "pk"]
        constraints = [
            *whole_checks(
                "mould",
                "length_um",
                "width_um",
                "height_um",
                "diameter_um",
                "top_diameter_um",
                "fill_mm3",
                "outside_length_um",
                "outside_width_um",
                "outside_diameter_um",
                "outside_height_um",
                at_least=1,
            ),
            models.CheckConstraint(
                name="mould_has_a_volume",
                condition=Q(fill_mm3__isnull=False)
                | Q(shape=Shape.BOX, length_um__isnull=False, width_um__isnull=False, height_um__isnull=False)
                | Q(shape__in=(Shape.ROUND, Shape.TUBE), diameter_um__isnull=False, height_um__isnull=False)
                | Q(
                    shape=Shape.TAPERED,
                    diameter_um__isnull=False,
                    top_diameter_um__isnull=False,
                    height_um__isnull=False,
                ),
            ),
            models.UniqueConstraint(
                fields=["name_search"], condition=Q(retired_on=None), name="mould_one_name_in_use"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: object, **kwargs: object) -> None:
        self.name_search = fold(self.name)
        super().save(*args, **kwargs)  # type: ignore[arg-type]


class Purpose(models.TextChoices):
    SEASON = "season", "season"
    DRY = "dry", "dry"
    WARM = "warm", "warm up"
    BAKE = "bake", "bake stabilized wood"
    VACUUM = "vacuum", "pull vacuum"
    PRESSURE = "pressure", "hold under pressure"
    POST_CURE = "post_cure", "post-cure"
    OTHER = "other", "other"


class ShareBy(models.TextChoices):
    VOLUME = "volume", "by volume"
    MASS = "mass", "by weight"
    EQUAL = "equal", "equally"


class LoadQuerySet(models.QuerySet["Load"]):
    def running(self) -> Self:
        return self.filter(ended_at=None)

    def ended(self) -> Self:
        return self.filter(ended_at__isnull=False)


class Load(models.Model):
    """One run of a machine, from closing the door to opening it, whatever lay inside for all or part of it.

    `step` is the step code its cost is posted under. `not_before` says until when it must be left alone.
    `warned` keeps the codes of what was warned about and gone ahead with, `why` the words given for it.
    """

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="loads")
    purpose = models.CharField(max_length=10, choices=Purpose)
    step = models.CharField(max_length=16)
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    set_point_mdegc = WholeField(null=True, blank=True)
    gauge_pa = WholeField(null=True, blank=True)
    share_by = models.CharField(max_length=8, choices=ShareBy, default=ShareBy.EQUAL)
    not_before = models.DateTimeField(null=True, blank=True)
    warned = models.CharField(max_length=200, blank=True)
    why = models.CharField(max_length=WHY_LENGTH, blank=True)
    hands_on_s = WholeField(default=0)
    hands_on_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    started_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    ended_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    entry = EntryKey(null=True, blank=True)

    objects = LoadQuerySet.as_manager()

    class Meta:
        ordering = ["-started_at", "-pk"]
        constraints = [
            *whole_checks("load", "set_point_mdegc"),
            *whole_checks("load", "gauge_pa", "hands_on_s", at_least=0),
            models.UniqueConstraint(
                fields=["machine"], condition=Q(ended_at=None), name="load_one_running_per_machine"
            ),
            models.CheckConstraint(
                condition=Q(ended_at=None) | Q(ended_at__gt=F("started_at")), name="load_ends_after_it_starts"
            ),
            models.CheckConstraint(
                condition=Q(entry=None) | Q(ended_at__isnull=False), name="load_posted_only_when_ended"
            ),
        ]
        indexes = [models.Index(fields=["machine", "-started_at"], name="load_diary")]

    def __str__(self) -> str:
        return f"load {self.pk} of {self.machine}"

    @property
    def warned_codes(self) -> tuple[str, ...]:
        return tuple(self.warned.split())


class OutWhy(models.TextChoices):
    ENDED = "ended", "the load ended"
    EARLY = "early", "taken out early"
    LOST = "lost", "lost while inside"


class LoadPlaceQuerySet(models.QuerySet["LoadPlace"]):
    def inside(self) -> Self:
        """What lies in a machine now."""
        return self.filter(out_at=None)


class LoadPlace(models.Model):
    """One workpiece in a load, with what the hours are shared by: mm³, milligrams, or one each."""

    load = models.ForeignKey(Load, models.PROTECT, related_name="places")
    account = models.ForeignKey(Account, models.PROTECT, related_name="load_places")
    weight = WholeField()
    put_in_at = models.DateTimeField()
    put_in_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    out_at = models.DateTimeField(null=True, blank=True)
    out_why = models.CharField(max_length=8, choices=OutWhy, blank=True)

    objects = LoadPlaceQuerySet.as_manager()

    class Meta:
        ordering = ["load", "put_in_at", "pk"]
        constraints = [
            *whole_checks("load_place", "weight", at_least=1),
            models.UniqueConstraint(fields=["account"], condition=Q(out_at=None), name="load_place_in_one_machine"),
            models.CheckConstraint(
                condition=Q(out_at=None, out_why="") | (Q(out_at__gte=F("put_in_at")) & ~Q(out_why="")),
                name="load_place_out_after_in",
            ),
        ]

    def __str__(self) -> str:
        return f"account {self.account_id} in load {self.load_id}"


class GaugeReading(models.Model):
    """What a running load's gauge showed, one tap each: the first at pressure says how long the pot took to fill."""

    load = models.ForeignKey(Load, models.PROTECT, related_name="readings")
    gauge_pa = WholeField()
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["load", "at", "pk"]
        constraints = [*whole_checks("gauge_reading", "gauge_pa", at_least=0)]

    def __str__(self) -> str:
        return f"{self.gauge_pa} Pa in load {self.load_id}"


class Upkeep(models.Model):
    """Something a machine wants every so long by the calendar, or every so many hours it has run, or both."""

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="upkeep")
    what = models.CharField(max_length=NAME_LENGTH)
    every_s = WholeField(null=True, blank=True)
    run_s = WholeField(null=True, blank=True)
    ours = models.BooleanField(default=False)
    began_at = models.DateTimeField()
    dropped = models.BooleanField(default=False)

    class Meta:
        ordering = ["machine", "pk"]
        constraints = [
            *whole_checks("upkeep", "every_s", "run_s", at_least=1),
            models.UniqueConstraint(fields=["machine", "what"], condition=Q(dropped=False), name="upkeep_once"),
            models.CheckConstraint(
                condition=Q(every_s__isnull=False) | Q(run_s__isnull=False), name="upkeep_has_an_interval"
            ),
        ]

    def __str__(self) -> str:
        return self.what


class UpkeepDone(models.Model):
    """It was done, and what was found."""

    upkeep = models.ForeignKey(Upkeep, models.PROTECT, related_name="done")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    words = models.CharField(max_length=WHY_LENGTH, blank=True)

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.upkeep_id} {self.at}"
