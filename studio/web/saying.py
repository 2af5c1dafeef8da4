"""Times in words: what a clock on the wall and a calendar beside it would be said to show."""

from datetime import date, datetime

from django.utils import timezone

from studio.fields import quantity
from studio.fields.formats import current

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
DAYS_LONG = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
MONTHS_LONG = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
NUMBERS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
    "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty",
)  # fmt: skip
_NEAR = {-1: "yesterday", 0: "today", 1: "tomorrow"}
NBSP = "\u00a0"


def in_words(n: int) -> str:
    """Return small numbers as words, larger ones as figures."""
    return NUMBERS[n] if 0 <= n < len(NUMBERS) else str(n)


def local(moment: datetime | date) -> tuple[date, str]:
    """Return the day in the studio's zone, and the time of day where there is one."""
    if isinstance(moment, datetime):
        there = timezone.localtime(moment) if timezone.is_aware(moment) else moment
        return there.date(), f"{there:%H:%M}"
    return moment, ""


def day(when: date, today: date) -> str:
    """Return `Tue 24 Nov` in the studio's order, with the year once it is another one."""
    style = current().date_style
    if style == "year first":
        return when.isoformat()
    name, month = DAYS[when.weekday()], MONTHS[when.month - 1]
    text = f"{month}{NBSP}{when.day}" if style == "month first" else f"{when.day}{NBSP}{month}"
    return f"{text} {when.year}" if when.year != today.year else f"{name}{NBSP}{text}"


def when(moment: datetime | date, now: datetime, *, clock: bool = False) -> str:
    """Return `today 14:32`, `yesterday 06:10`, `Tue 24 Nov`; `clock` keeps the time on far days too."""
    on, at = local(moment)
    today = local(now)[0]
    near = _NEAR.get((on - today).days)
    words = near or day(on, today)
    return f"{words}{NBSP}{at}" if at and (near or clock) else words


def ago(moment: datetime, now: datetime) -> str:
    """Return how long since, or how long until: `just now`, `2 h 14 ago`, `in 40 min`, `5 days ago`."""
    seconds = int((now - moment).total_seconds())
    far = abs(seconds)
    if far < 60:
        return "just now" if seconds >= 0 else "in a moment"
    span = f"{far // 86_400}{NBSP}days" if far >= 2 * 86_400 else quantity.show(far, "duration")
    return f"{span} ago" if seconds > 0 else f"in {span}"
