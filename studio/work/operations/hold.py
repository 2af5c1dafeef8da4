"""What a workpiece is called, who it is held for, and whether its number is still on it."""

from datetime import datetime

from django.db import transaction

from studio.ledger import operations as ledger
from studio.ledger.accounts import Kind
from studio.ledger.queries import cost_of
from studio.people.models import User
from studio.wood.models import Purchase, Species
from studio.work.errors import NotOnTheBench
from studio.work.making import check_number, held_rows, search_text, sort_key
from studio.work.models import ClosedAs, Workpiece

DESCRIBED = (
    "title",
    "form",
    "species",
    "wood_kind",
    "punky",
    "spalted",
    "checked",
    "bark",
    "length_um",
    "width_um",
    "height_um",
)


def describe(*, workpiece: Workpiece, species: Species | None = None, **facts) -> Workpiece:  # type: ignore[no-untyped-def]
    """Will fill in or change what is known of a workpiece: title, form, wood, condition, size."""
    unknown = set(facts) - set(DESCRIBED)
    if unknown:
        raise TypeError(f"describe() takes no {', '.join(sorted(unknown))}")
    with transaction.atomic():
        (row,) = held_rows([workpiece])
        if species is not None:
            row.species = species
        for name, value in facts.items():
            setattr(row, name, value)
        row.search_text = search_text(row)
        row.save()
        return row


def hold(*, workpiece: Workpiece, reason: str, ref: str) -> Workpiece:
    """Will keep a workpiece for someone: `ref` is the holder's own mark, `reason` what the screens say."""
    with transaction.atomic():
        (row,) = held_rows([workpiece])
        if row.hold_ref and row.hold_ref != ref:
            raise NotOnTheBench(f"{row.number} is held already: {row.hold_reason}.", code="held")
        row.hold_reason, row.hold_ref = reason[:200], ref
        row.save(update_fields=["hold_reason", "hold_ref"])
        return row


def release(*, ref: str, workpiece: Workpiece | None = None) -> int:
    """Will let go of everything held under this mark, or of one workpiece only; how many there were."""
    rows = Workpiece.objects.filter(hold_ref=ref)
    if workpiece is not None:
        rows = rows.filter(pk=workpiece.pk)
    return rows.update(hold_reason="", hold_ref="")


def lose_number(*, workpiece: Workpiece) -> Workpiece:
    """Will note that the number came off: the workpiece is somewhere in the shop, unnamed."""
    with transaction.atomic():
        (row,) = held_rows([workpiece])
        row.lost_number = True
        row.save(update_fields=["lost_number"])
        return row


def find_number(*, workpiece: Workpiece) -> Workpiece:
    """Will note that the unnamed lump on the bench is this one after all."""
    with transaction.atomic():
        (row,) = held_rows([workpiece])
        row.lost_number = False
        row.save(update_fields=["lost_number"])
        return row


def renumber(*, workpiece: Workpiece, number: str) -> Workpiece:
    """Will give a workpiece another number, as it is now pencilled on it."""
    with transaction.atomic():
        (row,) = held_rows([workpiece])
        if " ".join(number.split()) == row.number:
            return row
        row.number = check_number(number)
        row.sort_key = sort_key(row.number)
        row.search_text = search_text(row)
        row.save(update_fields=["number", "sort_key", "search_text"])
        return row


def give_back(
    *, workpiece: Workpiece, at: datetime, by: User | None = None, now: datetime | None = None
) -> Workpiece:
    """Will hand a client's own wood, or its offcut, back. Hours spent on it stay a cost of selling nothing."""
    with transaction.atomic():
        (row,) = held_rows([workpiece])
        if not row.client_owned:
            raise NotOnTheBench("Only wood that is the client's own can be given back.")
        row.account = ledger.lock([row.account])[row.account_id]
        parts = cost_of(row.account).parts
        if parts:
            ledger.post(
                kind="way_out",
                legs=ledger.share_legs(row.account, [(Kind.GIVEN_AWAY, 1)], parts),
                at=at,
                by=by,
                now=now,
            )
        ledger.close_account(account=row.account, successor=Kind.GIVEN_AWAY, at=at)
        row.closed_at, row.closed_as = at, ClosedAs.RETURNED
        row.save(update_fields=["closed_at", "closed_as"])
        return row


def tell_of_wood(*, purchase: Purchase, was: Species | None = None, was_kind: str = "") -> int:
    """Will hand what is now known of a purchase's wood down to all that came of it; how many were told.

    Only what was not said, or said as the purchase `was`, follows: a workpiece that was named by itself keeps
    its name.
    """
    with transaction.atomic():
        rows = Workpiece.objects.select_for_update(of=("self",)).select_related("species").filter(purchase=purchase)
        told = 0
        for row in rows.order_by("pk"):
            species = purchase.species if row.species_id in (None, was.pk if was else None) else row.species
            kind = purchase.kind if row.wood_kind in ("", was_kind) else row.wood_kind
            if (species, kind) == (row.species, row.wood_kind):
                continue
            row.species, row.wood_kind = species, kind
            row.search_text = search_text(row)
            row.save(update_fields=["species", "wood_kind", "search_text"])
            told += 1
        return told
