"""What a question to the studio is, and whose its figures are: shared by the lists of questions."""

from dataclasses import dataclass
from typing import Any

from studio.people.kinds import Kind, Whole

OURS = "ours"
PRACTICE = "common practice, no source"
YOURS = "yours to say"
PLATE = "on the bill or the label"


@dataclass(frozen=True)
class Question:
    key: str
    group: str
    asks: str
    help: str
    kind: Kind
    default: Any = None
    suggestion: Any = None
    dated: bool = False
    whose: str = YOURS


_SHARE = "Give a share between 0 and 100 percent."
_MONEY = "Give an amount that isn't below nothing."


def a_share(**more: Any) -> Whole:
    return Whole(dimension="share", high=10**6, says=_SHARE, **more)


def some_money() -> Whole:
    return Whole(dimension="money", says=_MONEY)
