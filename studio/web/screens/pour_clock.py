"""What is said of a plan's cups and of its clock, and the moments it counts down to."""

from datetime import datetime, timedelta
from typing import Any

from django.http import QueryDict
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from studio.fields.quantity import show
from studio.work.queries import PourPlan

FIRST_YEAR, LAST_YEAR = 2000, 2200
SLOW_RESIN = "Makers plan on 10 to 12 minutes with a slow resin: common practice, no source."


def cup_words(plan: PourPlan) -> list[str]:
    """Each cup with its grams, where there is more than one."""
    if len(plan.cups) < 2:
        return []
    return [
        f"{show(cup.a_mg, 'mass')} of A, {show(cup.b_mg, 'mass')} of B"
        + (f", {show(cup.colorant_mg, 'mass')} of colour" if cup.colorant_mg else "")
        for cup in plan.cups
    ]


def give_words(mg: int) -> str:
    """How far off a weight may be, to two figures and rounded up: more would pretend to know."""
    grams = -(-mg // 1000)
    step = 1 if grams < 100 else 10 ** (len(str(grams)) - 2)
    return show(-(-grams // step) * step * 1000, "mass", unit="g")


def allowance_words(plan: PourPlan) -> str:
    """Whose the allowance is, with the count of pours."""
    if plan.allowed is None:
        return ""
    enough = show(plan.enough_ppm, "share")
    count = plan.allowed.count
    pours = "1 pour" if count == 1 else f"{count} pours"
    if plan.allowed.learned:
        return f"{show(plan.waste_ppm, 'share')} by {pours} of yours: enough {enough} of the time"
    seen = f"only {pours} of yours weighed out of the mould so far" if count else "no pour of yours was weighed yet"
    return f"your {show(plan.waste_ppm, 'share')}; {seen}"


def lift_words(plan: PourPlan) -> list[str]:
    """What the resin lifts each mould's wood with, and what to do about it."""
    found = []
    for place, fill in enumerate(plan.fills, start=1):
        if fill.lift is None:
            continue
        name = fill.wanted.mould.name if fill.wanted.mould else f"mould {place}"
        of = f"{show(_thousands(fill.lift.wood_mm3), 'volume')} of wood at {show(fill.lift.wood_kgm3, 'density')}"
        if fill.lift.mg < 0:
            found.append(f"In {name}, {of} sinks: it stands on the bottom.")
        elif fill.lift.must_be_held:
            found.append(f"In {name}, {of} lifts {show(_thousands(fill.lift.mg), 'mass')}: screw, wedge or weight.")
        else:
            found.append(f"In {name}, {of} lifts no more than {show(_thousands(fill.lift.mg), 'mass')}.")
    return found


def _thousands(value: int) -> int:
    """To the gram or the millilitre, upward: more would pretend to know."""
    return -(-value // 1000) * 1000


def clock_words(plan: PourPlan) -> str:
    """How long it can be worked, as far as that is known, before anything is mixed."""
    held = plan.clock
    if held is None:
        return ""
    mass = show(held.mass_mg, "mass")
    if held.time.seconds is None:
        most = show(held.time.at_most_s or 0, "duration")
        for_mass = plan.system.work_time_mass_mg
        whose = f"{show(for_mass, 'mass')} by its sheet" if for_mass else "about 100 g, as labels mean it"
        return f"Unknown for {mass}: {most} is for {whose}, and more sets sooner. {SLOW_RESIN}"
    warm = "" if held.time.warmth_known else ", at its sheet's warmth"
    own = ", by what thickened at your bench" if held.time.own else ""
    worked = f"{show(held.time.seconds, 'duration')} for {mass}{warm}{own}"
    if held.fill_s is None:
        return f"{worked}. How long your pot takes to fill isn't known: tap its gauge once at pressure."
    fills = f"The pot is reckoned to fill in {show(held.fill_s, 'duration')}, {held.fill_whose}."
    return f"{worked}: lid shut within {show(held.clock.lid_by_s or 0, 'duration')} of A meeting B. {fills}"


def degas_words(plan: PourPlan) -> str:
    """What degassing takes of the clock and how big a cup it wants; nothing where none is planned."""
    if not plan.clock or not plan.clock.degas_s:
        return ""
    cup = show(plan.clock.degas_cup_mm3 or 0, "volume")
    return (
        f"Degassing takes {show(plan.clock.degas_s, 'duration')} of it, in a cup of {cup} or more: a quarter full at "
        "most, it foams up. Never in the mould with wood in it."
    )


def out_by(plan: PourPlan, query: QueryDict) -> datetime | None:
    """When the work time ends that began with Part B; the latest it can where it isn't known; None unknown."""
    since, held = began(query), plan.clock
    if since is None or held is None:
        return None
    seconds = held.time.seconds if held.time.seconds is not None else held.time.at_most_s
    return None if seconds is None else since + timedelta(seconds=seconds)


def foot(plan: PourPlan, query: QueryDict, now: datetime) -> dict[str, Any] | None:
    """The clock at the foot of the scale: `half`, `lid` where a pot's fill time is known, `over`, and which stage of
    them it is now."""
    since, over, held = began(query), out_by(plan, query), plan.clock
    if since is None or over is None or held is None:
        return None
    unknown = show(held.mass_mg, "mass") if held.time.seconds is None else ""
    lid = over - timedelta(seconds=held.fill_s) if held.fill_s and not unknown else None
    ends = max(lid or over, since)
    found: dict[str, Any] = {"over": over, "half": since + (ends - since) / 2, "unknown": unknown}
    if lid is not None:
        found["lid"] = ends
    passed = [stage for stage in ("half", "lid", "over") if stage in found and found[stage] <= now]
    return {**found, "stage": passed[-1] if passed else "early"}


def began(query: QueryDict) -> datetime | None:
    """When the two parts met, by the walk at the scale."""
    try:
        since = parse_datetime(query.get("t0", ""))
    except ValueError:
        return None
    if since is None or timezone.is_naive(since) or not FIRST_YEAR <= since.year <= LAST_YEAR:
        return None
    return since
