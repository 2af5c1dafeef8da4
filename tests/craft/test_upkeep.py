"""Due by the calendar, by hours run, or by whichever comes first."""

from datetime import UTC, datetime, timedelta

import pytest

from studio.craft.upkeep import due

SINCE = datetime(2025, 3, 1, tzinfo=UTC)
DAY, HOUR = 86_400, 3_600


@pytest.mark.parametrize(
    ("days", "ran_h", "every", "run", "now"),
    [
        (29, 0, 30 * DAY, None, False),
        (30, 0, 30 * DAY, None, True),
        (2, 99, None, 100 * HOUR, False),
        (2, 100, None, 100 * HOUR, True),
        (2, 100, 30 * DAY, 100 * HOUR, True),
        (31, 3, 30 * DAY, 100 * HOUR, True),
        (29, 99, 30 * DAY, 100 * HOUR, False),
    ],
)
def test_it_is_due_when_the_first_of_the_two_is_up(days, ran_h, every, run, now):
    at = SINCE + timedelta(days=days)
    found = due(since=SINCE, now=at, every_s=every, run_s=run, ran_s=ran_h * HOUR)
    assert found.now is now
    assert found.at == (None if every is None else SINCE + timedelta(seconds=every))
    assert found.left_s == (None if run is None else max(run - ran_h * HOUR, 0))


@pytest.mark.parametrize(("every", "run", "ran"), [(None, None, 0), (0, None, 0), (DAY, -1, 0), (DAY, None, -1)])
def test_nonsense_is_refused(every, run, ran):
    with pytest.raises(ValueError):
        due(since=SINCE, now=SINCE, every_s=every, run_s=run, ran_s=ran)
