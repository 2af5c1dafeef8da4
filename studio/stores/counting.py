"""What is really there, and what is gone for good: counts and write-offs of batches."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from studio.craft.costing import draw_value
from studio.craft.rounding import divide
from studio.fields.errors import Refused
from studio.fields.models import Submission
from studio.ledger import queries as ledger_queries
from studio.ledger.accounts import Account, Component, Kind
from studio.ledger.operations import Draw, Leg, lock, post
from studio.people import settings as studio_settings
from studio.people.models import User
from studio.stores.errors import (
    CountedBeforeTheLast,
    CountRefused,
    NothingLeft,
    NotLikeThat,
    amount_words,
)
from studio.stores.legs import legs_out
from studio.stores.models import Batch, Count, Material, WhyGone, WriteOff
from studio.stores.planning import in_order
from studio.stores.typed import amount as checked_amount
from studio.stores.typed import choice, words


def count(
    *,
    really_there: int,
    at: datetime,
    by: User | None = None,
    material: Material | None = None,
    batch: Batch | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Count:
    """Will set the books to what is really there, of one batch or of a material in all its batches.

    More than the books say comes in at the last cost paid for the material (to the batch counted, else the
    newest); less goes to shrinkage at the batches' own cost, in the order they are used up. Nothing is posted
    where the books are right; the count is kept all the same.

    Raises CountedBeforeTheLast, and NothingLeft when the material was never bought.
    """
    if (material is None) == (batch is None):
        raise TypeError("Count a material or a batch.")
    if type(really_there) is not int or really_there < 0:
        raise NotLikeThat("Give what is there: nothing or more.", field="really_there")
    with transaction.atomic():
        batches = _to_count(material, batch)
        what = batches[0].material
        was = sum(row.account.amount for row in batches)
        refuse_counted_before_the_last([row.account for row in batches], at)
        if really_there > was:
            legs = found_legs(
                (batch or _newest(batches)).account, what.component, really_there - was, last_cost(what)
            )
        else:
            legs = _missing_legs(batches, was - really_there, at)
        entry_id = None
        if legs:
            entry_id = post(kind="count", legs=legs, at=at, by=by, submission=submission, now=now).entry_id
        value = sum(leg.value for leg in legs if isinstance(leg.account, Account))
        return Count.objects.create(
            material=what,
            batch=batch,
            was_amount=was,
            counted_amount=really_there,
            value_micro=value,
            entry_id=entry_id,
            at=at,
            by=by,
        )


@dataclass(frozen=True)
class Counted:
    """So much (milligrams or thousandths) of a material is really there, all batches together."""

    material: Material
    really_there: int


def count_each(
    counted: Sequence[Counted],
    *,
    at: datetime,
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> None:
    """Will count materials before something is drawn on them. Call it inside the transaction that draws, so that
    a draw refused undoes the counts. Raises `CountRefused`, which says of which material.
    """
    for one in counted:
        try:
            count(material=one.material, really_there=one.really_there, at=at, by=by, submission=submission, now=now)
        except Refused as stop:
            raise CountRefused(stop, one.material) from stop


def _to_count(material: Material | None, batch: Batch | None) -> list[Batch]:
    """The batches a count is about, with balances as they are under lock."""
    rows = Batch.objects.with_material().order_by("pk")
    if batch is not None:
        found = list(rows.filter(pk=batch.pk))
    else:
        assert material is not None
        found = list(rows.filter(material=material))
        if not found:
            raise NothingLeft(
                f"No {material.name} was ever bought, so there is no cost to count it at. "
                "Enter what there is as bought, at what it cost.",
                field="really_there",
                code="never_bought",
            )
    held = lock(row.account for row in found)
    for row in found:
        row.account.amount = held[row.account_id].amount
        row.account.value_micro = held[row.account_id].value_micro
    return found


def _newest(batches: Sequence[Batch]) -> Batch:
    return max(batches, key=lambda row: (row.received_on, row.pk))


def last_cost(material: Material) -> tuple[int, int]:
    """What was paid for the newest batch and how much it was: (millionths, stored amount). One query."""
    newest = Batch.objects.filter(material=material).order_by("-received_on", "-pk").first()
    return (newest.cost_micro, newest.bought_amount) if newest else (0, 1)


def found_legs(account: Account, component: Component, amount: int, cost: tuple[int, int]) -> list[Leg]:
    """Legs that put a surplus on an account at a cost of (millionths, for so much), half up."""
    value = max(0, divide(cost[0] * amount, cost[1]))
    return [
        Leg(account, component, value, amount, account.commodity),
        Leg(Kind.FOUND, component, -value, -amount, account.commodity),
    ]


def missing_legs(draws: Sequence[Draw]) -> list[Leg]:
    """Legs that take what is missing off its accounts at their own cost."""
    return legs_out(draws, value_to=Kind.SHRINKAGE, amount_to=Kind.SHRINKAGE)


def _missing_legs(batches: Sequence[Batch], missing: int, at: datetime) -> list[Leg]:
    draws: list[Draw] = []
    for row in in_order(batches, studio_settings.local_date(at)):
        part = min(missing, row.account.amount)
        if part:
            draws.append(Draw(row.account, part, row.material.component))
            missing -= part
    return missing_legs(draws) if draws else []


def refuse_counted_before_the_last(accounts: Sequence[Account], at: datetime) -> None:
    """Refuse a count that is dated before something that was booked on what it counts."""
    last = max(ledger_queries.last_moved_at(account.pk for account in accounts).values(), default=at)
    if last > at:
        raise CountedBeforeTheLast(last)


def write_off(
    *,
    batch: Batch,
    why: str,
    at: datetime,
    by: User | None = None,
    amount: int | None = None,
    note: str = "",
    submission: Submission | None = None,
    now: datetime | None = None,
) -> WriteOff:
    """Will take an amount of a batch (all that is left unless told) off the books at cost: spilt, set, old.

    Raises NothingLeft when it holds none, NotLikeThat when it holds less than that.
    """
    choice(why, WhyGone.values, "why")
    with transaction.atomic():
        row = Batch.objects.with_material().get(pk=batch.pk)
        gone, value, legs = gone_legs(row.account, row.material, amount)
        posted = post(kind="write_off", legs=legs, at=at, by=by, submission=submission, now=now)
        return WriteOff.objects.create(
            batch=row,
            amount=gone,
            value_micro=value,
            why=why,
            words=words(note, "note", most=300),
            entry_id=posted.entry_id,
            at=at,
            by=by,
        )


def gone_legs(account: Account, material: Material, amount: int | None) -> tuple[int, int, list[Leg]]:
    """Amount, value and legs of what is thrown away of a batch or bath, under lock.

    The value goes where the journal sends the late cost of what is gone: to shrinkage.
    """
    held = lock([account])[account.pk]
    if not held.amount:
        raise NothingLeft(f"There is no {material.name} left in it.", field="amount")
    gone = held.amount if amount is None else checked_amount(amount)
    if gone > held.amount:
        raise NotLikeThat(
            f"It holds {amount_words(material, held.amount)} by the books; that is more. "
            "Count it first if there was more.",
            field="amount",
            code="short",
        )
    value = draw_value(held.value_micro, held.amount, gone)
    legs = legs_out([Draw(account, gone, material.component)], value_to=Kind.SHRINKAGE, amount_to=Kind.GONE)
    return gone, value, legs
