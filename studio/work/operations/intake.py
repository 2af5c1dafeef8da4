"""Wood comes in by the lump."""

from datetime import datetime
from itertools import groupby
from typing import Any

from django.db import transaction

from studio.craft.costing import split
from studio.fields.models import Submission
from studio.ledger import operations as ledger
from studio.ledger.accounts import Account, Component, Kind
from studio.people.models import Client, User
from studio.wood import operations as wood
from studio.wood.models import Bill, Purchase, Species
from studio.work.errors import OutOfTime
from studio.work.making import make
from studio.work.models import Descent, Stage, Weighing, Workpiece
from studio.work.numbering import next_lump_number

GIVEN = ("bartered", "gift", "found")


def take_in_lump(
    *,
    at: datetime,
    by: User | None = None,
    number: str = "",
    mass_mg: int | None = None,
    step_mg: int = 1000,
    paid_micro: int = 0,
    carriage_micro: int = 0,
    how: str = "bought",
    market_value_micro: int = 0,
    title: str = "",
    submission: Submission | None = None,
    now: datetime | None = None,
    **purchase_facts: Any,
) -> Workpiece:
    """Will take a lump in: the purchase, a workpiece with its number, its first weight, and what it cost.

    Given or bartered wood comes in at its market value, as a reckoned cost; carriage is always paid out.
    The facts of the purchase that aren't known yet (species, where it stood) wait on the desk list.
    """
    with transaction.atomic():
        purchase = wood.record_purchase(
            at=at,
            by=by,
            paid_micro=paid_micro,
            carriage_micro=carriage_micro,
            how=how,
            market_value_micro=market_value_micro,
            **purchase_facts,
        )
        lump = make(
            number=number or next_lump_number(),
            stage=Stage.LUMP,
            made_at=at,
            title=title,
            species=purchase.species,
            wood_kind=purchase.kind,
            purchase=purchase,
        )
        if mass_mg:
            Weighing.objects.create(
                workpiece=lump,
                mass_mg=mass_mg,
                step_mg=step_mg,
                at=at,
                condition=Weighing.Condition.WET,
                by=by,
            )
        legs = []
        paid = paid_micro + carriage_micro
        if paid:
            legs += [
                ledger.Leg(lump.account, Component.WOOD, value=paid),
                ledger.Leg(Kind.CASH, Component.MONEY, value=-paid),
            ]
        if how in GIVEN and market_value_micro:
            legs += [
                ledger.Leg(lump.account, Component.GIVEN_WOOD, value=market_value_micro),
                ledger.Leg(Kind.GIVEN_WOOD, Component.GIVEN_WOOD, value=-market_value_micro),
            ]
        if legs:
            posted = ledger.post(kind="wood", legs=legs, at=at, by=by, submission=submission, now=now)
            wood.charged_to(row=purchase, entry_id=posted.entry_id)
        return lump


def take_in_clients_wood(
    *,
    owner: Client,
    at: datetime,
    by: User | None = None,
    number: str = "",
    mass_mg: int | None = None,
    species: Species | None = None,
    title: str = "",
    wood_kind: str = "",
    now: datetime | None = None,
) -> Workpiece:
    """Will take in wood that stays the client's own: it has no value here, and its offcuts go back."""
    with transaction.atomic():
        lump = make(
            number=number or next_lump_number(),
            stage=Stage.LUMP,
            made_at=at,
            title=title,
            species=species,
            wood_kind=wood_kind,
            client_owned=True,
            owner=owner,
        )
        if mass_mg:
            Weighing.objects.create(
                workpiece=lump, mass_mg=mass_mg, at=at, condition=Weighing.Condition.WET, by=by
            )
        return lump


def add_wood_bill(
    *,
    purchase: Purchase,
    amount_micro: int,
    what: str,
    at: datetime,
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Bill:
    """Will share a later bill on a purchase between whatever came of its lumps, by the shares fixed at each cut.

    What has been sold, lost or joined hands its share to its successor, as every late cost does.
    """
    with transaction.atomic():
        lumps = list(
            # a lump that was cast or turned whole is no lump any more, but still where the wood went
            Workpiece.objects.filter(purchase=purchase, parent_links__isnull=True)
            .select_related("account__successor")
            .order_by("pk")
        )
        if not lumps:
            raise OutOfTime("No lump came of that purchase, so the bill has nowhere to go.")
        targets: dict[int, tuple[Account, int]] = {}
        for lump, worth in zip(lumps, split(amount_micro, [1] * len(lumps)), strict=True):
            for account, value in _down(lump, worth):
                heir = ledger.live(account)
                had = targets.get(heir.pk, (heir, 0))[1]
                targets[heir.pk] = (heir, had + value)
        legs = [
            ledger.Leg(account, Component.WOOD, value=value) for _, (account, value) in sorted(targets.items())
        ]
        legs.append(ledger.Leg(Kind.CASH, Component.MONEY, value=-amount_micro))
        posted = ledger.post(kind="late_cost", legs=legs, at=at, by=by, submission=submission, now=now)
        bill = wood.record_bill(purchase=purchase, amount_micro=amount_micro, what=what, at=at, by=by)
        wood.charged_to(row=bill, entry_id=posted.entry_id)
        return bill


def _down(workpiece: Workpiece, value: int) -> list[tuple[Account, int]]:
    """Follow a value down the cuts: the parts that were cut off take their frozen shares, the rest stays."""
    links = list(
        Descent.objects.filter(parent=workpiece, how=Descent.How.CUT)
        .select_related("child__account__successor")
        .order_by("at", "pk")
    )
    if not links:
        return [(workpiece.account, value)]
    rest = 1_000_000
    weights = []
    for _, one_cut in groupby(links, key=lambda link: link.at):
        parts = [rest * link.share_ppm // 1_000_000 for link in one_cut]
        weights += parts
        rest -= sum(parts)
    if workpiece.closed_at is not None:
        weights[-1] += rest
        rest = 0
    out: list[tuple[Account, int]] = []
    values = split(value, [*weights, rest])
    for link, worth in zip(links, values, strict=False):
        out += _down(link.child, worth)
    if values[-1]:
        out.append((workpiece.account, values[-1]))
    return out
