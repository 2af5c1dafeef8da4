"""How much more to mix than the moulds are reckoned to take, from what this studio's pours took."""

from collections.abc import Iterable
from datetime import date
from functools import cache
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery, Sum

from studio.craft.allowance import Allowance, Past, allowance, enough_share
from studio.craft.rounding import divide
from studio.people import settings as studio_settings
from studio.work.models import PourFill, Weighing

PPM = 1_000_000
# What clings to cup and stick, of what was reckoned. *Common practice, no source.*
CLINGS_PPM = 30_000
LAST_FILLS = 80


def allowed(on: date) -> tuple[Allowance, int]:
    """(the allowance, the share of pours it is to be enough for). One query, and the studio's answers."""
    enough = enough_share(studio_settings.value("short_to_leftover"), 1)
    given = studio_settings.value("waste_allowance_ppm", on)
    return allowance(past_pours(), enough=enough, given_ppm=given), round(enough * PPM)


def past_pours() -> list[Past]:
    """The last pours whose castings were weighed out of the mould: reckoned against needed. One query.

    Needed is what lies in the castings, colour and seal coat left out, and 3 % for cup and stick (*common practice,
    no source*).
    Stabilized wood is left out: its weight before the pour was not its dry weight.
    """
    return _by_pour(_weighed_pours().all())


@cache
def _weighed_pours() -> QuerySet[PourFill, tuple[Any, ...]]:
    """Built once, because every plan asks it and nothing in it changes: never evaluated itself, only its copies."""
    weighed = Weighing.objects.filter(
        workpiece=OuterRef("casting"), condition=Weighing.Condition.CAST, struck_out=False
    ).filter(at__gte=OuterRef("pour__at")).order_by("at", "pk")
    return (
        PourFill.objects.filter(reckoned_mg__isnull=False, pour__demoulded_at__isnull=False)
        .annotate(cast_mg=Subquery(weighed.values("mass_mg")[:1]), colour_mg=Sum("pour__colorants__mass_mg"))
        .filter(cast_mg__isnull=False)
        .exclude(casting__stabilizings__isnull=False)
        .exclude(casting__parent_links__parent__stabilizings__isnull=False)
        .order_by("-pour__at", "-pk")
        .values_list(
            "pour_id", "reckoned_mg", "cast_mg", "wood_mg", "wood_mm3", "pour__poured_a_mg", "pour__poured_b_mg",
            "colour_mg", "ready__coat_mg",
        )[:LAST_FILLS]
    )  # fmt: skip


def _by_pour(rows: Iterable[tuple[Any, ...]]) -> list[Past]:
    sums: dict[int, tuple[int, int]] = {}
    for pour, reckoned, cast, wood, room, a, b, colour, coat in rows:
        if room and not wood:
            continue  # wood that was never weighed: how much of the casting is resin isn't known
        mixed = a + b
        took = divide((cast - wood - (coat or 0)) * mixed, mixed + (colour or 0)) if mixed else 0
        before = sums.get(pour, (0, 0))
        sums[pour] = (before[0] + reckoned, before[1] + took)
    return [
        Past(reckoned, took + divide(reckoned * CLINGS_PPM, PPM))
        for reckoned, took in sums.values()
        if reckoned > 0 and took > 0
    ]
