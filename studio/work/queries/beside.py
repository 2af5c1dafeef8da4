"""What was put into an oven beside wood that lies there: something wet begins the counting of its neighbours anew."""

from collections.abc import Sequence
from datetime import datetime

from django.db.models import OuterRef, Q, Subquery

from studio.equipment.models import LoadPlace
from studio.work.models import Weighing

WET_BESIDE = "something wet went in beside it"


def wet_beside(places: Sequence[LoadPlace]) -> dict[int, datetime]:
    """When something not oven-dry was put in beside each of these, the last time, by the key of the place; those
    left alone are absent. One query."""
    loads = {place.load_id for place in places}
    if not loads:
        return {}
    last = Weighing.objects.filter(
        workpiece__account=OuterRef("account"), struck_out=False, at__lte=OuterRef("put_in_at")
    ).order_by("-at", "-pk")
    wet = (
        LoadPlace.objects.filter(load__in=loads)
        .annotate(was=Subquery(last.values("condition")[:1]))
        .filter(Q(was=None) | ~Q(was=Weighing.Condition.OVEN_DRY))
        .order_by("put_in_at")
        .values_list("load", "account", "put_in_at")
    )
    came: dict[int, list[tuple[int, datetime]]] = {}
    for load, account, at in wet:
        came.setdefault(load, []).append((account, at))
    found = {}
    for place in places:
        for account, at in came.get(place.load_id, []):
            if account != place.account_id and at > place.put_in_at:
                found[place.pk] = at
    return found
