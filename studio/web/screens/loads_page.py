"""One load: what is in it, since when, and what it costs."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils import timezone

from studio.equipment import queries
from studio.equipment.models import Load, MachineKind
from studio.people import roles
from studio.web.deeds import Reading
from studio.web.screens.loads import the_load
from studio.web.screens.pot_words import at_the_lid, gauge_facts
from studio.work.queries.tags import by_account


class LoadPage(Reading):
    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        load, now = the_load(pk), timezone.now()
        costs = roles.allowed(request.user, "see_costs")
        pot = load.machine.kind == MachineKind.PRESSURE_POT
        cautions = queries.cautions(load.machine, load.purpose)
        context: dict[str, Any] = {
            "load": load,
            "places": _places(load, queries.cost_preview(load, now) if costs else None),
            "inside": sum(1 for place in load.places.all() if place.out_at is None),
            "early": load.ended_at is None and load.not_before is not None and load.not_before > now,
            "pot": pot,
            "gauge": gauge_facts(load, now),
            "cautions": cautions,
            "boxed": at_the_lid(cautions),
            "costs": costs,
            "may_bench": roles.allowed(request.user, "bench"),
            "section": "stores",
        }
        return render(request, "loads/load.html", context)


def _places(load: Load, preview: queries.Preview | None) -> list[dict[str, Any]]:
    """Each place with its workpiece and, where costs may be seen, what it carries of power and wear."""
    places = list(load.places.all())
    pieces = by_account(place.account_id for place in places)
    costs = {one.place.pk: one for one in preview.places} if preview else {}
    return [
        {
            "place": place,
            "piece": pieces.get(place.account_id),
            "seconds": costs[place.pk].seconds if place.pk in costs else None,
            "energy": costs[place.pk].energy_micro if place.pk in costs else None,
            "wear": costs[place.pk].wear_micro if place.pk in costs else None,
        }
        for place in places
    ]


urlpatterns = [path("loads/<int:pk>/", LoadPage.as_view(), name="load")]
