"""Which batches a draw takes from: a rule over batches already read, and the way to read them under lock."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from studio.ledger.accounts import Account
from studio.ledger.operations import Draw, lock
from studio.people import settings as studio_settings
from studio.stores.errors import Shortage, StoresRunShort
from studio.stores.models import Batch, Material


@dataclass(frozen=True)
class FromBatch:
    """So much out of this batch: what a screen says after a draw."""

    batch: Batch
    amount: int
    past: bool


@dataclass(frozen=True)
class Plan:
    """What a draw takes, batch by batch; `draws` is the same as the journal wants it."""

    takes: tuple[FromBatch, ...]

    @property
    def draws(self) -> list[Draw]:
        return [Draw(take.batch.account, take.amount, take.batch.material.component) for take in self.takes]


def in_order(batches: Iterable[Batch], on: date, first: Batch | None = None) -> list[Batch]:
    """Batches in the order they are used up: good ones before those past their day, earliest use-by first,
    of equals the opened one, then the one that came first. `first`, the bottle in the hand, is put ahead.
    """

    def key(batch: Batch) -> tuple:
        return (
            first is None or batch.pk != first.pk,
            batch.past(on),
            batch.use_by_on(on) or date.max,
            batch.opened_on is None,
            batch.received_on,
            batch.pk,
        )

    return sorted(batches, key=key)


def plan(
    wants: Sequence[tuple[Material, int]],
    batches: Iterable[Batch],
    *,
    on: date,
    allow_past: bool = False,
    first: Batch | None = None,
) -> Plan:
    """Will share out each wanted amount over the batches of its material. Raises StoresRunShort naming every
    material that doesn't last. The same material wanted twice is taken one after the other.

    A batch past its day is left out unless `allow_past` or it is the one named by `first`.
    """
    stock = [batch for batch in batches if batch.received_on <= on]
    left = {batch.pk: batch.account.amount for batch in stock}
    takes: list[FromBatch] = []
    short: list[Shortage] = []
    for material, amount in wants:
        mine = [batch for batch in stock if batch.material_id == material.pk and left[batch.pk]]
        usable = [
            batch
            for batch in in_order(mine, on, first)
            if allow_past or not batch.past(on) or (first is not None and batch.pk == first.pk)
        ]
        has = sum(left[batch.pk] for batch in usable)
        if has < amount:
            past = sum(left[batch.pk] for batch in mine) - has
            short.append(Shortage(material, has, amount, past))
            continue
        for batch in usable:
            part = min(amount, left[batch.pk])
            if not part:
                break
            takes.append(FromBatch(batch, part, batch.past(on)))
            left[batch.pk] -= part
            amount -= part
    if short:
        raise StoresRunShort(short)
    return Plan(tuple(takes))


def stock_of(materials: Iterable[Material]) -> list[Batch]:
    """Every batch of these materials with something left, with material and account. One query."""
    return list(
        Batch.objects.filter(material__in={material.pk for material in materials})
        .with_something_left()
        .with_material()
        .order_by("pk")
    )


def lock_plan(
    wants: Sequence[tuple[Material, int]],
    *,
    at: datetime,
    also: Iterable[Account] = (),
    allow_past: bool = False,
    first: Batch | None = None,
) -> Plan:
    """Will lock every batch that could serve (and the accounts in `also`, such as the castings) in key order,
    plan on the figures as they are under lock, and mark a sealed batch that is drawn on as opened that day.

    Call it inside the transaction that posts. Raises StoresRunShort.
    """
    on = studio_settings.local_date(at)
    batches = stock_of(material for material, _ in wants)
    held = lock([*(batch.account for batch in batches), *also])
    for batch in batches:
        batch.account.amount = held[batch.account_id].amount
        batch.account.value_micro = held[batch.account_id].value_micro
    planned = plan(wants, batches, on=on, allow_past=allow_past, first=first)
    sealed = [
        take.batch
        for take in planned.takes
        if take.batch.opened_on is None
        and (not take.batch.material.counted or take.batch.material.use_by_after_open_s)
    ]
    if sealed:
        Batch.objects.filter(pk__in=[batch.pk for batch in sealed]).update(opened_on=on)
        for batch in sealed:
            batch.opened_on = on
    return planned
