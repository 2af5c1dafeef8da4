"""What the studio has settled, as typed values on a date.

Nothing here reads a clock: who asks says for which day. Which row holds on a day: the one with the latest
`from_on` not after it and, for that day, the last revision. Before the first row of a dated question its
default holds, or, when there is none, the first answer ever given (an oven night entered late must not ask
again for a tariff told since). A question that isn't dated has one answer, the last one given.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from studio.fields.errors import Refused
from studio.fields.formats import NUMBER_FORMATS, Formats, coin_digits
from studio.people.models import DatedSetting
from studio.people.questions import REGISTRY, Question

NO_CURRENCY = "XXX"

# Rooms above register here what must hold before an answer may change; each raises Refused (see `guard`).
guards: dict[str, list[Callable[[Any], None]]] = {}


class MissingSetting(Refused):
    """An answer is needed that nobody has given yet; `key` says which, so that the screen can ask it now."""

    def __init__(self, key: str) -> None:
        self.key = key
        super().__init__(
            f"One answer about the studio is needed first: {REGISTRY[key].asks}",
            field=key,
            code="missing_setting",
        )


def guard(key: str, check: Callable[[Any], None]) -> None:
    """Have `check(new_value)` run before the answer to `key` changes; it raises Refused to stop that."""
    REGISTRY[key]
    checks = guards.setdefault(key, [])
    if check not in checks:
        checks.append(check)


class Answers:
    """Every answer given so far, read with one query."""

    def __init__(self) -> None:
        self.rows: dict[str, list[tuple[date, int, int, str]]] = {}
        for pk, key, from_on, revision, value in DatedSetting.objects.values_list(
            "pk", "key", "from_on", "revision", "value"
        ):
            self.rows.setdefault(key, []).append((from_on, revision, pk, value))
        for key, rows in self.rows.items():
            dated = key in REGISTRY and REGISTRY[key].dated
            rows.sort(key=lambda row: row[:2] if dated else row[2])  # type: ignore[arg-type,return-value]

    def holding(self, key: str, on: date | None) -> Any:
        """Return the answer to `key` on a day, its default, or None."""
        question = REGISTRY[key]
        rows = self.rows.get(key, [])
        if not question.dated:
            return question.kind.from_text(rows[-1][3]) if rows else question.default
        if on is None:
            raise ValueError(f"{key} changes with time: say for which day it is wanted (on=).")
        begun = [row for row in rows if row[0] <= on]
        if begun:
            return question.kind.from_text(begun[-1][3])
        if question.default is None and rows:
            first = [row for row in rows if row[0] == rows[0][0]]
            return question.kind.from_text(first[-1][3])
        return question.default


class _Memory:
    """The answers of one request. Once one changes in it, each read is afresh: the change may be undone."""

    def __init__(self) -> None:
        self.answers: Answers | None = None
        self.off = False


_memory: ContextVar[_Memory | None] = ContextVar("people_settings", default=None)


@contextmanager
def remembered() -> Iterator[None]:
    """Read the answers at most once inside the `with` block: one request or one piece of a job."""
    token = _memory.set(_Memory())
    try:
        yield
    finally:
        _memory.reset(token)


def forget() -> None:
    """Stop remembering in the block that runs now (an answer has changed)."""
    memory = _memory.get()
    if memory is not None:
        memory.answers, memory.off = None, True


def answers() -> Answers:
    """Return the answers as they are now, or as this block remembers them. At most one query."""
    memory = _memory.get()
    if memory is None or memory.off:
        return Answers()
    if memory.answers is None:
        memory.answers = Answers()
    return memory.answers


def known(key: str, on: date | None = None) -> Any:
    """Return the answer to `key` on a day, or None when nobody has given it and it has no default.

    Raises KeyError for a key that is no question, ValueError when a dated question is asked without a day.
    """
    return answers().holding(key, on)


def value(key: str, on: date | None = None) -> Any:
    """Return the answer to `key` on a day: int in stored units, str, bool, or a tuple of str, by its kind.

    Raises `MissingSetting` when nobody has given it and it has no default; otherwise as `known`.
    """
    found = known(key, on)
    if found is None:
        raise MissingSetting(key)
    return found


def formats(on: date | None = None) -> Formats:
    """Return how this studio writes numbers, money, units and dates. One query, or none where remembered.

    None of it is dated, so `on` changes nothing; a studio that has not named its money yet gets XXX (ISO
    4217: none).
    """
    held = answers()
    decimal, group = NUMBER_FORMATS[held.holding("number_format", on)]
    currency = held.holding("currency", on) or NO_CURRENCY
    return Formats(
        decimal=decimal,
        group=group,
        currency=currency,
        coin_digits=coin_digits(currency),
        length_unit=held.holding("length_unit", on),
        temperature_unit=held.holding("temperature_unit", on),
        pressure_unit=held.holding("pressure_unit", on),
        time_zone=held.holding("time_zone", on),
        date_style=held.holding("date_style", on),
        fluid_measures=held.holding("fluid_measures", on),
    )


def coin_micro(currency: str | None = None) -> int:
    """Return what the smallest coin of this money (the studio's own, unless named) is in millionths.

    10,000 for a cent. One query, or none where remembered or named.
    """
    return int(10 ** (6 - coin_digits(currency or known("currency") or NO_CURRENCY)))


def zone() -> ZoneInfo:
    """Return the studio's time zone."""
    return ZoneInfo(value("time_zone"))


def local_date(moment: datetime) -> date:
    """Return the day `moment` fell on in the studio. Raises ValueError for a moment without a time zone."""
    if moment.tzinfo is None:
        raise ValueError("A moment without a time zone has no day: pass an aware datetime.")
    return moment.astimezone(zone()).date()


def day_start(on: date) -> datetime:
    """Return the moment at which the day `on` begins in the studio."""
    return datetime.combine(on, time.min, tzinfo=zone())


def question(key: str) -> Question:
    """Return the question asked under `key`; KeyError when there is none."""
    return REGISTRY[key]


def read(key: str, text: str, *, formats: Formats) -> Any:
    """Return what was typed as an answer to `key`, as `operations.set_setting` takes it.

    Raises Refused with a sentence for that field when it can't be understood.
    """
    from studio.people.typed import read as read_typed

    try:
        return read_typed(REGISTRY[key], text, formats)
    except ValueError as error:
        raise Refused(str(error), field=key, code="not_understood") from error


def show(key: str, answer: Any, *, formats: Formats, boxed: bool = False) -> str:
    """Return an answer as the studio writes it; `boxed`, as the text of its input box, which reads back."""
    from studio.people.typed import show as show_typed

    return show_typed(REGISTRY[key], answer, formats, boxed=boxed)
