"""What the rooms above ask about people. Each reads with the number of SQL queries its docstring says."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from studio.fields.errors import Refused
from studio.fields.formats import Formats
from studio.people import settings as answers
from studio.people.models import Client, ContactQuerySet, DatedSetting, Supplier, User, UserQuerySet, WageRate
from studio.people.questions import GROUPS, QUESTIONS, Question
from studio.people.roles import RIGHTS, Role


class MissingWage(Refused):
    """Nobody has said yet what this person's hour costs; `person` says whose."""

    def __init__(self, person: User) -> None:
        self.person = person
        super().__init__(
            f"What does an hour of {person} cost? Nobody has said yet.", field="rate", code="missing_wage"
        )


@dataclass(frozen=True)
class Wage:
    rate_micro: int
    paid: bool


@dataclass(frozen=True)
class Told:
    """One answer as it was given."""

    value: Any
    shown: str
    from_on: date
    revision: int
    set_by: str
    recorded_at: datetime
    replaced: bool


@dataclass(frozen=True)
class Answered:
    """One question with what holds now and what was said before, newest first."""

    question: Question
    holds: Any
    shown: str
    in_the_box: str
    is_default: bool
    history: tuple[Told, ...]


@dataclass(frozen=True)
class Right:
    key: str
    words: str
    roles: tuple[tuple[str, bool], ...]


def anybody() -> bool:
    """Return whether the studio has its first person. One query."""
    return User.objects.exists()


def users() -> UserQuerySet:
    """Return everybody who signs in or did, those who still do first. One query."""
    return User.objects.order_by("-is_active", "display_name", "pk")


def clients(search: str = "") -> ContactQuerySet:
    """Return the clients whose name matches, erased ones left out. One query."""
    return Client.objects.known().matching(search)


def suppliers(search: str = "") -> ContactQuerySet:
    """Return the suppliers whose name matches, erased ones left out. One query."""
    return Supplier.objects.known().matching(search)


def wage_for(person: User, on: date) -> tuple[int, bool]:
    """Return (millionths per hour, paid out?) of a person on a day. One query.

    Before the first rate ever told, that first one holds. Raises `MissingWage` when none was told.
    """
    wage = wages_on(on, [person]).get(person.pk)
    if wage is None:
        raise MissingWage(person)
    return wage.rate_micro, wage.paid


def wages_on(on: date, people: Iterable[User] | None = None) -> dict[int, Wage]:
    """Return what an hour of each person costs on a day, by user id; who has no rate is left out.

    One query.
    """
    rows = WageRate.objects.order_by("person_id", "from_on", "revision")
    if people is not None:
        rows = rows.filter(person__in=people)
    holding: dict[int, WageRate] = {}
    for row in rows:
        held = holding.get(row.person_id)
        if held is None or row.from_on <= on or row.from_on == held.from_on:
            holding[row.person_id] = row
    return {person: Wage(row.rate_micro, row.paid) for person, row in holding.items()}


def wage_history(person: User) -> list[WageRate]:
    """Return every rate told about a person, newest first. One query."""
    return list(WageRate.objects.filter(person=person).select_related("set_by").order_by("-from_on", "-revision"))


def settings_page(on: date, formats: Formats) -> dict[str, list[Answered]]:
    """Return every question by the words of its group, with what holds on a day and its history.

    Two queries.
    """
    told: dict[str, list[DatedSetting]] = {}
    for row in DatedSetting.objects.select_related("set_by").order_by("-from_on", "-revision", "-pk"):
        told.setdefault(row.key, []).append(row)
    held = answers.answers()
    page: dict[str, list[Answered]] = {words: [] for words in GROUPS.values()}
    for question in QUESTIONS:
        page[GROUPS[question.group]].append(_answered(question, held, told.get(question.key, []), on, formats))
    return page


def rights_table() -> list[Right]:
    """Return the table of rights as the help page prints it. No query."""
    return [
        Right(key, words, tuple((role.label, role in roles) for role in Role))
        for key, (words, roles) in RIGHTS.items()
    ]


def _answered(
    question: Question, held: answers.Answers, rows: list[DatedSetting], on: date, formats: Formats
) -> Answered:
    holds = held.holding(question.key, on)
    ordered = rows if question.dated else sorted(rows, key=lambda row: -row.pk)
    history = []
    for index, row in enumerate(ordered):
        newer = ordered[index - 1] if index else None
        value = question.kind.from_text(row.value)
        history.append(
            Told(
                value=value,
                shown=answers.show(question.key, value, formats=formats),
                from_on=row.from_on,
                revision=row.revision,
                set_by=str(row.set_by),
                recorded_at=row.recorded_at,
                replaced=newer is not None and (newer.from_on == row.from_on or not question.dated),
            )
        )
    return Answered(
        question=question,
        holds=holds,
        shown=answers.show(question.key, holds, formats=formats),
        in_the_box=answers.show(
            question.key, question.suggestion if holds is None else holds, formats=formats, boxed=True
        ),
        is_default=not rows,
        history=tuple(history),
    )
