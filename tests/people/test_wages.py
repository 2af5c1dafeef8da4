from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from studio.fields.errors import Refused
from studio.fields.whole import NotWhole
from studio.people import operations, queries
from studio.people.models import User, WageRate
from studio.people.roles import NotAllowed

pytestmark = pytest.mark.django_db


@pytest.fixture
def wage(owner: User, at: datetime) -> Callable[..., WageRate]:
    def _set(person: User, rate_micro: Any, from_on: date, paid: bool = False) -> WageRate:
        return operations.set_wage(person=person, rate_micro=rate_micro, paid=paid, from_on=from_on, by=owner, at=at)

    return _set


def test_an_hour_costs_what_held_on_that_day(owner: User, wage: Callable[..., WageRate]) -> None:
    wage(owner, 18_000_000, date(2024, 1, 1))
    wage(owner, 22_000_000, date(2025, 1, 1), paid=True)
    assert queries.wage_for(owner, date(2024, 12, 31)) == (18_000_000, False)
    assert queries.wage_for(owner, date(2025, 1, 1)) == (22_000_000, True)


def test_before_the_first_rate_the_first_one_holds(owner: User, wage: Callable[..., WageRate]) -> None:
    wage(owner, 22_000_000, date(2025, 1, 1))
    wage(owner, 18_000_000, date(2024, 1, 1))
    wage(owner, 19_000_000, date(2024, 1, 1))
    assert queries.wage_for(owner, date(2023, 6, 1)) == (19_000_000, False)


def test_a_correction_for_the_same_day_is_a_new_row_that_holds(owner: User, wage: Callable[..., WageRate]) -> None:
    first = wage(owner, 18_000_000, date(2024, 1, 1))
    second = wage(owner, 20_000_000, date(2024, 1, 1))
    assert queries.wage_for(owner, date(2024, 5, 5)) == (20_000_000, False)
    assert queries.wage_history(owner) == [second, first]
    assert WageRate.objects.count() == 2


def test_two_rows_cannot_both_hold_for_one_day(owner: User, wage: Callable[..., WageRate]) -> None:
    row = wage(owner, 18_000_000, date(2024, 1, 1))
    row.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save(force_insert=True)


def test_nobody_told_is_asked_about_by_name(owner: User) -> None:
    with pytest.raises(queries.MissingWage, match="Ilse Brand") as missing:
        queries.wage_for(owner, date(2025, 1, 1))
    assert missing.value.person == owner


@pytest.mark.parametrize("rate", [-1, 10**15, 18.5, Decimal(18), True, "18"])
def test_a_rate_that_is_no_sane_whole_number_is_refused(
    owner: User, wage: Callable[..., WageRate], rate: Any
) -> None:
    with pytest.raises(Refused) as refused:
        wage(owner, rate, date(2024, 1, 1))
    assert refused.value.field == "rate"


def test_the_column_itself_refuses_half_a_millionth(owner: User, at: datetime) -> None:
    with pytest.raises(NotWhole):
        WageRate.objects.create(
            person=owner,
            from_on=date(2024, 1, 1),
            revision=1,
            rate_micro=1.5,
            paid=False,
            set_by=owner,
            recorded_at=at,
        )


@pytest.mark.parametrize("day", [date(1825, 1, 1), date(2205, 1, 1)])
def test_a_day_that_cannot_be_meant_is_refused(owner: User, wage: Callable[..., WageRate], day: date) -> None:
    with pytest.raises(Refused) as refused:
        wage(owner, 18_000_000, day)
    assert refused.value.field == "from_on"


def test_a_maker_does_not_set_wages(owner: User, add: Callable[..., User], at: datetime) -> None:
    maker = add("maker")
    with pytest.raises(NotAllowed):
        operations.set_wage(person=maker, rate_micro=10**9, paid=True, from_on=date(2025, 1, 1), by=maker, at=at)


def test_everybodys_wage_takes_one_query(
    owner: User, add: Callable[..., User], wage: Callable[..., WageRate], django_assert_num_queries: Any
) -> None:
    people = [add("maker", f"maker{number}") for number in range(10)]
    for person in people[1:]:
        wage(person, 15_000_000, date(2024, 1, 1))
    with django_assert_num_queries(1):
        wages = queries.wages_on(date(2025, 1, 1))
    assert wages.keys() == {person.pk for person in people[1:]}
