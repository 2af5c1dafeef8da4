"""A made thing: what it is called, what it measures, whether it is finished, what is asked for it, how it left."""

import secrets

from django.conf import settings
from django.db import models
from django.db.models import F, OuterRef, Q, Subquery, Value
from django.db.models.functions import Coalesce, Greatest

from studio.fields.whole import WholeField, whole_checks
from studio.ledger.links import EntryKey
from studio.pictures.models import PictureLink
from studio.work.models import Workpiece

NUMBER_LENGTH = 60
WORDS_LENGTH = 200
STORY_LENGTH = 4000
TICKS = ("measured", "signed", "photographed", "rested")
SIZES = ("height_um", "diameter_um", "length_um", "width_um")


class Grade(models.TextChoices):
    FIRST = "first", "First"
    SECOND = "second", "Second"


class WayOut(models.TextChoices):
    """How a piece leaves without a sale."""

    GIFT = "gift", "given as a gift"
    KEPT = "kept", "kept"
    DONATED = "donated", "donated"
    SAMPLE = "sample", "made a sample"
    OWN_USE = "own_use", "taken for own use"


def new_token() -> str:
    """A word nobody guesses, for the address of a piece's public page."""
    return secrets.token_urlsafe(16)


class PieceQuerySet(models.QuerySet["Piece"]):
    def in_the_shop(self) -> "PieceQuerySet":
        """Neither sold nor gone nor lost: at a gallery or on the shelf, finished or not."""
        return self.filter(workpiece__closed_at__isnull=True)

    def finished(self) -> "PieceQuerySet":
        return self.filter(finished_at__isnull=False)

    def unfinished(self) -> "PieceQuerySet":
        return self.filter(finished_at__isnull=True)

    def with_asking(self) -> "PieceQuerySet":
        """Each row with `asking_micro`, the price asked now (None: not priced, or taken off)."""
        newest = AskingPrice.objects.filter(piece=OuterRef("pk")).order_by("-pk")
        return self.annotate(asking_micro=Subquery(newest.values("amount_micro")[:1]))

    def sized(self) -> "PieceQuerySet":
        """Each row with `across_um`, its largest measure (0: never measured)."""
        known = [Coalesce(F(name), Value(0)) for name in SIZES]
        return self.annotate(across_um=Greatest(*known))


class Piece(models.Model):
    """A workpiece that has become a piece. Title, form, wood and cost stay with the workpiece.

    Four ticks make it finished: measured, signed, photographed, rested.
    """

    workpiece = models.OneToOneField(Workpiece, on_delete=models.PROTECT, related_name="piece")
    became_at = models.DateTimeField()
    became_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    # The running number and its year stand beside the number as written, so that the next can be found.
    signed_number = models.CharField(max_length=NUMBER_LENGTH, null=True, blank=True, unique=True)
    signed_run = WholeField(null=True, blank=True)
    signed_year = models.PositiveSmallIntegerField(null=True, blank=True)
    signed_with = models.CharField(max_length=WORDS_LENGTH, blank=True)
    signed_on = models.DateField(null=True, blank=True)
    number_search = models.CharField(max_length=NUMBER_LENGTH * 2, blank=True)
    height_um = WholeField(null=True, blank=True)
    diameter_um = WholeField(null=True, blank=True)
    length_um = WholeField(null=True, blank=True)
    width_um = WholeField(null=True, blank=True)
    mass_mg = WholeField(null=True, blank=True)
    measured_at = models.DateTimeField(null=True, blank=True)
    signed_at = models.DateTimeField(null=True, blank=True)
    photographed_at = models.DateTimeField(null=True, blank=True)
    rested_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True, db_index=True)
    grade = models.CharField(max_length=6, choices=Grade.choices, default=Grade.FIRST)
    second_why = models.CharField(max_length=WORDS_LENGTH, blank=True)
    finish_words = models.CharField(max_length=WORDS_LENGTH, blank=True)
    care_words = models.TextField(blank=True)
    caution_words = models.TextField(blank=True)
    story = models.TextField(blank=True)
    public_token = models.CharField(max_length=32, unique=True, default=new_token)
    allowance_entry = EntryKey(null=True, blank=True)
    way_out = models.CharField(max_length=8, choices=WayOut.choices, blank=True)
    way_out_at = models.DateTimeField(null=True, blank=True)
    way_out_words = models.CharField(max_length=WORDS_LENGTH, blank=True)
    way_out_entry = EntryKey(null=True, blank=True)

    objects = PieceQuerySet.as_manager()

    class Meta:
        constraints = [
            *whole_checks("piece", *SIZES, "mass_mg", "signed_run", at_least=1),
            models.CheckConstraint(
                name="piece_finished_has_four_ticks",
                condition=Q(finished_at__isnull=True)
                | Q(
                    measured_at__isnull=False,
                    signed_at__isnull=False,
                    photographed_at__isnull=False,
                    rested_at__isnull=False,
                ),
            ),
            models.CheckConstraint(
                name="piece_signed_has_number",
                condition=Q(signed_at__isnull=True)
                | (Q(signed_number__isnull=False, signed_on__isnull=False) & ~Q(signed_number="")),
            ),
            models.CheckConstraint(
                name="piece_measured_has_weight", condition=Q(measured_at__isnull=True) | Q(mass_mg__isnull=False)
            ),
            models.CheckConstraint(
                name="piece_second_says_why", condition=~Q(grade=Grade.SECOND) | ~Q(second_why="")
            ),
            models.CheckConstraint(
                name="piece_way_out_has_time",
                condition=Q(way_out="", way_out_at__isnull=True) | (~Q(way_out="") & Q(way_out_at__isnull=False)),
            ),
        ]
        indexes = [models.Index(fields=["signed_year", "signed_run"])]

    def __str__(self) -> str:
        return self.signed_number or self.workpiece.number

    @property
    def title(self) -> str:
        return self.workpiece.title

    @property
    def form(self) -> str:
        return self.workpiece.form

    @property
    def ticks_missing(self) -> tuple[str, ...]:
        """Which of the four ticks are still to come, in the order one makes them."""
        return tuple(tick for tick in TICKS if getattr(self, f"{tick}_at") is None)

    @property
    def size_um(self) -> int | None:
        """The largest of its measures: what like pieces are found by. None where it was never measured."""
        return max((getattr(self, name) for name in SIZES if getattr(self, name)), default=None)

    @property
    def is_finished(self) -> bool:
        return self.finished_at is not None

    @property
    def cares(self) -> tuple[str, ...]:
        return tuple(self.care_words.splitlines())

    @property
    def cautions(self) -> tuple[str, ...]:
        return tuple(self.caution_words.splitlines())


class PiecePart(models.Model):
    """A part one can take in the hand: a lid, a finial, a stand."""

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="parts")
    position = models.PositiveSmallIntegerField()
    words = models.CharField(max_length=WORDS_LENGTH)
    workpiece = models.ForeignKey(Workpiece, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["position", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["piece", "workpiece"], condition=Q(workpiece__isnull=False), name="piece_part_once"
            )
        ]

    def __str__(self) -> str:
        return self.words


class PiecePicture(PictureLink):
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="pictures")
    on_card = models.BooleanField(default=False)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["piece"], condition=Q(on_card=True), name="piece_one_picture_on_card"),
            models.UniqueConstraint(fields=["piece", "picture"], name="piece_picture_once"),
        ]


class AskingPrice(models.Model):
    """What was asked from then on, before tax, and why. The newest row counts; no amount: not for sale.

    `lowest_micro` is the lowest ask as it stood on that day, where it was known.
    """

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="asking_prices")
    amount_micro = WholeField(null=True, blank=True)
    reason = models.CharField(max_length=WORDS_LENGTH, blank=True)
    lowest_micro = WholeField(null=True, blank=True)
    below_lowest = models.BooleanField(default=False)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            *whole_checks("askingprice", "amount_micro", at_least=1),
            *whole_checks("askingprice", "lowest_micro", at_least=0),
            models.CheckConstraint(
                name="askingprice_below_lowest_says_why",
                condition=Q(below_lowest=False) | (Q(amount_micro__lt=F("lowest_micro")) & ~Q(reason="")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece_id} {self.amount_micro}"
