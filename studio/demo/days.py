"""When things happen in the demo: eighteen months of working days that end at the anchor moment."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

ZONE = ZoneInfo("Europe/Helsinki")
# Eighteen months, and the days back to a Monday: every demo has the same weeks, whatever day it is built on.
SPAN = timedelta(days=548)
OPENS, CLOSES = time(12, 0), time(16, 50)
JUST_NOW = timedelta(minutes=20)
WORKING_DAYS = 5


class Over(Exception):  # noqa: N818 - it is the end of the story, not an error
    """The next thing would happen after the story's last moment."""


@dataclass(frozen=True)
class Calendar:
    """`now` is the present; `last` the last moment at which somebody did something in the shop."""

    start: date
    now: datetime
    last: datetime

    @classmethod
    def ending(cls, now: datetime) -> "Calendar":
        """The calendar of a story that ends at this moment."""
        last = _last_moment(now.astimezone(ZONE))
        first = last.date() - SPAN
        return cls(start=first - timedelta(days=first.weekday()), now=now, last=last)

    @property
    def today(self) -> date:
        return self.now.astimezone(ZONE).date()

    def days(self) -> list[date]:
        """Every day of the story, the last one included."""
        return [self.start + timedelta(days=nth) for nth in range((self.last.date() - self.start).days + 1)]

    def day(self, number: int) -> date:
        """The day so many days after the start or, below nothing, before the last one."""
        return (self.start if number >= 0 else self.last.date()) + timedelta(days=number)

    def working_days_left(self, day: date) -> int:
        """How many working days come after this one."""
        ahead = (self.last.date() - day).days
        return sum(works(day + timedelta(days=nth)) for nth in range(1, ahead + 1))


def moment(day: date, hour: int, minute: int = 0) -> datetime:
    return datetime.combine(day, time(hour, minute), tzinfo=ZONE)


def works(day: date) -> bool:
    return day.weekday() < WORKING_DAYS


def _last_moment(now: datetime) -> datetime:
    """The latest afternoon moment of a working day, a little before `now`: work stops there, waiting goes on."""
    latest = now - JUST_NOW
    day = latest.date()
    while not (works(day) and latest >= datetime.combine(day, OPENS, tzinfo=ZONE)):
        day -= timedelta(days=1)
    return min(latest, datetime.combine(day, CLOSES, tzinfo=ZONE))
