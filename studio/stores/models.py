"""Materials, what two-part resin needs to know of itself, batches, baths, and what was done to them."""

from datetime import date, timedelta
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from studio.fields.whole import WholeField, whole_checks
from studio.ledger.accounts import Account, Commodity, Component, Measure
from studio.ledger.links import EntryKey
from studio.people.models import Supplier
from studio.people.names import FOLDED_LENGTH, fold

NAME_LENGTH = 120
NOTE_LENGTH = 1000
DAY_S = 86_400


class MaterialKind(models.TextChoices):
    RESIN_A = "resin_a", "casting resin, Part A"
    RESIN_B = "resin_b", "casting resin, Part B"
    STABILIZING = "stabilizing", "stabilizing resin"
    COLORANT = "colorant", "colorant"
    FINISH = "finish", "finish"
    CONSUMABLE = "consumable", "used at the bench"
    FITTING = "fitting", "insert or fitting"


COMPONENT_OF: dict[str, Component] = {
    MaterialKind.RESIN_A: Component.RESIN,
    MaterialKind.RESIN_B: Component.RESIN,
    MaterialKind.STABILIZING: Component.STABILIZING,
    MaterialKind.COLORANT: Component.COLORANT,
    MaterialKind.FINISH: Component.FINISH,
    MaterialKind.CONSUMABLE: Component.CONSUMABLE,
    MaterialKind.FITTING: Component.CONSUMABLE,
}
# Only these may be counted in pieces: a resin that isn't weighed can't be mixed by weight.
MAY_BE_COUNTED = (MaterialKind.CONSUMABLE, MaterialKind.FITTING, MaterialKind.FINISH)


class ColourInto(models.TextChoices):
    A = "a", "Part A"
    B = "b", "Part B"
    EITHER = "either", "either part"


class WhyGone(models.TextChoices):
    """Why something was written off: one tap."""

    SPILT = "spilt", "spilt"
    SET = "set", "set or thickened"
    OLD = "old", "too old"
    WET = "wet", "took water"
    MIXED = "mixed", "mixed too much"
    OTHER = "other", "another reason"


class MaterialQuerySet(models.QuerySet["Material"]):
    def in_use(self) -> Self:
        return self.filter(archived=False)

    def matching(self, text: str) -> Self:
        """Those whose name contains each word of `text`, whatever the capitals and accents."""
        found = self
        for word in fold(text).split():
            found = found.filter(name_search__contains=word)
        return found


class Material(models.Model):
    """Something kept in the stores: milligrams where weighed, thousandths of a piece where counted."""

    name = models.CharField(max_length=NAME_LENGTH)
    kind = models.CharField(max_length=11, choices=MaterialKind.choices)
    commodity = models.OneToOneField(Commodity, on_delete=models.PROTECT, related_name="material")
    density_kgm3 = WholeField(null=True, blank=True)
    reorder_level = WholeField(null=True, blank=True)
    use_by_after_open_s = WholeField(null=True, blank=True)
    shelf_life_s = WholeField(null=True, blank=True)
    note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    archived = models.BooleanField(default=False)
    name_search = models.CharField(max_length=FOLDED_LENGTH, editable=False, db_index=True)

    objects = MaterialQuerySet.as_manager()

    class Meta:
        ordering = ["name_search", "pk"]
        constraints = [
            *whole_checks(
                "material",
                "density_kgm3",
                "reorder_level",
                "use_by_after_open_s",
                "shelf_life_s",
                at_least=1,
            ),
            models.CheckConstraint(name="material_kind_known", condition=Q(kind__in=MaterialKind.values)),
            models.UniqueConstraint(
                fields=["name_search"], condition=Q(archived=False), name="material_one_of_a_name"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def save(self, *args, **kwargs) -> None:  # type: ignore[no-untyped-def]
        self.name_search = fold(self.name)
        super().save(*args, **kwargs)

    @property
    def counted(self) -> bool:
        return self.commodity.measure == Measure.COUNTED

    @property
    def component(self) -> Component:
        return COMPONENT_OF[self.kind]


class ResinSystem(models.Model):
    """A casting resin: two materials and what its data sheet says of mixing them, by weight."""

    name = models.CharField(max_length=NAME_LENGTH, unique=True)
    part_a = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="+")
    part_b = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="+")
    # 100 to 83 is 100000 : 83000, so that 100 to 82.5 needs no fraction
    parts_a = WholeField()
    parts_b = WholeField()
    mixed_density_kgm3 = WholeField(null=True, blank=True)
    work_time_s = WholeField(null=True, blank=True)
    work_time_at_mdegc = WholeField(null=True, blank=True)
    work_time_mass_mg = WholeField(null=True, blank=True)
    # a second point of the sheet, at the same warmth: so long for so much in one cup
    second_time_s = WholeField(null=True, blank=True)
    second_mass_mg = WholeField(null=True, blank=True)
    demould_s = WholeField(null=True, blank=True)
    full_cure_s = WholeField(null=True, blank=True)
    # between when a second pour bonds by itself, after the first
    recoat_from_s = WholeField(null=True, blank=True)
    recoat_to_s = WholeField(null=True, blank=True)
    # what the sheet gives of curing in the warm: so long at so much
    post_cure_s = WholeField(null=True, blank=True)
    post_cure_mdegc = WholeField(null=True, blank=True)
    smallest_mg = WholeField(null=True, blank=True)
    largest_mg = WholeField(null=True, blank=True)
    max_depth_um = WholeField(null=True, blank=True)
    colorant_limit_ppm = WholeField(null=True, blank=True)
    colour_into = models.CharField(max_length=6, choices=ColourInto.choices, default=ColourInto.EITHER)
    ratio_tolerance_ppm = WholeField(null=True, blank=True)
    # of its volume, from liquid to cured
    shrink_ppm = WholeField(null=True, blank=True)
    source = models.CharField(max_length=200, blank=True)
    note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    archived = models.BooleanField(default=False)

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            *whole_checks("resin", "parts_a", "parts_b", at_least=1),
            *whole_checks("resin", "work_time_at_mdegc", "post_cure_mdegc"),
            *whole_checks(
                "resin",
                "mixed_density_kgm3",
                "work_time_s",
                "work_time_mass_mg",
                "demould_s",
                "full_cure_s",
                "smallest_mg",
                "largest_mg",
                "max_depth_um",
                at_least=1,
            ),
            *whole_checks("resin", "colorant_limit_ppm", "ratio_tolerance_ppm", "shrink_ppm", at_least=0),
            *whole_checks("resin", "second_time_s", "second_mass_mg", "recoat_to_s", "post_cure_s", at_least=1),
            *whole_checks("resin", "recoat_from_s", at_least=0),
            models.CheckConstraint(name="resin_two_parts", condition=~Q(part_a=F("part_b"))),
            models.CheckConstraint(
                name="resin_smallest_below_largest",
                condition=Q(smallest_mg__isnull=True)
                | Q(largest_mg__isnull=True)
                | Q(smallest_mg__lte=F("largest_mg")),
            ),
            models.CheckConstraint(name="resin_colour_known", condition=Q(colour_into__in=ColourInto.values)),
        ]

    def __str__(self) -> str:
        return self.name


class BatchQuerySet(models.QuerySet["Batch"]):
    def with_something_left(self) -> Self:
        return self.filter(account__amount__gt=0)

    def with_material(self) -> Self:
        return self.select_related("material__commodity", "account__commodity")


class Batch(models.Model):
    """One purchase of one material; its account holds what is left of it and what that cost.

    `paid_micro` is for the goods, `carriage_micro` came with them, `late_micro` is every bill since.
    """

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="batches")
    number = WholeField(unique=True)
    account = models.OneToOneField(Account, on_delete=models.PROTECT, related_name="batch")
    supplier = models.ForeignKey(Supplier, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    maker_mark = models.CharField("mark on the bottle", max_length=60, blank=True)
    received_on = models.DateField()
    opened_on = models.DateField(null=True, blank=True)
    use_by = models.DateField(null=True, blank=True)
    bought_amount = WholeField()
    paid_micro = WholeField()
    carriage_micro = WholeField(default=0)
    late_micro = WholeField(default=0)
    entry = EntryKey()
    note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    objects = BatchQuerySet.as_manager()

    class Meta:
        ordering = ["-received_on", "-pk"]
        verbose_name_plural = "batches"
        constraints = [
            *whole_checks("batch", "number", "bought_amount", at_least=1),
            *whole_checks("batch", "paid_micro", "carriage_micro", at_least=0),
            *whole_checks("batch", "late_micro"),
            models.CheckConstraint(
                name="batch_opened_after_it_came",
                condition=Q(opened_on__isnull=True) | Q(opened_on__gte=F("received_on")),
            ),
        ]

    def __str__(self) -> str:
        return f"batch {self.number}"

    @property
    def cost_micro(self) -> int:
        """All that was ever paid for it."""
        return self.paid_micro + self.carriage_micro + self.late_micro

    def use_by_on(self, on: date | None = None) -> date | None:
        """The last day it is good, as known on a day: as printed (or the shelf life from the day it came),
        cut short by how long it lasts once opened. None where neither is known."""
        days = []
        if self.use_by:
            days.append(self.use_by)
        elif self.material.shelf_life_s:
            days.append(_days_after(self.received_on, self.material.shelf_life_s))
        opened = self.opened_on if self.opened_on and (on is None or self.opened_on <= on) else None
        if opened and self.material.use_by_after_open_s:
            days.append(_days_after(opened, self.material.use_by_after_open_s))
        return min(days, default=None)

    @property
    def use_by_now(self) -> date | None:
        return self.use_by_on()

    def past(self, on: date) -> bool:
        """Whether it is past its last good day on `on`."""
        last = self.use_by_on(on)
        return last is not None and last < on


def _days_after(start: date, seconds: int) -> date:
    try:
        return start + timedelta(days=seconds // DAY_S)
    except OverflowError:
        return date.max


class Bath(models.Model):
    """Stabilizing resin in the chamber: filled from batches, taken up by blanks at average cost."""

    name = models.CharField(max_length=NAME_LENGTH)
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="baths")
    account = models.OneToOneField(Account, on_delete=models.PROTECT, related_name="bath")
    started_on = models.DateField()
    closed_on = models.DateField(null=True, blank=True)
    # catalyst starts the resin's slow clock: the day it went in, and for how long it keeps then
    catalysed_on = models.DateField(null=True, blank=True)
    keeps_s = WholeField(null=True, blank=True)
    dyed = models.BooleanField(default=False)
    note = models.CharField(max_length=NOTE_LENGTH, blank=True)

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            *whole_checks("bath", "keeps_s", at_least=1),
            models.UniqueConstraint(fields=["name"], condition=Q(closed_on__isnull=True), name="bath_one_of_a_name")
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def good_until(self) -> date | None:
        """The last day the catalysed resin keeps; None where nobody said when, or for how long."""
        return _days_after(self.catalysed_on, self.keeps_s) if self.catalysed_on and self.keeps_s else None


class Deed(models.Model):
    """Something that was done to a material: by whom and when, and the entry it caused, if any."""

    entry = EntryKey(null=True, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        abstract = True
        ordering = ["-at", "-pk"]


class Count(Deed):
    """What was really there: of one batch, of a material in all its batches, or of a bath."""

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="counts")
    batch = models.ForeignKey(Batch, null=True, blank=True, on_delete=models.PROTECT, related_name="counts")
    bath = models.ForeignKey(Bath, null=True, blank=True, on_delete=models.PROTECT, related_name="counts")
    was_amount = WholeField()
    counted_amount = WholeField()
    value_micro = WholeField(default=0)

    class Meta(Deed.Meta):
        constraints = [
            *whole_checks("count", "was_amount", "counted_amount", at_least=0),
            *whole_checks("count", "value_micro"),
        ]


class WriteOff(Deed):
    """Taken off the books because it is spilt, set or old: of a batch or of a bath."""

    batch = models.ForeignKey(Batch, null=True, blank=True, on_delete=models.PROTECT, related_name="write_offs")
    bath = models.ForeignKey(Bath, null=True, blank=True, on_delete=models.PROTECT, related_name="write_offs")
    amount = WholeField()
    value_micro = WholeField()
    why = models.CharField(max_length=6, choices=WhyGone.choices)
    words = models.CharField(max_length=300, blank=True)

    class Meta(Deed.Meta):
        constraints = [
            *whole_checks("write_off", "amount", at_least=1),
            *whole_checks("write_off", "value_micro", at_least=0),
            models.CheckConstraint(
                name="write_off_of_one_thing",
                condition=Q(batch__isnull=False, bath__isnull=True) | Q(batch__isnull=True, bath__isnull=False),
            ),
            models.CheckConstraint(name="write_off_says_why", condition=Q(why__in=WhyGone.values)),
        ]


class LateBill(Deed):
    """Money for a batch that came or went after it was bought: carriage, a refund, a price put right."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="late_bills")
    value_micro = WholeField()
    price_put_right = models.BooleanField(default=False)
    what = models.CharField(max_length=200, blank=True)

    class Meta(Deed.Meta):
        constraints = [
            *whole_checks("late_bill", "value_micro"),
            models.CheckConstraint(name="late_bill_is_something", condition=~Q(value_micro=0)),
        ]


class Filling(Deed):
    """Resin poured from the stores into a bath."""

    bath = models.ForeignKey(Bath, on_delete=models.PROTECT, related_name="fillings")
    amount = WholeField()
    value_micro = WholeField()

    class Meta(Deed.Meta):
        constraints = [
            *whole_checks("filling", "amount", at_least=1),
            *whole_checks("filling", "value_micro", at_least=0),
        ]
