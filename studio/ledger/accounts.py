"""What the journal can be written on: balances that run out, pools that are summed, components."""

from django.db import models
from django.db.models import F, Q

from studio.fields.whole import WholeField, whole_checks


class Measure(models.TextChoices):
    WEIGHED = "weighed", "weighed"
    COUNTED = "counted", "counted"


class Commodity(models.Model):
    """Something the journal counts: milligrams where weighed, thousandths of a piece where counted.

    What it is called and what it is good for is the stores' business; the journal only keeps kinds apart.
    """

    measure = models.CharField(max_length=8, choices=Measure.choices)

    def __str__(self) -> str:
        return f"commodity {self.pk}"


class Component(models.TextChoices):
    WOOD = "wood", "Wood"
    RESIN = "resin", "Resin"
    COLORANT = "colorant", "Colorant"
    STABILIZING = "stabilizing", "Stabilizing resin"
    FINISH = "finish", "Finish"
    CONSUMABLE = "consumable", "Consumables and fittings"
    PAID_LABOUR = "paid_labour", "Paid hours"
    ENERGY = "energy", "Power"
    OWN_LABOUR = "own_labour", "Own hours"
    WEAR = "wear", "Wear of machines"
    OVERHEAD = "overhead", "Overhead"
    GIVEN_WOOD = "given_wood", "Given or bartered wood"
    ALLOWANCE = "allowance", "Share of lost pieces"
    MONEY = "money", "Money"


PAID_OUT = (
    Component.WOOD,
    Component.RESIN,
    Component.COLORANT,
    Component.STABILIZING,
    Component.FINISH,
    Component.CONSUMABLE,
    Component.PAID_LABOUR,
    Component.ENERGY,
)
RECKONED = (
    Component.OWN_LABOUR,
    Component.WEAR,
    Component.OVERHEAD,
    Component.GIVEN_WOOD,
    Component.ALLOWANCE,
)
MATERIAL_COMPONENTS = (
    Component.RESIN,
    Component.COLORANT,
    Component.STABILIZING,
    Component.FINISH,
    Component.CONSUMABLE,
)


class Kind(models.TextChoices):
    """Kinds of account. The first three carry their own balance, which is the lock; the rest are pools."""

    BATCH = "batch", "Batch in the stores"
    BATH = "bath", "Stabilizing bath"
    WORKPIECE = "workpiece", "Workpiece"
    # pools of which there is one each
    CASH = "cash", "Cash and bank"
    SALES_TAX = "sales_tax", "Sales tax held"
    OUTSIDE = "outside", "Bought in from outside"
    USED_UP = "used_up", "Used up"
    GONE = "gone", "Lost, spilt or thrown away"
    FOUND = "found", "Found at a count"
    SHRINKAGE = "shrinkage", "Missing at a count"
    OWN_LABOUR = "own_labour", "Own hours reckoned"
    PAID_LABOUR = "paid_labour", "Wages"
    ENERGY = "energy", "Power"
    WEAR = "wear", "Wear of machines reckoned"
    OVERHEAD = "overhead", "Overhead"
    GIVEN_WOOD = "given_wood", "Wood given or bartered"
    ALLOWANCE = "allowance", "Set aside for lost pieces"
    LOSS_EXPECTED = "loss_expected", "Lost in the ordinary way"
    LOSS_UNUSUAL = "loss_unusual", "Lost in an unusual way"
    COST_OF_SALES = "cost_of_sales", "Cost of what was sold"
    GIVEN_AWAY = "given_away", "Gifts, donations, samples, own use"
    REVENUE = "revenue", "Sales"
    GALLERY_SHARE = "gallery_share", "Galleries' share"
    SELLING_COST = "selling_cost", "Cost of selling"
    # pools of which there is one for each party
    GALLERY_OWES = "gallery_owes", "A gallery owes"
    CLIENT_OWES = "client_owes", "A client owes"
    DEPOSIT = "deposit", "Deposit held"


CARRIES_BALANCE = (Kind.BATCH, Kind.BATH, Kind.WORKPIECE)
RUNS_OUT_BY_AMOUNT = (Kind.BATCH, Kind.BATH)
WHOLE_COINS = (Kind.CASH, Kind.SALES_TAX, Kind.GALLERY_OWES, Kind.CLIENT_OWES, Kind.DEPOSIT)
ONE_EACH = tuple(
    kind
    for kind in Kind
    if kind not in CARRIES_BALANCE and kind not in (Kind.GALLERY_OWES, Kind.CLIENT_OWES, Kind.DEPOSIT)
)

# Which way a pool's value may lie when everything posted to it is added up: "in" is never below nothing,
# "out" never above, "either" may lie both ways (a pool that is filled by bills and emptied by use).
POOL_SIGN: dict[Kind, str] = {
    Kind.CASH: "either",
    Kind.SALES_TAX: "either",
    Kind.OUTSIDE: "zero",
    Kind.USED_UP: "zero",
    Kind.GONE: "either",
    Kind.FOUND: "out",
    Kind.SHRINKAGE: "in",
    Kind.OWN_LABOUR: "out",
    Kind.PAID_LABOUR: "either",
    Kind.ENERGY: "either",
    Kind.WEAR: "out",
    Kind.OVERHEAD: "either",
    Kind.GIVEN_WOOD: "out",
    Kind.ALLOWANCE: "out",
    Kind.LOSS_EXPECTED: "in",
    Kind.LOSS_UNUSUAL: "in",
    Kind.COST_OF_SALES: "in",
    Kind.GIVEN_AWAY: "in",
    Kind.REVENUE: "out",
    Kind.GALLERY_SHARE: "in",
    Kind.SELLING_COST: "in",
    Kind.GALLERY_OWES: "either",
    Kind.CLIENT_OWES: "either",
    Kind.DEPOSIT: "out",
}


class Account(models.Model):
    """A batch, a bath, a workpiece or a pool.

    `amount` (milligrams or thousandths) and `value_micro` are kept only where something can run out; on a
    pool both stay nothing and the lines are summed. A closed account names its
    successor: a late cost goes there.
    """

    kind = models.CharField(max_length=16, choices=Kind.choices)
    commodity = models.ForeignKey(Commodity, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    amount = WholeField(default=0)
    value_micro = WholeField(default=0)
    closed_at = models.DateTimeField(null=True, blank=True)
    successor = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            *whole_checks("account", "amount", "value_micro", at_least=0),
            models.CheckConstraint(
                name="account_empty_has_no_value",
                condition=~Q(kind__in=RUNS_OUT_BY_AMOUNT) | Q(amount__gt=0) | Q(value_micro=0),
            ),
            models.CheckConstraint(
                name="account_pool_carries_nothing",
                condition=Q(kind__in=CARRIES_BALANCE) | Q(amount=0, value_micro=0),
            ),
            models.CheckConstraint(
                name="account_workpiece_holds_money_only",
                condition=~Q(kind=Kind.WORKPIECE) | Q(amount=0, commodity__isnull=True),
            ),
            models.CheckConstraint(
                name="account_closed_names_successor",
                condition=Q(closed_at__isnull=True) | Q(successor__isnull=False),
            ),
            models.CheckConstraint(name="account_own_successor", condition=~Q(successor=F("id"))),
            models.UniqueConstraint(fields=["kind"], condition=Q(kind__in=ONE_EACH), name="account_one_of_each_pool"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.pk}"

    @property
    def runs_out(self) -> bool:
        return self.kind in CARRIES_BALANCE


def pool(kind: Kind) -> Account:
    """The one account of this kind, made when first needed; two that make it at once get the same one."""
    if kind not in ONE_EACH:
        raise ValueError(f"{kind} is not a pool of which there is one.")
    return Account.objects.get_or_create(kind=kind)[0]


def open_account(kind: Kind, *, commodity: Commodity | None = None) -> Account:
    """A new account with nothing in it: for a batch, a bath, a workpiece, or what one party owes."""
    if kind in ONE_EACH:
        raise ValueError(f"There is one {kind} only: use pool().")
    return Account.objects.create(kind=kind, commodity=commodity)
