"""The row a verb works on, held; and the line it leaves behind."""

from datetime import datetime

from django.utils import timezone

from studio.commissions.errors import NotLikeThat, NotNow
from studio.commissions.models import WORDS_LENGTH, Commission, CommissionEvent, State, What
from studio.fields.quantity import show
from studio.fields.whole import LIMIT
from studio.ledger.errors import InTheFuture
from studio.ledger.queries import balances
from studio.people import settings as studio_settings
from studio.people.models import User
from studio.people.text import tidy


def held(commission: Commission, *states: str) -> Commission:
    """The commission afresh, held until the transaction ends. Raises where it is in none of these states."""
    row = (
        Commission.objects.select_for_update(of=("self",))
        .select_related("client", "deposit_account", "sale")
        .get(pk=commission.pk)
    )
    if states and row.state not in states:
        raise NotNow(
            f"Commission {row.number} is {row.get_state_display()}; this can't be done with it any more."
            if row.state != State.ASKED
            else f"Nothing is agreed for commission {row.number} yet. Agree on a price and a day first.",
            code=row.state,
        )
    return row


def note_down(
    commission: Commission,
    what: What,
    *,
    at: datetime,
    by: User | None,
    words: str = "",
    amount_micro: int | None = None,
    entry_id: int | None = None,
) -> CommissionEvent:
    return CommissionEvent.objects.create(
        commission=commission,
        what=what,
        words=words[:WORDS_LENGTH],
        amount_micro=amount_micro,
        at=at,
        by=by,
        entry_id=entry_id,
    )


def deposit_held(commission: Commission) -> int:
    """What of the client's money we hold, millionths. One query."""
    return -balances([commission.deposit_account_id]).get(commission.deposit_account_id, 0)


def words(text: str, field: str, *, most: int, missing: str = "", lines: bool = False) -> str:
    """Return tidied text; refuse what can't be printed, is too long or, with `missing`, isn't there."""
    try:
        kept = tidy(text, most=most, lines=lines)
    except ValueError as error:
        raise NotLikeThat(str(error), field=field) from error
    if missing and not kept:
        raise NotLikeThat(missing, field=field)
    return kept


def money(value: int, field: str, *, at_least: int = 0) -> int:
    """Return money in whole coins, or refuse it."""
    if type(value) is not int or abs(value) > LIMIT:
        raise NotLikeThat("Give an amount of money.", field=field)
    if value < at_least:
        raise NotLikeThat(
            "Give an amount above nothing." if at_least else "This can't be less than nothing.", field=field
        )
    if value % studio_settings.coin_micro():
        raise NotLikeThat("That is a part of the smallest coin. Round it to whole coins.", field=field)
    return value


def written(micro: int) -> str:
    """An amount as the studio writes it."""
    return show(micro, "money", formats=studio_settings.formats())


def past(at: datetime, now: datetime | None) -> None:
    """Refuse what is still to come."""
    if at > (now or timezone.now()):
        raise InTheFuture(at)
