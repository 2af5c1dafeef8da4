"""Dry wood that lies out: how long its skin was open, and how moist its core is by now."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from studio.craft import regain as craft
from studio.craft.regain import Pace, Reweighing, SkinClock
from studio.people import settings as answers
from studio.work.models import Weighing

# As heavy as wood commonly is: only to guess a thickness nobody measured.
USUAL_G_PER_MM3 = 0.0006
LEARN_FROM = 300
# Weighed again later than this, something else may have happened to it.
LONGEST_H = 24 * 14


@dataclass(frozen=True)
class Regain:
    """Both clocks. `core` is percent now (None while the shop's air isn't known), `weighed` told by the scale.

    `until` is when the core passes the studio's limit: None when this air never brings it there.
    """

    out_at: datetime
    skin: SkinClock
    core: float | None
    weighed: bool
    limit_ppm: int
    over: bool
    until: datetime | None
    settles: float | None
    pace: Pace | None
    air_known: bool
    thickness_known: bool


def regain(
    *,
    dry: Weighing,
    out_at: datetime,
    again: Sequence[Weighing],
    thickness_mm: float | None,
    now: datetime,
) -> Regain:
    """Say how wood, weighed dry at `dry` and out since `out_at`, stands now. `again` are its later weights.

    One query, none while the shop's air isn't known.
    """
    skin = craft.skin_clock(0.0, max(_hours(now - out_at), 0.0), answers.value("lie_out_limit_s") / 3600)
    limit = answers.value("cast_moisture_ppm")
    thick = thickness_mm or (dry.mass_mg / 1000 / USUAL_G_PER_MM3) ** (1 / 3)
    last = again[-1] if again else None
    start = craft.moisture_by_weight(last.mass_mg, dry.mass_mg) if last else 0.0
    since = last.at if last else out_at
    air = _settles(now, start)
    if air is None:
        over = bool(last) and start * 10_000 > limit
        core = start if last else None
        return Regain(out_at, skin, core, bool(last), limit, over, None, None, None, False, thickness_mm is not None)
    pace = craft.learn_pace(_seen(now))
    pace_h = pace.at(thick)
    core = craft.moisture_after(max(_hours(now - since), 0.0), start, air, pace_h)
    left = craft.hours_until(limit / 10_000, start, air, pace_h)
    until = None if left is None else since + timedelta(hours=min(left, 24 * 365))
    return Regain(
        out_at, skin, core, bool(last), limit, core * 10_000 > limit, until, air, pace, True, thickness_mm is not None
    )


def _settles(now: datetime, start: float) -> float | None:
    """The moisture dry wood comes to in this shop's air, or None while nobody said how warm and damp it is."""
    on = answers.local_date(now)
    warm, damp = answers.known("shop_temperature_mdegc", on), answers.known("shop_humidity_ppm", on)
    if warm is None or damp is None:
        return None
    return craft.settles_at(max(warm / 1000, -10.0), min(damp / 1e6, 0.99), start)


def _seen(now: datetime) -> list[Reweighing]:
    """This studio's own re-weighings: wood weighed oven-dry, and again as that with nothing in between. One query."""
    rows = (
        Weighing.objects.filter(
            condition__in=[Weighing.Condition.OVEN_DRY, Weighing.Condition.OVEN, Weighing.Condition.WET],
            struck_out=False,
            workpiece__weighings__condition=Weighing.Condition.OVEN_DRY,
        )
        .distinct()
        .select_related("workpiece")
        .defer("workpiece__search_text")
        .order_by("-at", "-pk")[:LEARN_FROM]
    )
    by_piece: dict[int, list[Weighing]] = {}
    for row in sorted(rows, key=lambda row: (row.at, row.pk)):
        by_piece.setdefault(row.workpiece_id, []).append(row)
    found: list[Reweighing] = []
    for mine in by_piece.values():
        found += _pairs(mine, now)
    return found


def _pairs(mine: Sequence[Weighing], now: datetime) -> list[Reweighing]:
    """Each stretch of weights that climbs from a dry one; what loses again was dried again."""
    found = []
    nth = 0
    while nth < len(mine):
        dry = mine[nth]
        if dry.condition != Weighing.Condition.OVEN_DRY:
            nth += 1
            continue
        run = nth + 1
        while run < len(mine) and mine[run].mass_mg >= mine[run - 1].mass_mg and mine[run].condition != "oven":
            run += 1
        later = [row for row in mine[nth + 1 : run] if 1 <= _hours(row.at - dry.at) <= LONGEST_H]
        sides = [side for side in (dry.workpiece.length_um, dry.workpiece.width_um, dry.workpiece.height_um) if side]
        air = _settles(dry.at, 0.0) if later and sides else None
        if air is not None:
            found.append(
                Reweighing(
                    dry.mass_mg / 1000,
                    tuple(_hours(row.at - dry.at) for row in later),
                    tuple(row.mass_mg / 1000 for row in later),
                    air,
                    min(sides) / 1000,
                    max(row.step_mg for row in [dry, *later]) / 1000,
                )
            )
        nth = max(run, nth + 1)
    return found


def _hours(span: timedelta) -> float:
    return span.total_seconds() / 3600
