"""Dry wood that lies out: how long its skin was open, and how moist its core is by now."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from studio.craft import regain as craft
from studio.craft.regain import Pace, Reweighing, SkinClock
from studio.people import settings as answers
from studio.work.models import Weighing
from studio.work.queries.lying_out import Spell, bagged_hours

# As heavy as wood commonly is: only to guess a thickness nobody measured.
USUAL_G_PER_MM3 = 0.0006
LEARN_FROM = 300
# Weighed again later than this, something else may have happened to it.
LONGEST_H = 24 * 14
# By the scale, a skin that gained no more than this is as it came out of the oven. Ours.
SKIN_PERCENT = 0.5


@dataclass(frozen=True)
class Regain:
    """Both clocks. `core` is percent now (None while the shop's air isn't known, or no weight said that it was dry),
    `weighed` told by the scale.

    `until` is when the core passes the studio's limit as it lies now: None when this air never brings it there.
    `bagged_at` since when it lies in a bag; `fogged_at` when fog was seen in it, and nothing since says it is dry.
    `skin_weighed_at` when the scale last showed that the skin drank next to nothing, no longer ago than its limit.
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
    dry_known: bool = True
    bagged_at: datetime | None = None
    fogged_at: datetime | None = None
    skin_weighed_at: datetime | None = None

    @property
    def skin_over(self) -> bool:
        """Whether the skin lay open too long, and the scale doesn't say that it drank next to nothing."""
        return self.skin.over and self.skin_weighed_at is None


def regain(
    *, spell: Spell, thickness_mm: float | None, now: datetime, pace: Pace | None = None, by_weight: bool = True
) -> Regain:
    """Say how wood that is out of the oven stands now. `by_weight` is false for wood whose weight tells nothing.

    One query, none while the shop's air isn't known or the `pace` is given.
    """
    open_h = max(_hours(now - spell.skin_at), 0.0)
    bags = bagged_hours(spell, spell.skin_at)
    skin = craft.skin_clock(0.0, open_h, answers.value("lie_out_limit_s") / 3600, bags)
    limit = answers.value("cast_moisture_ppm")
    dry, last = spell.dry, spell.again[-1] if spell.again else None
    bag = spell.bag.wrapped_at if spell.bag else None
    start = craft.moisture_by_weight(last.mass_mg, dry.mass_mg) if last and dry else 0.0
    air = _settles(now, start)
    blank = Regain(
        spell.skin_at, skin, None, False, limit, False, None, None, None, air is not None, thickness_mm is not None,
        False, bag, spell.fogged_at, _skin_weighed_at(spell, skin, now),
    )  # fmt: skip
    if dry is None or not by_weight:
        return blank
    if air is None:
        over = bool(last) and start * 10_000 > limit
        return replace(blank, core=start if last else None, weighed=bool(last), over=over, dry_known=True)
    pace = pace or learned_pace(now)
    pace_h = pace.at(thickness_mm or (dry.mass_mg / 1000 / USUAL_G_PER_MM3) ** (1 / 3))
    since = last.at if last else spell.core_at
    drunk = craft.drinking_h(0.0, max(_hours(now - since), 0.0), bagged_hours(spell, since))
    core = craft.moisture_after(drunk, start, air, pace_h)
    left = craft.hours_until(limit / 10_000, core, air, pace_h)
    slow = craft.WRAPPED_SLOWS if bag else 1.0
    until = None if left is None else now + timedelta(hours=min(left * slow, 24 * 365))
    return replace(
        blank, core=core, weighed=bool(last), over=core * 10_000 > limit, until=until, settles=air, pace=pace,
        dry_known=True,
    )  # fmt: skip


def _skin_weighed_at(spell: Spell, skin: SkinClock, now: datetime) -> datetime | None:
    last = spell.again[-1] if spell.again else None
    if spell.dry is None or last is None or (now - last.at).total_seconds() > skin.limit_h * 3600:
        return None
    gained = craft.moisture_by_weight(last.mass_mg, spell.dry.mass_mg)
    return last.at if gained <= SKIN_PERCENT else None


def learned_pace(now: datetime) -> Pace:
    """How fast wood drinks in this shop, by its own re-weighings. One query."""
    return craft.learn_pace(_seen(now))


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
