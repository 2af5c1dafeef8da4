"""The round: what there is to do, in the order one walks the shop."""

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils import timezone

from studio.commissions import queries as commissions
from studio.craft.waits import PLACES, Wait, in_walking_order
from studio.equipment import queries as equipment
from studio.fields.quantity import show
from studio.people import settings as answers
from studio.people.roles import allowed
from studio.pieces import queries as pieces
from studio.selling import queries as selling
from studio.stores import queries as stores
from studio.web.deeds import Reading
from studio.web.saying import DAYS_LONG, MONTHS_LONG, in_words, local
from studio.web.screens import round_lines
from studio.wood import queries as wood
from studio.work import queries as work
from studio.work.operations.clock import left_over_night

TODAY_AND_TOMORROW = timedelta(hours=36)

ROOMS: tuple[tuple[Callable[[datetime], list[Wait]], str], ...] = (
    (equipment.waits, "read"),
    (stores.waits, "read"),
    (wood.waits, "read"),
    (work.waits, "read"),
    (pieces.waits, "read"),
    (selling.waits, "see_money"),
    (commissions.waits, "contacts"),
)


def what_waits(now: datetime, user: Any) -> tuple[Wait, ...]:
    """What every room waits for that this person may know of, in walking order."""
    told = [ask(now) for ask, right in ROOMS if allowed(user, right)]
    return in_walking_order(now, round_lines.said_once([wait for waits in told for wait in waits]))


def due_soon(waits: Sequence[Wait], now: datetime) -> tuple[tuple[Wait, ...], int]:
    """What may be begun by tomorrow evening, and how many clocks run longer: those are nobody's walk today."""
    last = now + TODAY_AND_TOMORROW
    soon = tuple(wait for wait in waits if wait.kind != "not before" or not wait.at or wait.at <= last)
    return soon, len(waits) - len(soon)


class Round(Reading):
    def get(self, request: HttpRequest) -> HttpResponse:
        now = timezone.now()
        waits, longer = due_soon(what_waits(now, request.user), now)
        at = request.GET.get("at", "")
        clocks = [
            {"run": run, "own": run.person_id == request.user.pk, "over_night": left_over_night(run, now)}
            for run in work.running_clocks()
        ]
        blue = 1 if any(clock["own"] for clock in clocks) else 2
        places = round_lines.places(waits, now, request.user, at=at if at in PLACES else "", blue=blue)
        context = {
            "section": "round",
            "day": day_words(now),
            "sub": _sub(sum(len(one.lines) + one.more for one in places), longer, now) if waits else "",
            "places": places,
            "one_place": at if at in PLACES else "",
            "clocks": sorted(clocks, key=lambda one: not one["own"]),
            "first": [] if waits or longer or clocks else _first_things(request.user),
            "may_bench": allowed(request.user, "bench"),
        }
        return render(request, "round/round.html", context)


def day_words(now: datetime) -> str:
    """`Tuesday 24 November`, in the studio's zone."""
    today = local(now)[0]
    return f"{DAYS_LONG[today.weekday()]} {today.day} {MONTHS_LONG[today.month - 1]}"


def _sub(count: int, longer: int, now: datetime) -> str:
    things = "One thing" if count == 1 else f"{in_words(count).capitalize()} things"
    order = "" if count == 1 else ", in the order you would walk the shop"
    damp = answers.known("shop_humidity_ppm", answers.local_date(now))
    air = f" Air in the shop is {show(damp, 'share')} on most days." if damp else ""
    others = f" {in_words(longer).capitalize()} more {'waits' if longer == 1 else 'wait'} longer." if longer else ""
    return f"{things}{order}.{others}{air}"


def _first_things(user: Any) -> list[dict[str, str]]:
    """What an empty studio does first; what is there already is not asked for again."""
    from studio.web.links import to

    wood_in, resin_in, machine_in = (
        work.search(costs=False).exists(),
        bool(stores.resin_systems()),
        bool(equipment.machines()),
    )
    asked = [
        ("wood", wood_in, "wood_take_in", "Take in wood", "A lump, its weight, what it cost."),
        ("stores", resin_in, "resin_add", "Put resin in the stores", "Part A, Part B and their sheet."),
        ("equipment", machine_in, "machine_add", "Name your oven", "Its power, and how hot it goes."),
    ]
    return [
        {"url": to(screen), "word": word, "sentence": sentence}
        for right, there, screen, word, sentence in asked
        if not there and allowed(user, right) and to(screen)
    ]


urlpatterns = [path("", Round.as_view(), name="round")]
