"""What somebody has ordered: wanted words, a price, a day, a deposit, and how it went."""

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q

from studio.fields.whole import WholeField, whole_checks
from studio.ledger.accounts import Account
from studio.ledger.links import EntryKey
from studio.people.models import Client
from studio.selling.models import Sale

WORDS_LENGTH = 500
WANTED_LENGTH = 2000
NOTE_LENGTH = 1000


class State(models.TextChoices):
    ASKED = "asked", "asked for"
    AGREED = "agreed", "agreed"
    DELIVERED = "delivered", "delivered"
    CALLED_OFF = "called_off", "called off"


class What(models.TextChoices):
    """What happened to a commission, as its trail says it."""

    ASKED = "asked", "Asked for"
    AGREED = "agreed", "Agreed"
    CHANGED = "changed", "Changed"
    DEPOSIT = "deposit", "Deposit taken"
    DEPOSIT_BACK = "deposit_back", "Deposit given back"
    DEPOSIT_KEPT = "deposit_kept", "Deposit kept"
    RESERVED = "reserved", "Wood set aside"
    LET_GO = "let_go", "Wood let go"
    DELIVERED = "delivered", "Delivered"
    DELIVERY_BACK = "delivery_back", "Delivery taken back"
    CALLED_OFF = "called_off", "Called off"


class CommissionQuerySet(models.QuerySet["Commission"]):
    def open(self) -> Self:
        """Those still owed to somebody."""
        return self.filter(state__in=[State.ASKED, State.AGREED])


class Commission(models.Model):
    """An ordered piece. The deposit lies on an account of its own: it is the client's until it is delivered."""

    number = models.PositiveIntegerField(unique=True)
    client = models.ForeignKey(Client, on_delete=models.PROTECT, related_name="commissions")
    wanted = models.CharField(max_length=WANTED_LENGTH)
    form = models.CharField(max_length=60, blank=True)
    by_on = models.DateField(null=True, blank=True)
    price_micro = WholeField(null=True, blank=True)
    asked_at = models.DateTimeField()
    agreed_on = models.DateField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.ASKED)
    ended_at = models.DateTimeField(null=True, blank=True)
    deposit_account = models.OneToOneField(Account, on_delete=models.PROTECT, related_name="commission")
    deposit_asked_micro = WholeField(default=0)
    note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    sale = models.OneToOneField(Sale, null=True, blank=True, on_delete=models.PROTECT, related_name="commission")

    objects = CommissionQuerySet.as_manager()

    class Meta:
        ordering = ["number"]
        constraints = [
            *whole_checks("commission", "price_micro", at_least=1),
            *whole_checks("commission", "deposit_asked_micro", at_least=0),
            models.CheckConstraint(
                name="commission_agreed_has_price_and_day",
                condition=~Q(state__in=["agreed", "delivered"])
                | Q(price_micro__isnull=False, by_on__isnull=False, agreed_on__isnull=False),
            ),
            models.CheckConstraint(
                name="commission_delivered_is_a_sale",
                condition=Q(state="delivered", sale__isnull=False) | (~Q(state="delivered") & Q(sale__isnull=True)),
            ),
            models.CheckConstraint(
                name="commission_ended_says_when",
                condition=Q(state__in=["asked", "agreed"], ended_at__isnull=True)
                | Q(state__in=["delivered", "called_off"], ended_at__isnull=False),
            ),
        ]
        indexes = [models.Index(fields=["state", "by_on"])]

    def __str__(self) -> str:
        return f"commission {self.number}"

    @property
    def ref(self) -> str:
        """The mark its wood is held under."""
        return f"commission:{self.pk}"

    @property
    def is_open(self) -> bool:
        return self.state in (State.ASKED, State.AGREED)


class CommissionEvent(models.Model):
    """One line of a commission's trail. Only added to, never changed."""

    commission = models.ForeignKey(Commission, on_delete=models.PROTECT, related_name="events")
    what = models.CharField(max_length=16, choices=What.choices)
    words = models.CharField(max_length=WORDS_LENGTH, blank=True)
    amount_micro = WholeField(null=True, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    entry = EntryKey(null=True, blank=True)

    class Meta:
        ordering = ["at", "pk"]
        constraints = [*whole_checks("commissionevent", "amount_micro", at_least=0)]

    def __str__(self) -> str:
        return f"{self.commission_id} {self.what}"
