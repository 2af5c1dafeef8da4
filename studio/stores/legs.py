"""What leaves a batch, as lines of the journal: shared by drawing, counting and throwing away."""

from collections.abc import Sequence

from studio.craft.costing import draw_value
from studio.ledger.accounts import Account, Kind
from studio.ledger.operations import Draw, Leg, lock


def legs_out(
    draws: Sequence[Draw], *, value_to: Kind | Account, amount_to: Kind | Account, towards: Account | None = None
) -> list[Leg]:
    """Legs that take draws out at their cost, value to one account and amount to another (or the same).

    `towards` is who bears what comes late of an amount that is gone; without it that is a loss of the stores.
    Call it under lock: each draw's account is read afresh. The last unit of a batch takes its rest of value.
    """
    held = lock(one.account for one in draws)
    legs: list[Leg] = []
    for one in draws:
        row = held[one.account.pk]
        value = draw_value(row.value_micro, row.amount, one.amount)
        row.amount -= one.amount
        row.value_micro -= value
        commodity = one.account.commodity
        legs += [
            Leg(one.account, one.component, -value, -one.amount, commodity),
            Leg(value_to, one.component, value=value),
            Leg(amount_to, one.component, amount=one.amount, commodity=commodity, towards=towards),
        ]
    return legs
