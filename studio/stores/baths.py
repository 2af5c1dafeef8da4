"""The stabilizing bath: started, filled from batches, counted, thrown away, closed."""

from collections.abc import Sequence
from datetime import date, datetime

from django.db import IntegrityError, transaction

from studio.fields.models import Submission
from studio.ledger.accounts import Kind
from studio.ledger.operations import Draw, close_account, lock, open_account, post
from studio.people import settings as studio_settings
from studio.people.models import User
from studio.stores.counting import (
    Counted,
    count_each,
    found_legs,
    gone_legs,
    last_cost,
    missing_legs,
    refuse_counted_before_the_last,
)
from studio.stores.errors import BathClosed, NotLikeThat, SomethingLeft, amount_words
from studio.stores.legs import legs_out
from studio.stores.models import (
    DAY_S,
    NAME_LENGTH,
    NOTE_LENGTH,
    Batch,
    Bath,
    Count,
    Filling,
    Material,
    MaterialKind,
    WhyGone,
    WriteOff,
)
from studio.stores.planning import lock_plan
from studio.stores.typed import amount as checked_amount
from studio.stores.typed import choice, words
from studio.stores.using import named_batches

MOST_KEPT_S = 10 * 366 * 86_400


def start_bath(*, name: str, material: Material, at: datetime, by: User | None = None, note: str = "") -> Bath:
    """Will start an empty bath of a stabilizing resin. NotLikeThat for another material, a name in use."""
    if material.kind != MaterialKind.STABILIZING:
        raise NotLikeThat("A bath holds stabilizing resin. Choose one.", field="material")
    name = words(name, "name", most=NAME_LENGTH, missing="Write what the bath is called.")
    note = words(note, "note", most=NOTE_LENGTH)
    try:
        with transaction.atomic():
            return Bath.objects.create(
                name=name,
                material=material,
                account=open_account(Kind.BATH, commodity=material.commodity),
                started_on=studio_settings.local_date(at),
                note=note,
            )
    except IntegrityError as error:
        raise NotLikeThat(
            f"There is a bath called {name} already. Fill that one, or choose another name.",
            field="name",
            code="name_taken",
        ) from error


def fill_bath(
    *,
    bath: Bath,
    amount: int,
    at: datetime,
    by: User | None = None,
    allow_past: bool = False,
    first: Batch | None = None,
    counted: Sequence[Counted] = (),
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Filling:
    """Will pour an amount (milligrams) from the stores into a bath; its cost goes with it.

    What was `counted` in the stores is set right first; refused, both are undone.
    Raises StoresRunShort, BathClosed.
    """
    checked_amount(amount)
    with transaction.atomic():
        row = _open_bath(bath)
        count_each(counted, at=at, by=by, submission=submission, now=now)
        plan = lock_plan([(row.material, amount)], at=at, also=[row.account], allow_past=allow_past, first=first)
        legs = legs_out(plan.draws, value_to=row.account, amount_to=row.account)
        value = sum(leg.value for leg in legs if leg.account is row.account)
        with named_batches(plan):
            posted = post(kind="fill_bath", legs=legs, at=at, by=by, submission=submission, now=now)
        return Filling.objects.create(
            bath=row, amount=amount, value_micro=value, entry_id=posted.entry_id, at=at, by=by
        )


def count_bath(
    *,
    bath: Bath,
    really_there: int,
    at: datetime,
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Count:
    """Will set a bath to what is really in it (milligrams).

    Less: gone in drips and vapour, to shrinkage at the bath's average. More: at that average too, or at the
    last cost where the books had it empty. Raises BathClosed, CountedBeforeTheLast.
    """
    if type(really_there) is not int or really_there < 0:
        raise NotLikeThat("Give what is there: nothing or more.", field="really_there")
    with transaction.atomic():
        row = _open_bath(bath)
        held = lock([row.account])[row.account_id]
        refuse_counted_before_the_last([row.account], at)
        more = really_there - held.amount
        component = row.material.component
        if more > 0:
            cost = (held.value_micro, held.amount) if held.amount else last_cost(row.material)
            legs = found_legs(row.account, component, more, cost)
        elif more < 0:
            legs = missing_legs([Draw(row.account, -more, component)])
        else:
            legs = []
        kind = "bath_loss" if more < 0 else "count"
        entry_id = None
        if legs:
            entry_id = post(kind=kind, legs=legs, at=at, by=by, submission=submission, now=now).entry_id
        return Count.objects.create(
            material=row.material,
            bath=row,
            was_amount=held.amount,
            counted_amount=really_there,
            value_micro=sum(leg.value for leg in legs if leg.account is row.account),
            entry_id=entry_id,
            at=at,
            by=by,
        )


def throw_away_bath(
    *,
    bath: Bath,
    why: str,
    at: datetime,
    by: User | None = None,
    amount: int | None = None,
    note: str = "",
    submission: Submission | None = None,
    now: datetime | None = None,
) -> WriteOff:
    """Will take an amount of a bath (all that is in it unless told) off the books at its average cost."""
    choice(why, WhyGone.values, "why")
    with transaction.atomic():
        row = _open_bath(bath)
        gone, value, legs = gone_legs(row.account, row.material, amount)
        posted = post(kind="bath_loss", legs=legs, at=at, by=by, submission=submission, now=now)
        return WriteOff.objects.create(
            bath=row,
            amount=gone,
            value_micro=value,
            why=why,
            words=words(note, "note", most=300),
            entry_id=posted.entry_id,
            at=at,
            by=by,
        )


def tell_of_bath(
    *, bath: Bath, catalysed_on: date | None, keeps_s: int | None, dyed: bool, at: datetime, by: User | None = None
) -> Bath:
    """Will note when a bath's resin got its catalyst, how long it keeps then (seconds), and whether it is dyed."""
    if keeps_s is not None and not 0 < keeps_s <= MOST_KEPT_S:
        raise NotLikeThat("Give a time between a day and ten years.", field="keeps_s")
    if catalysed_on is not None and catalysed_on > studio_settings.local_date(at):
        raise NotLikeThat("That day is still to come.", field="catalysed_on")
    if catalysed_on is not None and (studio_settings.local_date(at) - catalysed_on).days * DAY_S > MOST_KEPT_S:
        raise NotLikeThat("No catalysed resin keeps for ten years: look at the year.", field="catalysed_on")
    with transaction.atomic():
        row = _open_bath(bath)
        row.catalysed_on, row.keeps_s, row.dyed = catalysed_on, keeps_s, dyed
        row.save(update_fields=["catalysed_on", "keeps_s", "dyed"])
    return row


def close_bath(*, bath: Bath, at: datetime, by: User | None = None) -> Bath:
    """Will close an empty bath; what it costs late goes to shrinkage. Raises SomethingLeft, BathClosed."""
    with transaction.atomic():
        row = _open_bath(bath)
        held = lock([row.account])[row.account_id]
        if held.amount:
            raise SomethingLeft(
                f"There are still {amount_words(row.material, held.amount)} in it. "
                "Count it as nothing or throw it away first.",
                field="bath",
            )
        close_account(account=row.account, successor=Kind.SHRINKAGE, at=at)
        row.closed_on = studio_settings.local_date(at)
        row.save(update_fields=["closed_on"])
    bath.closed_on = row.closed_on
    return row


def _open_bath(bath: Bath) -> Bath:
    row = (
        Bath.objects.select_for_update(of=("self",))
        .select_related("material__commodity", "account__commodity")
        .get(pk=bath.pk)
    )
    if row.closed_on:
        raise BathClosed(f"{row.name} was closed on {row.closed_on:%d %B %Y}. Start another.", field="bath")
    return row
