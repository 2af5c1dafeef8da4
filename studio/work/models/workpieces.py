"""What lies on the bench, where it came from, and what it weighed."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.equipment.models import Load
from studio.fields.whole import WholeField, whole_checks
from studio.ledger.accounts import Account
from studio.ledger.links import EntryKey
from studio.people.models import Client
from studio.pictures.models import PictureLink
from studio.wood.kinds import WoodKind
from studio.wood.models import Purchase, Species


class Stage(models.TextChoices):
    LUMP = "lump", "Lump"
    BLANK = "blank", "Blank"
    CASTING = "casting", "Casting"
    PART = "part", "Part"
    PIECE = "piece", "Piece"


class Bark(models.TextChoices):
    NONE = "none", "no bark inside"
    IN = "in", "bark left in"
    OUT = "out", "bark cleaned out"


class ClosedAs(models.TextChoices):
    CUT = "cut", "cut up"
    JOINED = "joined", "joined into another"
    LOST = "lost", "lost"
    SOLD = "sold", "sold"
    LEFT = "left", "left without a sale"
    RETURNED = "returned", "given back to its owner"


class WorkpieceQuerySet(models.QuerySet["Workpiece"]):
    def on_the_bench(self) -> "WorkpieceQuerySet":
        return self.filter(closed_at__isnull=True)

    def in_shop_order(self) -> "WorkpieceQuerySet":
        return self.order_by("sort_key")


class Workpiece(models.Model):
    """A lump, a blank, a casting, a part or a piece: a number, a history and a balance.

    A blank that is cast and turned stays the same row and the same account; only its stage goes on.
    """

    number = models.CharField(max_length=40, unique=True)
    sort_key = models.CharField(max_length=80, db_index=True)
    account = models.OneToOneField(Account, on_delete=models.PROTECT, related_name="workpiece")
    stage = models.CharField(max_length=8, choices=Stage.choices)
    title = models.CharField(max_length=200, blank=True)
    form = models.CharField(max_length=60, blank=True)
    species = models.ForeignKey(Species, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    wood_kind = models.CharField(max_length=16, choices=WoodKind.choices, blank=True)
    purchase = models.ForeignKey(Purchase, null=True, blank=True, on_delete=models.PROTECT, related_name="workpieces")
    punky = models.BooleanField(default=False)
    spalted = models.BooleanField(default=False)
    checked = models.BooleanField(default=False)
    bark = models.CharField(max_length=4, choices=Bark.choices, default=Bark.NONE)
    client_owned = models.BooleanField(default=False)
    owner = models.ForeignKey(Client, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    length_um = WholeField(null=True, blank=True)
    width_um = WholeField(null=True, blank=True)
    height_um = WholeField(null=True, blank=True)
    made_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_as = models.CharField(max_length=8, choices=ClosedAs.choices, blank=True)
    hold_reason = models.CharField(max_length=200, blank=True)
    hold_ref = models.CharField(max_length=60, blank=True, db_index=True)
    lost_number = models.BooleanField(default=False)
    search_text = models.CharField(max_length=600, blank=True)

    objects = WorkpieceQuerySet.as_manager()

    class Meta:
        constraints = [
            *whole_checks("workpiece", "length_um", "width_um", "height_um", at_least=1),
            models.CheckConstraint(
                name="workpiece_closed_says_how",
                condition=Q(closed_at__isnull=True, closed_as="") | (Q(closed_at__isnull=False) & ~Q(closed_as="")),
            ),
            models.CheckConstraint(
                name="workpiece_owner_of_clients_own",
                condition=Q(client_owned=True, owner__isnull=False) | Q(client_owned=False),
            ),
        ]
        indexes = [models.Index(fields=["closed_at", "stage"])]

    def __str__(self) -> str:
        return self.number

    @property
    def sound(self) -> bool:
        return not (self.punky or self.spalted or self.checked or self.bark == Bark.IN)

    @property
    def held(self) -> bool:
        return bool(self.hold_reason)


class WorkpiecePicture(PictureLink):
    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="pictures")


class Descent(models.Model):
    """Which workpiece came of which, and by what share of the cost at that time. Never changed afterwards."""

    class How(models.TextChoices):
        CUT = "cut", "cut from"
        CAST = "cast", "cast with"
        JOIN = "join", "joined from"
        SALVAGE = "salvage", "saved from"

    parent = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="children_links")
    child = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="parent_links")
    how = models.CharField(max_length=8, choices=How.choices)
    share_ppm = WholeField()
    at = models.DateTimeField()
    entry = EntryKey(null=True, blank=True)

    class Meta:
        constraints = [
            *whole_checks("descent", "share_ppm", at_least=0),
            models.UniqueConstraint(fields=["parent", "child"], name="descent_once"),
            models.CheckConstraint(condition=~Q(parent=models.F("child")), name="descent_not_of_itself"),
        ]

    def __str__(self) -> str:
        return f"{self.child} {self.how} {self.parent}"


class Weighing(models.Model):
    """What the scale showed: an observation, never a journal amount (wood dries, drinks and is turned away)."""

    class Condition(models.TextChoices):
        WET = "wet", "as it came"
        SEASON = "season", "seasoning"
        OVEN = "oven", "in the oven"
        OVEN_DRY = "oven_dry", "oven-dry"
        DRAINED = "drained", "drained"
        BAKED = "baked", "baked and cleaned"
        CAST = "cast", "cast"
        TURNED = "turned", "turned"
        FINISHED = "finished", "finished"

    workpiece = models.ForeignKey(Workpiece, on_delete=models.PROTECT, related_name="weighings")
    mass_mg = WholeField()
    step_mg = WholeField(default=1000)
    at = models.DateTimeField()
    condition = models.CharField(max_length=10, choices=Condition.choices)
    load = models.ForeignKey(Load, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    struck_out = models.BooleanField(default=False)

    class Meta:
        constraints = [*whole_checks("weighing", "mass_mg", "step_mg", at_least=1)]
        indexes = [models.Index(fields=["workpiece", "at"])]

    def __str__(self) -> str:
        return f"{self.workpiece_id} {self.mass_mg} mg"
