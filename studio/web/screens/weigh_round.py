"""The weigh-in round: one workpiece after the other at the scale, in reach of a signal or not.

The page brings everything along as data; the script beside it keeps each weighing on the device and sends it here
as soon as there is a signal, once and in order. Without the script it is a plain list of links.
"""

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import path
from django.utils import timezone

from studio.fields.errors import Refused
from studio.fields.formats import current
from studio.fields.submissions import OtherBody, carry_out
from studio.people import roles
from studio.people import settings as answers
from studio.web.deeds import Reading
from studio.web.saying import when
from studio.work import operations as work
from studio.work.models import Weighing
from studio.work.operations.weigh import HEAVIER
from studio.work.queries.tags import by_number, why_absent
from studio.work.queries.weigh_round import ToWeigh, how_it_lay, one_to_weigh, to_weigh, words_after

MOST_BYTES = 4096
MOST_MG = 10**9
LONGEST_NUMBER = 40
# Two clocks are never quite together; further ahead than this the device's own clock is wrong.
AHEAD = timedelta(minutes=1)
OLDEST = timedelta(days=60)
_KEY = re.compile(r"[A-Za-z0-9_-]{8,64}")
_GRAMS = re.compile(r"[0-9]{1,7}(\.[0-9]{1,3})?")


class BadWeighing(Refused):
    """What the device sent can't be read as a weighing."""


@dataclass(frozen=True)
class Sent:
    """One weighing as the device sent it: a number, what the scale showed, when, and how it was if that was said."""

    key: str
    number: str
    mass_mg: int
    at: datetime
    condition: str
    sure: bool


def read(body: bytes, now: datetime) -> Sent:
    """Return what the device says was weighed.

    Raises `BadWeighing` with a sentence for whatever can't be meant; a moment up to a minute ahead is now.
    """
    try:
        said: Any = json.loads(body) if len(body) <= MOST_BYTES else None
    except (ValueError, RecursionError):
        said = None
    if not isinstance(said, dict):
        raise BadWeighing("That is no weighing. Open the round again and weigh it once more.")
    number = " ".join(_text(said, "number").split())
    if not number or len(number) > LONGEST_NUMBER:
        raise BadWeighing("Say which one it was: the number on its tag, such as 41/3.", field="number")
    key = _text(said, "key")
    if not _KEY.fullmatch(key):
        raise BadWeighing("That weighing has lost its key. Open the round again and weigh it once more.")
    return Sent(
        key=key,
        number=number,
        mass_mg=_mass(_text(said, "grams")),
        at=_moment(_text(said, "at"), now),
        condition=_condition(_text(said, "condition")),
        sure=said.get("sure") is True,
    )


def _text(said: dict[str, Any], name: str) -> str:
    found = said.get(name, "")
    return found if isinstance(found, str) and found.isprintable() else ""


def _mass(grams: str) -> int:
    if not _GRAMS.fullmatch(grams):
        raise BadWeighing("That is no weight. Type what the scale shows, in grams.", field="grams")
    whole, _, part = grams.partition(".")
    mass = int(whole) * 1000 + int(part.ljust(3, "0"))
    if mass > MOST_MG:
        raise BadWeighing("No scale in a shop shows that much. Look at the figure again.", field="grams")
    return mass


def _moment(text: str, now: datetime) -> datetime:
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        raise BadWeighing("The device did not say when that was. Weigh it once more.", field="at") from None
    if at.tzinfo is None:
        raise BadWeighing("The device did not say in which zone its clock runs. Weigh it once more.", field="at")
    if at > now + AHEAD:
        raise BadWeighing(
            "By this device's clock that is still to come. Put the clock right, then weigh it once more.", field="at"
        )
    if at < now - OLDEST:
        raise BadWeighing(
            "By this device's clock that was two months ago or more. If it was, enter it on its own page.", field="at"
        )
    return min(at, now)


def _condition(text: str) -> str:
    if text and text not in Weighing.Condition.values:
        raise BadWeighing("Say how it is with one of the words on the page.", field="condition")
    return text


def weigh_in(sent: Sent, by: Any, now: datetime) -> str:
    """Note one weighing and return the answer for the device. No curve is fitted here: that waits until one looks."""
    piece = by_number([sent.number]).get(sent.number)
    if piece is None:
        raise BadWeighing(why_absent([sent.number])[0], field="number", code="number")
    condition, load = how_it_lay(piece, sent.at)
    row = work.weigh(
        workpiece=piece,
        mass_mg=sent.mass_mg,
        at=sent.at,
        condition=sent.condition or condition,
        step_mg=answers.value("scale_step_mg"),
        load=load,
        by=by,
        now=now,
        sure=sent.sure,
    )
    return json.dumps({"number": piece.number, "mass_mg": row.mass_mg, "words": words_after(row, now)})


class WeighRound(Reading):
    """The round itself; `?find=` answers one workpiece by its number; a POST is one weighing."""

    right = "bench"

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.method == "POST" and not roles.allowed(request.user, self.right):
            words = f"Your sign-in may not weigh. Ask {roles.who_may(self.right)}."
            return JsonResponse({"refused": words, "code": "not_allowed"}, status=403)
        return super().dispatch(request, *args, **kwargs)

    def get(self, request: HttpRequest) -> HttpResponse:
        now = timezone.now()
        if "find" in request.GET:
            return self._find(" ".join(request.GET["find"].replace("\x00", "").split())[:LONGEST_NUMBER], now)
        rows = to_weigh(now)
        context = {
            "section": "wood",
            "rows": rows,
            "data": page_data(rows, request.user.pk, now),
            "conditions": Weighing.Condition.choices,
        }
        return render(request, "bench/weigh_round.html", context)

    def _find(self, number: str, now: datetime) -> JsonResponse:
        row = one_to_weigh(number, now) if number else None
        if row is None:
            words = why_absent([number])[0] if number else "Type the number on its tag, such as 41/3."
            return JsonResponse({"refused": words, "code": "number"}, status=404)
        return JsonResponse(row_data(row, now))

    def post(self, request: HttpRequest) -> HttpResponse:
        now = timezone.now()
        try:
            sent = read(request.body, now)
            outcome = carry_out(
                actor=request.user,
                key=sent.key,
                body={"_path": [request.path], "said": [request.body.decode(errors="replace")]},
                at=now,
                do=lambda submission: weigh_in(sent, request.user, now),
            )
        except OtherBody as stop:
            return JsonResponse({"refused": stop.message, "code": "other"}, status=409)
        except Refused as stop:
            return JsonResponse({"refused": stop.message, "code": stop.code or "", "field": stop.field}, status=422)
        return JsonResponse(json.loads(outcome.result))


def page_data(rows: Sequence[ToWeigh], who: int | None, now: datetime) -> dict[str, Any]:
    """What the script needs to know: the rows, whose device memory is whose, and how figures are written here."""
    return {
        "who": who,
        "decimal": current().decimal,
        "step_mg": answers.value("scale_step_mg"),
        "heavier": [str(one) for one in HEAVIER],
        "conditions": {value: str(label) for value, label in Weighing.Condition.choices},
        "rows": [row_data(row, now) for row in rows],
    }


def row_data(row: ToWeigh, now: datetime) -> dict[str, Any]:
    return {
        "pk": row.pk,
        "number": row.number,
        "title": row.title,
        "where": row.where,
        "condition": row.condition,
        "last_mg": row.last.mass_mg if row.last else None,
        "last_words": when(row.last.at, now, clock=True) if row.last else "",
        "words": row.words,
        "fresh": row.weighed_this_round(now),
    }


urlpatterns = [path("weigh/", WeighRound.as_view(), name="weigh_round")]
