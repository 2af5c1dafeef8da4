"""What waits, where, and until when: each room says its own, the round walks them in order."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, get_args

from .numbers import walking_key

# The order in which one walks the shop.
PLACES = (
    "oven",
    "vacuum chamber",
    "mixing bench",
    "pressure pot",
    "lathe",
    "finish bench",
    "stores",
    "desk",
    "before you go",
)
Kind = Literal["not before", "by", "since", "until"]


@dataclass(frozen=True)
class Wait:
    """One thing to do: where, what (a verb), with which tag, from or until when, and why.

    `kind` says how to read `at`: *not before* it can't begin earlier, *by* it should be done then, *since* it
    could have been done from then on, *until* it ends by an eye and not by a clock: `until` says what the eye
    looks for (`bubbles stop`), `at` since when it has gone on. No `at`: any time will do. `about` is the room and
    key of the thing, for the one who draws the link; `note` is a second, quieter sentence.
    """

    place: str
    what: str
    subject: str
    kind: Kind
    at: datetime | None
    reason: str
    note: str = ""
    about: tuple[str, int] | None = None
    until: str = ""

    def __post_init__(self) -> None:
        if self.place not in PLACES:
            raise ValueError(f"{self.place!r} is no place in the shop; there are: " + ", ".join(PLACES))
        if self.kind not in get_args(Kind):
            raise ValueError("A wait is one of: " + ", ".join(get_args(Kind)) + ".")
        if (self.kind == "until") != bool(self.until):
            raise ValueError("A wait that ends by an eye says until what, and no other wait does.")

    def begins(self, now: datetime) -> bool:
        """Say whether it can be done now."""
        return self.kind != "not before" or self.at is None or self.at <= now

    def late(self, now: datetime) -> bool:
        """Say whether it should have been done already."""
        return self.kind == "by" and self.at is not None and self.at < now


def in_walking_order(now: datetime, *rooms: Iterable[Wait]) -> tuple[Wait, ...]:
    """Merge what the rooms say into the order one walks the shop.

    At each place: what is late, what can be done now, what can't begin yet; the earlier time first, then the
    smaller number. Times must know their zone.
    """

    def key(wait: Wait) -> tuple[object, ...]:
        turn = 0 if wait.late(now) else 1 if wait.begins(now) else 2
        when = wait.at.timestamp() if wait.at else float("inf")
        return (PLACES.index(wait.place), turn, when, walking_key(wait.subject), wait.what)

    return tuple(sorted((wait for room in rooms for wait in room), key=key))


def by_place(waits: Iterable[Wait]) -> tuple[tuple[str, tuple[Wait, ...]], ...]:
    """Group waits by place, in walking order, places with nothing to do left out; order inside is kept."""
    held: dict[str, list[Wait]] = {}
    for wait in waits:
        held.setdefault(wait.place, []).append(wait)
    return tuple((place, tuple(held[place])) for place in PLACES if place in held)
