"""Species with their figures and sources, and purchases of wood with what is known of them."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.fields.whole import WholeField, whole_checks
from studio.ledger.links import EntryKey
from studio.people.models import Supplier
from studio.people.names import FOLDED_LENGTH, fold
from studio.pictures.models import PictureLink
from studio.wood.kinds import Stabilizing, WoodKind

NAME_LENGTH = 120
NOTE_LENGTH = 1000


class DensityBasis(models.TextChoices):
    """Which mass over which volume a density is; one wood's three figures differ by 5 to 15 %."""

    GREEN = "green", "oven-dry weight over green size"
    DRY12 = "dry12", "oven-dry weight over size at 12 % moisture"
    AIR12 = "air12", "weight and size at 12 % moisture"
    OVEN = "oven", "oven-dry weight over oven-dry size"


# What the formulas of `craft.moisture` call the same four.
CRAFT_BASIS = {
    DensityBasis.GREEN: "green",
    DensityBasis.DRY12: "12 %",
    DensityBasis.AIR12: "air-dry",
    DensityBasis.OVEN: "oven-dry",
}


class How(models.TextChoices):
    BOUGHT = "bought", "bought"
    BARTERED = "bartered", "bartered"
    GIFT = "gift", "given to us"
    FOUND = "found", "found"


class Certainty(models.TextChoices):
    CERTAIN = "certain", "certain"
    LIKELY = "likely", "likely"
    GUESS = "guess", "a guess"


class Waxed(models.TextChoices):
    YES = "yes", "waxed"
    NO = "no", "not waxed"
    UNKNOWN = "unknown", "not known"


class SpeciesQuerySet(models.QuerySet["Species"]):
    def matching(self, text: str) -> Self:
        """Those whose common, other or botanical name contains each word of `text`."""
        found = self
        for word in fold(text).split():
            found = found.filter(name_search__contains=word)
        return found


class Species(models.Model):
    """A kind of tree. Figures are kept with what they are based on and where they come from."""

    common_name = models.CharField(max_length=NAME_LENGTH)
    other_names = models.CharField(max_length=300, blank=True)
    botanical_name = models.CharField(max_length=NAME_LENGTH, blank=True)
    density_kgm3 = WholeField(null=True, blank=True)
    density_basis = models.CharField(max_length=5, choices=DensityBasis.choices, blank=True)
    density_source = models.CharField(max_length=300, blank=True)
    shrinkage_ppm = WholeField(null=True, blank=True)
    shrinkage_source = models.CharField(max_length=300, blank=True)
    stabilizing = models.CharField(max_length=9, choices=Stabilizing.choices, default=Stabilizing.CONDITION)
    oily = models.BooleanField(default=False)
    resinous = models.BooleanField(default=False)
    protected_note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    dust_note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    practice_note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    own = models.BooleanField(default=True)
    name_search = models.CharField(max_length=FOLDED_LENGTH, editable=False, db_index=True)

    objects = SpeciesQuerySet.as_manager()

    class Meta:
        ordering = ["name_search", "pk"]
        verbose_name_plural = "species"
        constraints = [
            *whole_checks("species", "density_kgm3", "shrinkage_ppm", at_least=1),
            models.CheckConstraint(
                name="species_density_says_basis",
                condition=Q(density_kgm3__isnull=True, density_basis="")
                | Q(density_kgm3__isnull=False, density_basis__in=DensityBasis.values),
            ),
            models.CheckConstraint(name="species_stabilizing_known", condition=Q(stabilizing__in=Stabilizing.values)),
            models.UniqueConstraint(fields=["common_name", "botanical_name"], name="species_one_of_a_name"),
        ]

    def __str__(self) -> str:
        return self.common_name

    def save(self, *args, **kwargs) -> None:  # type: ignore[no-untyped-def]
        self.name_search = fold(f"{self.common_name} {self.other_names} {self.botanical_name}")
        super().save(*args, **kwargs)

    @property
    def craft_basis(self) -> str:
        """The density's basis as `craft.moisture` calls it; empty where no density is known."""
        return CRAFT_BASIS[DensityBasis(self.density_basis)] if self.density_basis else ""


# What a card or a customs paper will ask for one day, and an empty answer to it.
NEEDS_SUPPLIER = Q(how__in=[How.BOUGHT, How.BARTERED], supplier__isnull=True)
REST_WAITS = (
    Q(species__isnull=True)
    | Q(kind="")
    | Q(where_it_stood="")
    | Q(species_certainty="")
    | Q(waxed=Waxed.UNKNOWN)
    | Q(country="")
    | NEEDS_SUPPLIER
)


class PurchaseQuerySet(models.QuerySet["Purchase"]):
    def with_rest_waiting(self) -> Self:
        """Those of which something is still to be filled in, and nobody has said that it never will be."""
        return self.filter(REST_WAITS, that_is_all=False)


class Purchase(models.Model):
    """Wood that came in at one time from one place: bought, bartered, given or found.

    At the truck only the price is asked; everything else may come later. What it cost is charged to the lumps
    by the room that owns them; `entry` is that entry.
    """

    species = models.ForeignKey(Species, null=True, blank=True, on_delete=models.PROTECT)
    species_certainty = models.CharField(max_length=7, choices=Certainty.choices, blank=True)
    kind = models.CharField(max_length=6, choices=WoodKind.choices, blank=True)
    where_it_stood = models.CharField(max_length=200, blank=True)
    country = models.CharField(max_length=2, blank=True)
    supplier = models.ForeignKey(Supplier, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    bought_on = models.DateField()
    how = models.CharField(max_length=8, choices=How.choices, default=How.BOUGHT)
    paid_micro = WholeField(default=0)
    carriage_micro = WholeField(default=0)
    market_value_micro = WholeField(default=0)
    waxed = models.CharField(max_length=7, choices=Waxed.choices, default=Waxed.UNKNOWN)
    sold_dry = models.BooleanField(default=False)
    document_note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    that_is_all = models.BooleanField(default=False)
    entry = EntryKey(null=True, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    objects = PurchaseQuerySet.as_manager()

    class Meta:
        ordering = ["-bought_on", "-pk"]
        constraints = [
            *whole_checks("purchase", "paid_micro", "carriage_micro", "market_value_micro", at_least=0),
            models.CheckConstraint(
                name="purchase_words_known",
                condition=Q(how__in=How.values)
                & Q(waxed__in=Waxed.values)
                & Q(kind__in=["", *WoodKind.values])
                & Q(species_certainty__in=["", *Certainty.values]),
            ),
            models.CheckConstraint(
                name="purchase_given_costs_nothing",
                condition=Q(how__in=[How.BOUGHT, How.BARTERED]) | Q(paid_micro=0),
            ),
            models.CheckConstraint(
                name="purchase_market_value_is_for_given",
                condition=~Q(how=How.BOUGHT) | Q(market_value_micro=0),
            ),
        ]

    def __str__(self) -> str:
        return f"wood of {self.bought_on:%d %B %Y}"

    @property
    def cash_micro(self) -> int:
        """What left the till for it, carriage with it, later bills not."""
        return self.paid_micro + self.carriage_micro

    @property
    def still_to_fill_in(self) -> tuple[str, ...]:
        """What is not known yet, in a turner's words; nothing once somebody said that is all."""
        if self.that_is_all:
            return ()
        asked = {
            "what wood it is": self.species_id is None,
            "how sure we are of the wood": not self.species_certainty,
            "burr, root or what it is": not self.kind,
            "where it stood": not self.where_it_stood,
            "which country": not self.country,
            "who it came from": self.supplier_id is None and self.how in (How.BOUGHT, How.BARTERED),
            "waxed or not": self.waxed == Waxed.UNKNOWN,
        }
        return tuple(words for words, open_ in asked.items() if open_)


class Bill(models.Model):
    """A bill that came after the wood: carriage, sawing, a certificate."""

    purchase = models.ForeignKey(Purchase, on_delete=models.PROTECT, related_name="bills")
    amount_micro = WholeField()
    what = models.CharField(max_length=200)
    on = models.DateField()
    entry = EntryKey(null=True, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            *whole_checks("wood_bill", "amount_micro"),
            models.CheckConstraint(name="wood_bill_is_something", condition=~Q(amount_micro=0)),
        ]

    def __str__(self) -> str:
        return self.what


class PurchasePicture(PictureLink):
    purchase = models.ForeignKey(Purchase, on_delete=models.PROTECT, related_name="pictures")

    class Meta(PictureLink.Meta):
        constraints = [models.UniqueConstraint(fields=["purchase", "picture"], name="purchase_picture_once")]

    def __str__(self) -> str:
        return f"picture of purchase {self.purchase_id}"
