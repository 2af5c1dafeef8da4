"""Galleries and their terms, where a piece stands, what was sold, and what was paid."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from studio.fields.whole import WholeField, whole_checks
from studio.ledger.accounts import Account
from studio.ledger.links import EntryKey
from studio.people.models import Client
from studio.people.names import FOLDED_LENGTH, fold
from studio.pieces.models import Piece

NAME_LENGTH = 200
NOTE_LENGTH = 1000
WHY_LENGTH = 200
REF_LENGTH = 60
WHOLE_PPM = 1_000_000


class GalleryQuerySet(models.QuerySet["Gallery"]):
    def open(self) -> Self:
        """Those we still work with."""
        return self.filter(closed_on__isnull=True)

    def matching(self, text: str) -> Self:
        found = self
        for word in fold(text).split()[:6]:
            found = found.filter(name_search__contains=word)
        return found


class Gallery(models.Model):
    """A shop that shows and sells our pieces and keeps a share. What it owes is an account of its own."""

    name = models.CharField(max_length=NAME_LENGTH)
    name_search = models.CharField(max_length=FOLDED_LENGTH, editable=False, unique=True)
    account = models.OneToOneField(Account, on_delete=models.PROTECT, related_name="gallery")
    town = models.CharField(max_length=NAME_LENGTH, blank=True)
    email = models.CharField(max_length=254, blank=True)
    phone = models.CharField(max_length=50, blank=True)
    note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    added_at = models.DateTimeField()
    closed_on = models.DateField(null=True, blank=True)

    objects = GalleryQuerySet.as_manager()

    class Meta:
        ordering = ["name_search", "pk"]

    def __str__(self) -> str:
        return self.name

    def save(self, *args, **kwargs) -> None:  # type: ignore[no-untyped-def]
        self.name_search = fold(self.name)
        if kwargs.get("update_fields") is not None and "name" in kwargs["update_fields"]:
            kwargs["update_fields"] = {*kwargs["update_fields"], "name_search"}
        super().save(*args, **kwargs)


class GalleryTerms(models.Model):
    """What was agreed with a gallery from a day on. A correction for that day is a new row; the last one holds."""

    gallery = models.ForeignKey(Gallery, on_delete=models.PROTECT, related_name="terms")
    from_on = models.DateField()
    revision = models.PositiveSmallIntegerField()
    share_ppm = WholeField()
    days_to_pay = models.PositiveSmallIntegerField()
    collects_tax = models.BooleanField(default=True)
    note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    set_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["gallery", "from_on", "revision"]
        constraints = [
            *whole_checks("galleryterms", "share_ppm", at_least=0),
            models.CheckConstraint(name="galleryterms_share_of_a_whole", condition=Q(share_ppm__lt=WHOLE_PPM)),
            models.UniqueConstraint(fields=["gallery", "from_on", "revision"], name="galleryterms_one_row_each"),
        ]

    def __str__(self) -> str:
        return f"{self.gallery_id} from {self.from_on}"


class ClientAccount(models.Model):
    """What a client who took a piece and hasn't paid owes."""

    client = models.OneToOneField(Client, on_delete=models.PROTECT, related_name="selling_account")
    account = models.OneToOneField(Account, on_delete=models.PROTECT, related_name="client_account")

    def __str__(self) -> str:
        return f"account of client {self.client_id}"


class PlacementQuerySet(models.QuerySet["Placement"]):
    def open(self) -> Self:
        """Where pieces stand now."""
        return self.filter(back_at__isnull=True)


class Placement(models.Model):
    """A piece left with a gallery, until it is sold or comes back. One place at a time: the database holds it."""

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="placements")
    gallery = models.ForeignKey(Gallery, on_delete=models.PROTECT, related_name="placements")
    left_at = models.DateTimeField()
    left_on = models.DateField()
    left_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    back_at = models.DateTimeField(null=True, blank=True)
    back_on = models.DateField(null=True, blank=True)
    back_why = models.CharField(max_length=WHY_LENGTH, blank=True)
    back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    objects = PlacementQuerySet.as_manager()

    class Meta:
        ordering = ["left_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["piece"], condition=Q(back_at__isnull=True), name="placement_one_place_at_a_time"
            ),
            models.CheckConstraint(
                name="placement_ended_says_why",
                condition=Q(back_at__isnull=True, back_on__isnull=True, back_why="")
                | (Q(back_at__isnull=False, back_on__isnull=False) & ~Q(back_why="")),
            ),
            models.CheckConstraint(
                name="placement_ends_after_it_begins",
                condition=Q(back_at__isnull=True) | Q(back_at__gte=F("left_at")),
            ),
        ]
        indexes = [models.Index(fields=["gallery", "back_at"])]

    def __str__(self) -> str:
        return f"{self.piece_id} with {self.gallery_id}"


class SaleQuerySet(models.QuerySet["Sale"]):
    def live(self) -> Self:
        """Sales that stand: not taken back."""
        return self.filter(taken_back_at__isnull=True)


class Sale(models.Model):
    """One piece sold. Every figure is what the entry says; money is before tax except `tax_micro` itself.

    `owed_micro` is what the gallery or the client had to pay after this sale; nothing where it was paid at
    once. `ref` is the mark of whoever the piece was kept for; only he takes the sale back.
    """

    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="sales")
    gallery = models.ForeignKey(Gallery, null=True, blank=True, on_delete=models.PROTECT, related_name="sales")
    client = models.ForeignKey(Client, null=True, blank=True, on_delete=models.PROTECT, related_name="sales")
    placement = models.OneToOneField(Placement, null=True, blank=True, on_delete=models.PROTECT, related_name="sale")
    sold_at = models.DateTimeField()
    sold_on = models.DateField(db_index=True)
    price_micro = WholeField()
    tax_micro = WholeField(default=0)
    share_ppm = WholeField(default=0)
    share_micro = WholeField(default=0)
    card = models.BooleanField(default=False)
    card_fee_micro = WholeField(default=0)
    other_cost_micro = WholeField(default=0)
    deposit_used_micro = WholeField(default=0)
    paid_now = models.BooleanField(default=True)
    owed_micro = WholeField(default=0)
    due_on = models.DateField(null=True, blank=True)
    cost_micro = WholeField(default=0)
    paid_out_micro = WholeField(default=0)
    note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    ref = models.CharField(max_length=REF_LENGTH, blank=True)
    entry = EntryKey()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_why = models.CharField(max_length=WHY_LENGTH, blank=True)
    taken_back_entry = EntryKey(null=True, blank=True)

    objects = SaleQuerySet.as_manager()

    class Meta:
        ordering = ["sold_at", "pk"]
        constraints = [
            *whole_checks("sale", "price_micro", at_least=1),
            *whole_checks(
                "sale",
                "tax_micro",
                "share_ppm",
                "share_micro",
                "card_fee_micro",
                "other_cost_micro",
                "deposit_used_micro",
                "owed_micro",
                "cost_micro",
                "paid_out_micro",
                at_least=0,
            ),
            models.UniqueConstraint(fields=["piece"], condition=Q(taken_back_at__isnull=True), name="sale_sold_once"),
            models.CheckConstraint(
                name="sale_taken_back_says_why",
                condition=Q(taken_back_at__isnull=True, taken_back_why="", taken_back_entry__isnull=True)
                | (Q(taken_back_at__isnull=False, taken_back_entry__isnull=False) & ~Q(taken_back_why="")),
            ),
            models.CheckConstraint(
                name="sale_somebody_owes",
                condition=Q(owed_micro=0) | Q(gallery__isnull=False) | Q(client__isnull=False),
            ),
        ]
        indexes = [models.Index(fields=["gallery", "sold_at"])]

    def __str__(self) -> str:
        return f"sale of {self.piece_id}"

    @property
    def net_micro(self) -> int:
        """What the sale brings after the gallery's share, the card and what it cost to sell."""
        return self.price_micro - self.share_micro - self.card_fee_micro - self.other_cost_micro


class Payment(models.Model):
    """Money a gallery or a client paid on what it owes; below nothing: what we gave back."""

    gallery = models.ForeignKey(Gallery, null=True, blank=True, on_delete=models.PROTECT, related_name="payments")
    client = models.ForeignKey(Client, null=True, blank=True, on_delete=models.PROTECT, related_name="payments")
    amount_micro = WholeField()
    at = models.DateTimeField()
    on = models.DateField()
    note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    entry = EntryKey()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_entry = EntryKey(null=True, blank=True)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            *whole_checks("payment", "amount_micro"),
            models.CheckConstraint(name="payment_of_something", condition=~Q(amount_micro=0)),
            models.CheckConstraint(
                name="payment_by_one",
                condition=Q(gallery__isnull=False, client__isnull=True)
                | Q(gallery__isnull=True, client__isnull=False),
            ),
            models.CheckConstraint(
                name="payment_taken_back_by_an_entry",
                condition=Q(taken_back_at__isnull=True, taken_back_entry__isnull=True)
                | Q(taken_back_at__isnull=False, taken_back_entry__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"payment {self.pk}"
