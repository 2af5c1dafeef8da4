"""From what a room says it waits for to a line of the round: a verb, tags, a reason, a time, one button."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.utils import timezone

from studio.craft.waits import PLACES, Wait, by_place
from studio.people.roles import allowed
from studio.web import links
from studio.web.saying import in_words
from studio.work.models import StepCode
from studio.work.queries import BenchWait, Tagged, bench_wait

MOST_LINES = 25
AT_LEAST_EACH = 2
MOST_PURCHASES = 2
# The machine's own words where the bench names what lies inside; an oven's own clock is never among them.
SAYS_LESS = ("look into", "let the air off and open")
FOR_THE_SCALE = ("work.weigh_all", 0)


@dataclass(frozen=True)
class Button:
    """A link; with `code` a form that starts the clock on that step in one tap; with `post` one that says so."""

    word: str
    url: str
    code: str = ""
    post: bool = False


@dataclass(frozen=True)
class Line:
    verb: str
    subject: str
    tags: tuple[tuple[Tagged, str], ...]
    more: int
    more_url: str
    reason: str
    note: str
    kind: str
    at: datetime | date | None
    late: bool
    begins: bool
    button: Button | None
    urgent: bool = False
    until: str = ""


@dataclass(frozen=True)
class Place:
    key: str
    words: str
    lines: tuple[Line, ...]
    more: int
    more_url: str
    all_word: str = ""
    all_button: Button | None = None


# kind of thing a wait is about: (name of the screen, word on the button, right needed for it)
LEADS: dict[str, tuple[str, str, str]] = {
    "equipment.load": ("load", "Look at the load", "read"),
    "equipment.diary": ("machine_diary", "Look after it", "bench"),
    "equipment.machine": ("machine", "See the plate", "read"),
    "stores.batch": ("batch", "See the batch", "read"),
    "stores.material": ("material", "See what is left", "read"),
    "wood.purchase": ("purchase", "Fill it in", "wood"),
    "work.weigh": ("workpiece_weigh", "Weigh", "bench"),
    "work.stabilizing": ("stabilizing", "Weigh them", "bench"),
    "work.pour": ("pour", "Open the mould", "bench"),
    "work.not_ready": ("workpiece", "Look at it", "read"),
    "work.finish": ("finish_run", "Go on with it", "read"),
    "work.finish_line": ("finish_lines", "Go on with them", "bench"),
    "work.loss": ("loss", "Look after it", "bench"),
    "piece": ("piece", "See the piece", "read"),
    "selling.gallery": ("gallery", "See what is owed", "see_money"),
    "commissions.commission": ("commission", "See the commission", "contacts"),
}
CLOCKED = (
    StepCode.CLEAN,
    StepCode.ROUGH,
    StepCode.TURN,
    StepCode.SAND,
    StepCode.FINISH,
    StepCode.OTHER,
)
# Work of these steps turns: before it does one looks at its lathe card.
AT_THE_LATHE = (StepCode.ROUGH, StepCode.TURN)
STARTS: dict[str, tuple[str, str]] = {
    StepCode.DRY: ("load_start", "Fill the oven"),
    StepCode.SEASON: ("load_start", "Put them away"),
    StepCode.STABILIZE: ("stabilize_start", "Into the bath"),
    StepCode.CAST: ("pour_plan", "Plan the pour"),
}


def said_once(waits: Iterable[Wait]) -> list[Wait]:
    """Leave out a machine's own line where the bench says more about what lies inside."""
    found = list(waits)
    covered = {("equipment.load", wait.load) for wait in found if isinstance(wait, BenchWait) and wait.load}
    return [wait for wait in found if not (wait.what in SAYS_LESS and wait.about in covered)]


def line(wait: Wait, now: datetime, user: Any) -> Line:
    """Turn one wait into a line as this person may see and press it."""
    tags: tuple[Tagged, ...] = wait.tags if isinstance(wait, BenchWait) else ()
    return Line(
        verb=wait.what[:1].upper() + wait.what[1:],
        subject="" if tags else wait.subject,
        tags=tuple((tag, links.to(_card(wait), tag.pk)) for tag in tags),
        more=wait.more if isinstance(wait, BenchWait) else 0,
        more_url=_rest_of(wait) if isinstance(wait, BenchWait) else "",
        reason=wait.reason,
        note=wait.note,
        kind=wait.kind,
        at=_day_or_moment(wait.at),
        late=wait.late(now),
        begins=wait.begins(now),
        button=_button(wait, user),
        until=wait.until,
    )


def _card(wait: Wait) -> str:
    """What a tag opens: at the lathe its lathe card, elsewhere its page."""
    return "lathe_card" if isinstance(wait, BenchWait) and wait.code in AT_THE_LATHE else "workpiece"


def _day_or_moment(at: datetime | None) -> datetime | date | None:
    """A moment that is only a day (midnight in the studio) is shown as a day."""
    if at is None:
        return None
    there = timezone.localtime(at)
    return there.date() if (there.hour, there.minute) == (0, 0) else at


def _rest_of(wait: BenchWait) -> str:
    return _alone(wait.place) if wait.about == FOR_THE_SCALE else _all_of(wait.code)


def _alone(place: str) -> str:
    """One place of the round, every line of it."""
    return f"{links.to('round')}?at={place}"


def _all_of(code: str) -> str:
    if code == "cut":
        return links.to("wood")
    return f"{links.to('bench')}?step={'none' if code == 'made' else code}" if code else links.to("bench")


def _button(wait: Wait, user: Any) -> Button | None:
    if isinstance(wait, BenchWait) and wait.code:
        return _begin(wait) if allowed(user, "bench") else None
    kind, pk = wait.about or ("", 0)
    if kind == "wood.rest":
        return _linked("See them", links.to("wood") + "?rest=waits")
    if kind == "work.lost_numbers":
        return _linked("Find it", links.to("lost_numbers"))
    if kind == "work.rags":
        url = links.to("rags_in")
        return Button("In the tin", url, post=True) if url and allowed(user, "bench") else None
    if wait.about == FOR_THE_SCALE:
        return _linked("Weigh them all", links.to("weigh_round"))
    if kind not in LEADS:
        return None
    screen, word, right = LEADS[kind]
    if not allowed(user, right):
        return None
    if kind == "work.not_ready" and isinstance(wait, BenchWait) and len(wait.tags) > 1:
        return _linked("Fill the oven", links.to("load_start"))
    if kind == "work.stabilizing" and not wait.what.endswith("weigh"):
        word = "Look into the bath"
    if kind == "equipment.load" and wait.what == "take out":
        return _linked("Out and bagged", links.to("load_end", pk) or links.to(screen, pk))
    return _linked(word, links.to(screen, pk))


def _begin(wait: BenchWait) -> Button | None:
    if wait.code in STARTS:
        screen, word = STARTS[wait.code]
        one = f"?workpiece={wait.tags[0].pk}" if len(wait.tags) == 1 else ""
        url = links.to(screen)
        return _linked(word, url + one if url else "") or _linked("See them", _all_of(wait.code))
    if len(wait.tags) > 1:
        return _linked("Choose one", _all_of(wait.code))
    pk = wait.tags[0].pk
    if wait.code in CLOCKED:
        return Button("Start the clock", links.to("clock_start", pk), wait.code)
    if wait.code == "cut":
        return _linked("Cut", links.to("workpiece_cut", pk))
    if wait.code == "made":
        return _linked("Call it a piece", links.to("piece_become", pk)) or _linked(
            "Look at it", links.to("workpiece", pk)
        )
    return _linked("Look at it", links.to("workpiece", pk))


def _linked(word: str, url: str) -> Button | None:
    return Button(word, url) if url else None


def places(waits: Sequence[Wait], now: datetime, user: Any, *, at: str = "", blue: int = 2) -> list[Place]:
    """Lay the waits out by place, at most 25 lines in all; one place in full (a hundred) with `at`.

    `blue` is how many of the most urgent are marked.
    """
    found = by_place(waits if at in PLACES else _papers_together(_scale_together(waits, user)))
    if at in PLACES:
        found = tuple((key, mine) for key, mine in found if key == at)
        room = {at: 100}
    else:
        room = _room({key: len(mine) for key, mine in found})
    urgent = _urgent([wait for key, mine in found for wait in mine[: room[key]]], now)[:blue]
    return [
        Place(
            key,
            key[:1].upper() + key[1:],
            tuple(_marked(line(wait, now, user), wait in urgent) for wait in mine[: room[key]]),
            len(mine) - room[key],
            _alone(key),
            *_all_at_once(mine, user),
        )
        for key, mine in found
    ]


def _for_the_scale(waits: Iterable[Wait]) -> list[BenchWait]:
    return [wait for wait in waits if isinstance(wait, BenchWait) and (wait.about or ("",))[0] == "work.weigh"]


def _all_at_once(waits: Sequence[Wait], user: Any) -> tuple[str, Button | None]:
    """Where several stand a line each for the scale, one walk from each to the next."""
    several = len(_for_the_scale(waits))
    if several < 2 or not allowed(user, "bench"):
        return "", None
    return f"{in_words(several)} wait for the scale", _linked("Weigh them all", links.to("weigh_round"))


def _scale_together(waits: Sequence[Wait], user: Any) -> list[Wait]:
    """Several for one scale are one line, one walk from each to the next; the place alone tells them apart."""
    found = list(waits)
    if not allowed(user, "bench"):
        return found
    for place in PLACES:
        mine = [wait for wait in _for_the_scale(waits) if wait.place == place]
        if len(mine) < 2:
            continue
        reasons = {wait.reason for wait in mine}
        said = reasons.pop() if len(reasons) == 1 else f"{in_words(len(mine))} wait for the scale"
        tags = [tag for wait in mine for tag in wait.tags]
        at = min((wait.at for wait in mine if wait.at), default=None)
        one = bench_wait(place, "weigh", tags, "since", at, said, FOR_THE_SCALE)
        rest = {id(wait) for wait in mine[1:]}
        found = [one if wait is mine[0] else wait for wait in found if id(wait) not in rest]
    return found


def _papers_together(waits: Sequence[Wait]) -> list[Wait]:
    """Many purchases to fill in are one line: they can wait for a quiet evening."""
    open_ones = [wait for wait in waits if (wait.about or ("",))[0] == "wood.purchase"]
    if len(open_ones) <= MOST_PURCHASES:
        return list(waits)
    said = f"{in_words(len(open_ones))} purchases of wood"
    one = Wait("desk", "fill in", said, "since", open_ones[0].at, "as far as it is known", about=("wood.rest", 0))
    rest = {id(wait) for wait in open_ones[1:]}
    return [one if wait is open_ones[0] else wait for wait in waits if id(wait) not in rest]


def _room(wanted: dict[str, int]) -> dict[str, int]:
    """How many lines each place gets: a few for each, then the rest of the page in walking order."""
    given = {key: min(count, AT_LEAST_EACH) for key, count in wanted.items()}
    left = MOST_LINES - sum(given.values())
    while left > 0 and given != wanted:
        for key, count in wanted.items():
            if left > 0 and given[key] < count:
                given[key] += 1
                left -= 1
    return given


def _urgent(waits: Iterable[Wait], now: datetime) -> list[Wait]:
    """The two that come before the rest: late, or dry and still in the oven, or hard and still in the mould."""
    ready = [wait for wait in waits if wait.begins(now)]
    first = [wait for wait in ready if wait.late(now) or (wait.about or ("",))[0] == "work.pour"]
    first += [wait for wait in ready if wait.what == "take out"]
    return (first or ready[:1])[:2]


def _marked(one: Line, urgent: bool) -> Line:
    return Line(**{**one.__dict__, "urgent": urgent}) if urgent and one.button else one
