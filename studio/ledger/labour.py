"""Hands-on time turned into lines: the wage of the day, and overhead by the booked hour."""

from collections.abc import Sequence
from datetime import date

from studio.craft.costing import split
from studio.craft.rounding import divide
from studio.ledger.accounts import Account, Component, Kind
from studio.ledger.journal import Leg
from studio.people import queries as people_queries
from studio.people import settings as studio_settings
from studio.people.models import User

HOUR_S = 3600


def overhead_per_hour_micro(on: date) -> int:
    """Overhead carried by one booked hour: the year's amount over the *normal* hours booked in a year.

    Normal, not actual: a slack year does not make a piece dearer (IAS 2 paragraph 13). Nothing until both
    figures are given.
    """
    year = studio_settings.known("overhead_year_micro", on) or 0
    normal_s = studio_settings.known("normal_hours_s", on) or 0
    return divide(year * HOUR_S, normal_s) if normal_s else 0


def labour_legs(*, person: User, shares: Sequence[tuple[Account, int]], seconds: int, on: date) -> list[Leg]:
    """Legs that charge hands-on seconds to accounts by weight: wage and overhead, against their pools.

    A paid person's hours are paid out, the owner's own are reckoned. Raises `people.queries.MissingWage`
    where nobody has said what the person's hour costs.
    """
    rate, paid = people_queries.wage_for(person, on)
    wage = divide(rate * seconds, HOUR_S)
    overhead = divide(overhead_per_hour_micro(on) * seconds, HOUR_S)
    part, against = (Component.PAID_LABOUR, Kind.PAID_LABOUR) if paid else (Component.OWN_LABOUR, Kind.OWN_LABOUR)
    weights = [weight for _, weight in shares]
    legs: list[Leg] = []
    for total, component, pool in ((wage, part, against), (overhead, Component.OVERHEAD, Kind.OVERHEAD)):
        if not total:
            continue
        legs.append(Leg(pool, component, value=-total))
        for (account, _), value in zip(shares, split(total, weights), strict=True):
            legs.append(Leg(account, component, value=value))
    return legs
