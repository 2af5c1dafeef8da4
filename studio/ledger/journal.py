"""The journal: entries and lines, and the one function that writes them.

Only this room imports this module. Other rooms post through `ledger.operations` and read through
`ledger.queries`; they point at an entry with `ledger.links.EntryKey`.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from django.conf import settings
from django.db import models, transaction
from django.db.models import F, Q
from django.db.models.functions import Coalesce
from django.utils import timezone

from studio.fields.models import Submission
from studio.fields.whole import LIMIT, WholeField, whole_checks
from studio.ledger.accounts import (
    CARRIES_BALANCE,
    ONE_EACH,
    RUNS_OUT_BY_AMOUNT,
    WHOLE_COINS,
    Account,
    Commodity,
    Component,
    Kind,
)
from studio.ledger.errors import (
    BooksAreClosed,
    CurrencyIsFrozen,
    InTheFuture,
    NotBalanced,
    NotWholeCoins,
    RanOutLater,
    RunsOut,
    WrongAccount,
)
from studio.people import settings as studio_settings
from studio.people.models import User


class Entry(models.Model):
    """One thing that happened. Never changed, never deleted: a mistake is reversed by another entry."""

    kind = models.CharField(max_length=24)
    step = models.CharField(max_length=16, blank=True)
    effective_at = models.DateTimeField()
    effective_on = models.DateField(db_index=True)
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    corrects = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrections")
    reverses = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="reversed_by"
    )
    submission = models.ForeignKey(Submission, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return f"entry {self.pk} {self.kind}"


class Line(models.Model):
    """What one entry did to one account: an amount of a material, a value, or both."""

    entry = models.ForeignKey(Entry, on_delete=models.PROTECT, related_name="lines")
    account = models.ForeignKey(Account, on_delete=models.PROTECT, related_name="+")
    component = models.CharField(max_length=12, choices=Component.choices)
    commodity = models.ForeignKey(Commodity, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    towards = models.ForeignKey(Account, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    amount = WholeField(default=0)
    value_micro = WholeField(default=0)

    class Meta:
        constraints = [
            *whole_checks("line", "amount", "value_micro"),
            models.CheckConstraint(
                name="line_amount_has_commodity", condition=Q(amount=0) | Q(commodity__isnull=False)
            ),
            models.UniqueConstraint(
                F("entry"),
                F("account"),
                F("component"),
                Coalesce(F("commodity"), 0),
                Coalesce(F("towards"), 0),
                name="line_one_row_each",
            ),
        ]

    def __str__(self) -> str:
        return f"line {self.pk}"


class BooksClosed(models.Model):
    """From here back nothing more is posted. The newest row counts."""

    until = models.DateField()
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    def __str__(self) -> str:
        return f"closed until {self.until}"


@dataclass(frozen=True)
class Leg:
    """One line to be: `account` is an Account or, for a pool, its Kind."""

    account: Account | Kind
    component: Component
    value: int = 0
    amount: int = 0
    commodity: Commodity | None = None
    towards: Account | None = None


@dataclass(frozen=True)
class Posted:
    """What came of posting: the entry's key and the studio's date it counts on."""

    entry_id: int
    effective_on: date


def post(
    *,
    kind: str,
    legs: Iterable[Leg],
    at: datetime,
    by: User | None = None,
    step: str = "",
    corrects_id: int | None = None,
    reverses_id: int | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Posted:
    """Will write one entry and move the balances it touches, or raise and leave everything as it was.

    Values of the legs add up to nothing, amounts to nothing for each commodity. Accounts that can run out are
    locked in key order and updated once each. Raises a named `Refused` for the future, a closed period, a
    balance that can't bear it, today or on any later day already posted.
    """
    now = now or timezone.now()
    if at > now:
        raise InTheFuture(at)
    effective_on = studio_settings.local_date(at)
    # What needs no lock comes first: on SQLite every other writer waits while one holds it.
    merged = _merged(_with_pools(legs))
    _refuse_unbalanced(merged)
    with transaction.atomic():
        closed = BooksClosed.objects.order_by("-pk").values_list("until", flat=True).first()
        if closed and effective_on <= closed:
            raise BooksAreClosed(closed)
        held = lock(leg.account for leg in merged if isinstance(leg.account, Account))
        change = _net(merged)
        for pk, (amount, value) in change.items():
            account = held.get(pk)
            if account is None:
                continue
            _refuse_if_it_runs_out(account, amount, value)
        _refuse_if_a_component_runs_out(merged, held)
        _refuse_if_a_later_day_runs_out(effective_on, change, held)
        entry = Entry.objects.create(
            kind=kind,
            step=step,
            effective_at=at,
            effective_on=effective_on,
            recorded_at=now,
            by=by,
            corrects_id=corrects_id,
            reverses_id=reverses_id,
            submission=submission,
        )
        Line.objects.bulk_create(_lines(entry, merged))
        for pk in sorted(held):
            amount, value = change[pk]
            if amount or value:
                Account.objects.filter(pk=pk).update(
                    amount=F("amount") + amount, value_micro=F("value_micro") + value
                )
    return Posted(entry.pk, effective_on)


def refuse_another_currency(new: str) -> None:
    """Raise where amounts are in the books already: they are all counted in the money of the first one."""
    if Entry.objects.exists() and studio_settings.known("currency") not in (None, new):
        raise CurrencyIsFrozen
    if Entry.objects.exists() and studio_settings.coin_micro() != studio_settings.coin_micro(new):
        raise CurrencyIsFrozen


def lock(accounts: Iterable[Account]) -> dict[int, Account]:
    """Hold the balances of these accounts until the transaction ends; fresh rows by key, pools left out.

    SQLite needs no row lock: the immediate transaction already lets one writer in at a time.
    """
    keys = sorted({account.pk for account in accounts if account.kind in CARRIES_BALANCE})
    if not keys:
        return {}
    rows = Account.objects.select_for_update().filter(pk__in=keys).order_by("pk")
    return {row.pk: row for row in rows}


def _with_pools(legs: Iterable[Leg]) -> list[Leg]:
    given = list(legs)
    wanted = {leg.account for leg in given if not isinstance(leg.account, Account)}
    if not wanted:
        return given
    unknown = [kind for kind in wanted if kind not in ONE_EACH]
    if unknown:
        raise WrongAccount(f"There is more than one account of the kind {unknown[0]}: say which.")
    found = {row.kind: row for row in Account.objects.filter(kind__in=wanted)}
    for kind in wanted:
        if kind not in found:
            found[kind] = Account.objects.get_or_create(kind=kind)[0]
    return [leg if isinstance(leg.account, Account) else replace(leg, account=found[leg.account]) for leg in given]


def _merged(legs: Sequence[Leg]) -> list[Leg]:
    """Legs on the same account, component, commodity and towards become one; those of nothing fall away."""
    sums: dict[tuple, list[int]] = defaultdict(lambda: [0, 0])
    first: dict[tuple, Leg] = {}
    for leg in legs:
        for figure in (leg.value, leg.amount):
            if type(figure) is not int or abs(figure) > LIMIT:
                raise NotBalanced(f"The journal takes whole numbers up to {LIMIT}, not {figure!r}.")
        if leg.amount and leg.commodity is None:
            raise NotBalanced("An amount without its material can't be posted.")
        key = (
            leg.account.pk,  # type: ignore[union-attr]
            leg.component,
            leg.commodity.pk if leg.commodity else 0,
            leg.towards.pk if leg.towards else 0,
        )
        sums[key][0] += leg.amount
        sums[key][1] += leg.value
        first.setdefault(key, leg)
    if any(abs(figure) > LIMIT for pair in sums.values() for figure in pair):
        raise NotBalanced(f"The journal takes whole numbers up to {LIMIT}; these add up to more.")
    return [
        replace(first[key], amount=amount, value=value) for key, (amount, value) in sums.items() if amount or value
    ]


def _refuse_unbalanced(legs: Sequence[Leg]) -> None:
    if not legs:
        raise NotBalanced("There is nothing to post: every line is nothing.")
    if sum(leg.value for leg in legs):
        raise NotBalanced(f"The values of an entry add up to nothing; these leave {sum(x.value for x in legs)}.")
    amounts: dict[int, int] = defaultdict(int)
    parts: dict[Component, int] = defaultdict(int)
    for leg in legs:
        if leg.commodity:
            amounts[leg.commodity.pk] += leg.amount
        parts[leg.component] += leg.value
        _refuse_wrong_account(leg)
    if any(amounts.values()):
        raise NotBalanced("The amounts of a material in an entry add up to nothing; these don't.")
    if Component.MONEY not in parts and any(parts.values()):
        raise NotBalanced(
            "A component stays what it is on its way from account to account; here one turns into another."
        )


def _refuse_wrong_account(leg: Leg) -> None:
    account = leg.account
    assert isinstance(account, Account)
    if account.kind in WHOLE_COINS and leg.value % studio_settings.coin_micro():
        raise NotWholeCoins(f"{account} takes whole coins only, not {leg.value} millionths.")
    if account.kind == Kind.USED_UP and (leg.towards is None or leg.towards.kind != Kind.WORKPIECE):
        raise WrongAccount("What is used up names the workpiece it went into.")
    if account.kind == Kind.WORKPIECE and leg.amount:
        raise WrongAccount("A workpiece holds money; what it weighs is weighed, not booked.")
    if account.runs_out and leg.component == Component.MONEY:
        raise WrongAccount(f"{account} holds what things cost, by component; money itself can't lie on it.")
    if account.kind in RUNS_OUT_BY_AMOUNT and leg.amount and leg.commodity != account.commodity:
        raise WrongAccount(f"{account} holds another material.")


def _net(legs: Sequence[Leg]) -> dict[int, tuple[int, int]]:
    nets: dict[int, list[int]] = defaultdict(lambda: [0, 0])
    for leg in legs:
        pair = nets[leg.account.pk]  # type: ignore[union-attr]
        pair[0] += leg.amount
        pair[1] += leg.value
    return {pk: (amount, value) for pk, (amount, value) in nets.items()}


def _refuse_if_it_runs_out(account: Account, amount: int, value: int) -> None:
    if account.closed_at is not None:
        raise WrongAccount(f"{account} is closed; what comes late goes to its successor.")
    left, worth = account.amount + amount, account.value_micro + value
    emptied = account.kind != Kind.WORKPIECE and left == 0 and worth != 0
    if left < 0 or worth < 0 or emptied:
        raise RunsOut(account, has=account.amount, wants=-amount)
    if left > LIMIT or worth > LIMIT:
        raise NotBalanced(f"{account} would hold more than the journal can count. Look at the figures again.")


def _refuse_if_a_component_runs_out(legs: Sequence[Leg], held: dict[int, Account]) -> None:
    """A workpiece can't hand on more resin, say, than lies on it, though its whole value would bear it."""
    change: dict[tuple[int, str], int] = defaultdict(int)
    for leg in legs:
        if leg.account.kind == Kind.WORKPIECE:  # type: ignore[union-attr]
            change[leg.account.pk, str(leg.component)] += leg.value  # type: ignore[union-attr]
    falling = {pk for (pk, _), value in change.items() if value < 0}
    if not falling:
        return
    rows = Line.objects.filter(account__in=falling).values_list("account", "component")
    has = {(pk, part): value for pk, part, value in rows.annotate(value=models.Sum("value_micro")).order_by()}
    for (pk, part), value in change.items():
        if value < 0 and has.get((pk, part), 0) + value < 0:
            raise RunsOut(held[pk], has=has.get((pk, part), 0), wants=-value)


def _refuse_if_a_later_day_runs_out(on: date, change: dict[int, tuple[int, int]], held: dict[int, Account]) -> None:
    """A back-dated draw may leave some day between then and now with less than nothing: refused."""
    falling = [pk for pk in held if change[pk][0] < 0 or change[pk][1] < 0]
    if not falling:
        return
    later = (
        Line.objects.filter(account__in=falling, entry__effective_on__gt=on)
        .values("account", "entry__effective_on")
        .annotate(amount=models.Sum("amount"), value=models.Sum("value_micro"))
        .order_by("account", "-entry__effective_on")
    )
    left = {pk: [held[pk].amount + change[pk][0], held[pk].value_micro + change[pk][1]] for pk in falling}
    for row in later:
        balance = left[row["account"]]
        balance[0] -= row["amount"]
        balance[1] -= row["value"]
        if balance[0] < 0 or balance[1] < 0:
            raise RanOutLater(held[row["account"]], on)


def _lines(entry: Entry, legs: Sequence[Leg]) -> list[Line]:
    return [
        Line(
            entry=entry,
            account=leg.account,  # type: ignore[misc]
            component=leg.component,
            commodity=leg.commodity,
            towards=leg.towards,
            amount=leg.amount,
            value_micro=leg.value,
        )
        for leg in legs
    ]
