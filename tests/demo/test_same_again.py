"""The same seed and the same moment tell the same story; another moment tells one of the same length."""

from datetime import UTC, datetime

import pytest
from django.db import transaction

from studio.demo.build import build
from studio.demo.days import ZONE, Calendar
from studio.ledger.journal import Line

ANCHOR = datetime(2026, 3, 12, 9, 0, tzinfo=UTC)
WEEKS = 4 * 7

pytestmark = pytest.mark.django_db


class Undo(Exception):
    pass


def lines_of(seed: int) -> list[tuple]:
    """Every line of the journal of the first weeks, as it says by itself."""
    found: list[tuple] = []
    try:
        with transaction.atomic():
            build(ANCHOR, seed=seed, days=WEEKS)
            fields = ("entry__kind", "entry__effective_at", "account__kind", "component", "amount", "value_micro")
            found = list(Line.objects.order_by("pk").values_list(*fields))
            raise Undo
    except Undo:
        return found


def test_the_same_seed_and_moment_write_the_same_books_and_another_seed_others() -> None:
    first = lines_of(20)
    assert len(first) > 150
    assert lines_of(20) == first
    assert lines_of(21) != first


@pytest.mark.parametrize("day", range(1, 15))
@pytest.mark.parametrize("hour", [0, 5, 9, 12, 15, 23])
def test_the_story_ends_in_an_afternoon_of_a_working_day(day: int, hour: int) -> None:
    now = datetime(2026, 3, day, hour, 7, tzinfo=UTC)
    calendar = Calendar.ending(now)
    last = calendar.last.astimezone(ZONE)
    assert last < now
    assert last.weekday() < 5
    assert 12 <= last.hour < 17
    assert calendar.start.weekday() == 0
    assert 548 <= (last.date() - calendar.start).days <= 554
