"""A wait about workpieces, as every part of the bench says it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from studio.craft.waits import Kind, Wait
from studio.work.models import Workpiece

EACH = 6


@dataclass(frozen=True)
class Tagged:
    """As much of a workpiece as its tag needs."""

    pk: int
    number: str


@dataclass(frozen=True)
class BenchWait(Wait):
    """A wait about workpieces: the first few of them, how many more there are, and the step if one can begin."""

    tags: tuple[Tagged, ...] = ()
    more: int = 0
    code: str = ""
    load: int | None = None


def bench_wait(
    place: str,
    what: str,
    tags: Sequence[Tagged],
    kind: Kind,
    at: datetime | None,
    reason: str,
    about: tuple[str, int],
    *,
    many: int = 0,
    note: str = "",
    code: str = "",
    load: int | None = None,
    until: str = "",
) -> BenchWait:
    """A wait about these workpieces: the first six are named, the others counted."""
    shown = tuple(tags[:EACH])
    return BenchWait(
        place,
        what,
        shown[0].number if shown else "",
        kind,
        at,
        reason,
        note,
        about,
        until,
        tags=shown,
        more=max(many, len(tags)) - len(shown),
        code=code,
        load=load,
    )


def tag_of(row: Workpiece) -> Tagged:
    return Tagged(row.pk, row.number)
