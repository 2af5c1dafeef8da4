"""Batches as they come in, are opened, and as what they cost changes afterwards."""

from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.db.models import F, Max

from studio.fields.models import Submission
from studio.ledger.accounts import Account, Kind
from studio.ledger.operations import open_account, receive, spread_late_cost
from studio.people import settings as studio_settings
from studio.people.models import Supplier, User
from studio.stores.errors import MaterialInUse, NotLikeThat, NotYetHere
from studio.stores.models import NOTE_LENGTH, Batch, LateBill, Material
from studio.stores.typed import amount as checked_amount
from studio.stores.typed import money, words

TRIES = 20


def buy(
    *,
    material: Material,
    amount: int,
    paid_micro: int,
    at: datetime,
    by: User | None = None,
    carriage_micro: int = 0,
    use_by: date | None = None,
    opened_on: date | None = None,
    supplier: Supplier | None = None,
    maker_mark: str = "",
    note: str = "",
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Batch:
    """Will take in one batch (milligrams or thousandths) at what it and its carriage cost, paid out of cash.

    It counts as received on the studio's day of `at`. Raises Refused beside the field for an amount of
    nothing, money below nothing or in part-coins, a use-by day that was over already, a day still to come.
    """
    checked_amount(amount)
    money(paid_micro, "paid")
    money(carriage_micro, "carriage")
    received_on = studio_settings.local_date(at)
    _refuse_what_cannot_have_come(material, received_on, use_by, opened_on)
    with transaction.atomic():
        account = open_account(Kind.BATCH, commodity=material.commodity)
        posted = receive(
            account=account,
            amount=amount,
            value=paid_micro + carriage_micro,
            component=material.component,
            at=at,
            by=by,
            submission=submission,
            now=now,
        )
        account.refresh_from_db(fields=["amount", "value_micro"])
        return _with_next_number(
            Batch(
                material=material,
                account=account,
                supplier=supplier,
                maker_mark=words(maker_mark, "maker_mark", most=60),
                received_on=received_on,
                opened_on=opened_on,
                use_by=use_by,
                bought_amount=amount,
                paid_micro=paid_micro,
                carriage_micro=carriage_micro,
                entry_id=posted.entry_id,
                note=words(note, "note", most=NOTE_LENGTH),
                at=at,
                by=by,
            )
        )


def _refuse_what_cannot_have_come(
    material: Material, received_on: date, use_by: date | None, opened_on: date | None
) -> None:
    if material.archived:
        raise MaterialInUse(f"{material.name} was put away. Take it out again before buying more.", field="material")
    if use_by and use_by < received_on:
        raise NotLikeThat(
            f"That was past its day when it came in on {received_on:%d %B %Y}. Look at the label again.",
            field="use_by",
        )
    if opened_on and opened_on < received_on:
        raise NotYetHere(received_on, field="opened_on")


def _with_next_number(row: Batch) -> Batch:
    """Two that buy at once may look at the same number: the second to arrive takes the next."""
    for _ in range(TRIES):
        row.number = (Batch.objects.aggregate(last=Max("number"))["last"] or 0) + 1
        try:
            with transaction.atomic():
                row.save(force_insert=True)
        except IntegrityError:
            if not Batch.objects.filter(number=row.number).exists():
                raise
            row.pk = None
        else:
            return row
    raise NotLikeThat("Too many batches came in at this moment. Send it once more.")


def open_batch(*, batch: Batch, at: datetime, by: User | None = None, opened_on: date | None = None) -> Batch:
    """Will note the day a batch was opened (the day of `at` unless told), or put that day right.

    Raises NotYetHere before it came in, NotLikeThat for a day still to come.
    """
    today = studio_settings.local_date(at)
    day = opened_on or today
    with transaction.atomic():
        row = Batch.objects.select_for_update().get(pk=batch.pk)
        if day < row.received_on:
            raise NotYetHere(row.received_on, field="opened_on")
        if day > today:
            raise NotLikeThat("That day is still to come. Give the day it was opened.", field="opened_on")
        row.opened_on = day
        row.save(update_fields=["opened_on"])
    batch.opened_on = day
    return batch


def add_late_bill(
    *,
    batch: Batch,
    value_micro: int,
    at: datetime,
    by: User | None = None,
    what: str = "",
    submission: Submission | None = None,
    now: datetime | None = None,
) -> LateBill:
    """Will pay a bill (or take a refund, below nothing) that came after the batch: carriage, duty, a rebate.

    It is shared by amounts between what is left and whatever drew on the batch.
    """
    if not money(value_micro, "value", refund=True):
        raise NotLikeThat("A bill of nothing needs no entry.", field="value")
    with transaction.atomic():
        row = _locked(batch)
        bill = _spread(row, value_micro, at, by, words(what, "what", most=200), False, submission, now)
        Batch.objects.filter(pk=row.pk).update(late_micro=F("late_micro") + value_micro)
    batch.late_micro = row.late_micro + value_micro
    return bill


def correct_price(
    *,
    batch: Batch,
    paid_micro: int,
    at: datetime,
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> LateBill:
    """Will put right what the goods of a batch cost (carriage and late bills stay as they are).

    The difference is one entry dated `at`, shared like a late bill; the first entry is never changed.
    Raises NotLikeThat when it is the price already.
    """
    money(paid_micro, "paid")
    with transaction.atomic():
        row = _locked(batch)
        difference = paid_micro - row.paid_micro
        if not difference:
            raise NotLikeThat("That is the price it was booked at; nothing was changed.", field="paid")
        bill = _spread(row, difference, at, by, "", True, submission, now)
        Batch.objects.filter(pk=row.pk).update(paid_micro=paid_micro)
    batch.paid_micro = paid_micro
    return bill


def _locked(batch: Batch) -> Batch:
    return Batch.objects.select_for_update(of=("self",)).with_material().get(pk=batch.pk)


def _spread(
    batch: Batch,
    value: int,
    at: datetime,
    by: User | None,
    what: str,
    price_put_right: bool,
    submission: Submission | None,
    now: datetime | None,
) -> LateBill:
    if studio_settings.local_date(at) < batch.received_on:
        raise NotYetHere(batch.received_on, field="at")
    posted = spread_late_cost(
        account=Account.objects.select_related("commodity").get(pk=batch.account_id),
        value=value,
        component=batch.material.component,
        at=at,
        corrects_id=batch.entry_id,
        by=by,
        submission=submission,
        now=now,
    )
    return LateBill.objects.create(
        batch=batch,
        value_micro=value,
        what=what,
        price_put_right=price_put_right,
        entry_id=posted.entry_id,
        at=at,
        by=by,
    )
