"""Asked for, agreed, changed."""

from datetime import date, datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Max

from studio.commissions.errors import DepositTrouble, NotLikeThat, NotNow
from studio.commissions.models import NOTE_LENGTH, WANTED_LENGTH, WORDS_LENGTH, Commission, State, What
from studio.commissions.trail import deposit_held, held, money, note_down, past, words, written
from studio.ledger.accounts import Kind
from studio.ledger.operations import open_account
from studio.people import settings as studio_settings
from studio.people.models import Client, User
from studio.people.roles import require

FURTHEST = timedelta(days=20 * 366)
TRIES = 20


def ask(
    *,
    client: Client,
    wanted: str,
    at: datetime,
    by: User,
    form: str = "",
    by_on: date | None = None,
    price_micro: int | None = None,
    deposit_asked_micro: int = 0,
    note: str = "",
    now: datetime | None = None,
) -> Commission:
    """Will note that somebody wants a piece made, with what is known of price and day so far.

    Raises Refused beside the field: nothing wanted, a day that is over, a client who was erased.
    """
    require(by, "commissions")
    past(at, now)
    if client.erased_at is not None:
        raise NotLikeThat("This person was erased. Add them anew if they are back.", field="client")
    facts: dict[str, Any] = {
        "wanted": words(wanted, "wanted", most=WANTED_LENGTH, missing="Write what is wanted.", lines=True),
        "form": words(form, "form", most=60),
        "note": words(note, "note", most=NOTE_LENGTH, lines=True),
        "price_micro": None if price_micro is None else money(price_micro, "price", at_least=1),
        "deposit_asked_micro": money(deposit_asked_micro, "deposit"),
    }
    if by_on is not None:
        _sane_day(by_on, at)
    _deposit_fits(facts["price_micro"], deposit_asked_micro)
    with transaction.atomic():
        row = _with_next_number(
            Commission(
                client=client,
                by_on=by_on,
                asked_at=at,
                deposit_account=open_account(Kind.DEPOSIT),
                **facts,
            )
        )
        note_down(row, What.ASKED, at=at, by=by, words=_terms_in_words(row))
        return row


def agree(
    *,
    commission: Commission,
    price_micro: int,
    by_on: date,
    at: datetime,
    by: User,
    deposit_asked_micro: int | None = None,
    now: datetime | None = None,
) -> Commission:
    """Will note that price (before tax) and day are agreed, and the deposit that was asked for."""
    require(by, "commissions")
    past(at, now)
    money(price_micro, "price", at_least=1)
    _sane_day(by_on, at)
    with transaction.atomic():
        row = held(commission)
        if row.state != State.ASKED:
            raise NotNow(f"Commission {row.number} is {row.get_state_display()} already. Change it instead.")
        if at < row.asked_at:
            raise NotLikeThat("It was asked for later than that. Give a later time.", field="at")
        if deposit_asked_micro is not None:
            row.deposit_asked_micro = money(deposit_asked_micro, "deposit")
        _deposit_fits(price_micro, row.deposit_asked_micro)
        row.price_micro, row.by_on = price_micro, by_on
        row.agreed_on, row.state = studio_settings.local_date(at), State.AGREED
        row.save()
        note_down(row, What.AGREED, at=at, by=by, words=_terms_in_words(row), amount_micro=price_micro)
        return row


def change(
    *,
    commission: Commission,
    at: datetime,
    by: User,
    price_micro: int | None = None,
    by_on: date | None = None,
    deposit_asked_micro: int | None = None,
    wanted: str | None = None,
    form: str | None = None,
    why: str = "",
    now: datetime | None = None,
) -> Commission:
    """Will change what is given; the trail keeps what was before. The price can't fall below the deposit held."""
    require(by, "commissions")
    past(at, now)
    reason = words(why, "why", most=WORDS_LENGTH)
    with transaction.atomic():
        row = held(commission)
        if not row.is_open:
            raise NotNow(f"Commission {row.number} is {row.get_state_display()}; it can't be changed any more.")
        said = [*_change_price(row, price_micro), *_change_day(row, by_on, at)]
        if deposit_asked_micro is not None and deposit_asked_micro != row.deposit_asked_micro:
            new = money(deposit_asked_micro, "deposit")
            said.append(f"deposit {written(row.deposit_asked_micro)} → {written(new)}")
            row.deposit_asked_micro = new
        if wanted is not None and wanted.strip() != row.wanted:
            said.append(f"wanted before: {row.wanted}")
            row.wanted = words(wanted, "wanted", most=WANTED_LENGTH, missing="Write what is wanted.", lines=True)
        if form is not None and form.strip() != row.form:
            said.append(f"form {row.form or 'open'} → {form.strip() or 'open'}")
            row.form = words(form, "form", most=60)
        _deposit_fits(row.price_micro, row.deposit_asked_micro)
        if not said:
            return row
        row.save()
        told = ". ".join(part for part in (reason, "; ".join(said)) if part)
        note_down(row, What.CHANGED, at=at, by=by, words=told, amount_micro=row.price_micro)
        return row


def _change_price(row: Commission, price: int | None) -> list[str]:
    if price is None or price == row.price_micro:
        return []
    money(price, "price", at_least=1)
    deposit = deposit_held(row)
    if deposit > price:
        raise DepositTrouble(
            f"A deposit of {written(deposit)} is held, more than that price. Give some of it back first.",
            field="price",
        )
    before = "open" if row.price_micro is None else written(row.price_micro)
    row.price_micro = price
    return [f"price {before} → {written(price)}"]


def _change_day(row: Commission, day: date | None, at: datetime) -> list[str]:
    if day is None or day == row.by_on:
        return []
    _sane_day(day, at)
    before = _written_day(row.by_on) if row.by_on else "open"
    row.by_on = day
    return [f"day {before} → {_written_day(day)}"]


def _terms_in_words(row: Commission) -> str:
    said = []
    if row.price_micro is not None:
        said.append(f"price {written(row.price_micro)}")
    if row.by_on:
        said.append(f"by {_written_day(row.by_on)}")
    if row.deposit_asked_micro:
        said.append(f"deposit {written(row.deposit_asked_micro)}")
    return ", ".join(said)


def _written_day(day: date) -> str:
    """A day as nobody misreads it: these words are kept, whatever style the studio chooses later."""
    return f"{day.day} {day:%b} {day.year}"


def _sane_day(day: date, at: datetime) -> None:
    asked_on = studio_settings.local_date(at)
    if day < asked_on:
        raise NotLikeThat("That day was over already when it was asked for. Give a later one.", field="by_on")
    if day - asked_on > FURTHEST:
        raise NotLikeThat(f"{_written_day(day)} can't be meant. Give a day within twenty years.", field="by_on")


def _deposit_fits(price: int | None, deposit: int) -> None:
    if price is not None and deposit > price:
        raise NotLikeThat("The deposit is more than the price. Ask for less.", field="deposit")


def _with_next_number(row: Commission) -> Commission:
    """Two who note one down at once look at the same number: the second to arrive takes the next."""
    for _ in range(TRIES):
        row.number = (Commission.objects.aggregate(last=Max("number"))["last"] or 0) + 1
        try:
            with transaction.atomic():
                row.save(force_insert=True)
        except IntegrityError:
            if not Commission.objects.filter(number=row.number).exists():
                raise
            row.pk = None
        else:
            return row
    raise NotNow("Others are noting down commissions in this moment. Send it again.")
