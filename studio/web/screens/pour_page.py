"""A pour looked at: what was weighed, how its castings came out, and where all that was mixed went."""

from dataclasses import dataclass

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone

from studio.people import roles
from studio.web.deeds import Reading
from studio.work import queries
from studio.work.models import Outcome, PourFill
from studio.work.queries import PourUnderWay
from studio.work.queries.outcomes import WeighedOut, weighed_out


def the_pour(pk: int) -> PourUnderWay:
    found = queries.pour_page(pk, timezone.now())
    if found is None:
        raise Http404
    return found


@dataclass(frozen=True)
class Look:
    """How one pour of a casting came out, as a page says it."""

    fill: PourFill
    seen: tuple[Outcome, ...]


def where_it_went(found: WeighedOut) -> list[tuple[str, int, str]]:
    """What was mixed and where it is: words, milligrams, and what is to be said of it."""
    rows = [("Mixed, colour in it", found.mixed_mg, "")]
    if found.took_mg is not None:
        rows.append(("In the castings, by their weight", found.took_mg, ""))
    if found.cup_mg is not None:
        rows.append(("Left in the cup", found.cup_mg, ""))
    if found.floor_mg is not None and found.floor_mg >= 0:
        rows.append(("On the floor and the stick", found.floor_mg, "what neither casting nor cup holds"))
    elif found.floor_mg is not None:
        rows.append(("More than was mixed", -found.floor_mg, "the weights don’t agree with one another"))
    elif found.stayed_mg is not None and found.stayed_mg >= 0:
        rows.append(("In the cup and on the floor", found.stayed_mg, "the cup wasn’t weighed"))
    return rows if len(rows) > 1 else []


class PourPage(Reading):
    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        found, now = the_pour(pk), timezone.now()
        pour = found.pour
        weighed = weighed_out(pour)
        cast = {came.fill.pk: came.cast_mg for came in weighed.castings}
        alive = [fill.casting for fill in found.fills if fill.casting.closed_at is None]
        into_pot = "&".join(f"workpiece={piece.pk}" for piece in alive)
        context = {
            "pour": pour,
            "fills": [
                {
                    "fill": fill,
                    "weighs": fill.wood_mg + fill.share_mg if fill.wood_mg else None,
                    "cast_mg": cast.get(fill.pk),
                    "look": Look(fill, tuple(fill.outcomes.all())),
                }
                for fill in found.fills
            ],
            "went": where_it_went(weighed),
            "found": found,
            "alive": alive,
            "early": bool(pour.demould_not_before and pour.demould_not_before > now and not pour.demoulded_at),
            "soft": bool(pour.demoulded_at and pour.full_cure_at and pour.full_cure_at > now),
            "into_pot": f"{reverse('load_start')}?{into_pot}&purpose=pressure" if alive else "",
            "costs": roles.allowed(request.user, "see_costs"),
            "may_bench": roles.allowed(request.user, "bench"),
            "section": "stores",
        }
        return render(request, "pour/pour.html", context)


urlpatterns = [
    path("pour/<int:pk>/", PourPage.as_view(), name="pour"),
]
