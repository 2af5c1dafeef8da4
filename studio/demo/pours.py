"""The mixing bench and the pots."""

from datetime import datetime, timedelta

from studio.demo.books import buy
from studio.demo.came_out import look_at
from studio.demo.losses import breaks
from studio.demo.lumps import maker
from studio.demo.shop import Job, Shop, minutes
from studio.demo.story import GRAM, PSI_PA
from studio.equipment import operations as equipment
from studio.equipment.models import Purpose
from studio.stores import operations as stores
from studio.work import operations as work
from studio.work.models import Pour, PourFill, StepCode
from studio.work.queries import FillWanted, PourPlan, plan_pour

GAUGE_PA = 60 * PSI_PA
# From the lid shut to the gauge at pressure.
FILLS_IN = {"small": timedelta(seconds=55), "large": timedelta(seconds=160)}
POUR_DAYS = (1, 3)
MOST_MOULDS = 3
# By so many parts of a hundred a mould takes more or less than was reckoned, from pour to pour; the rest of the mix,
# a little at least, stays in the cup, on the stick and on the floor.
MORE_OR_LESS, STAYS_BEHIND = (2, -3, 4, 0, -2, 5, 1), 2
# So many days before the story ends ticks are made at the moulds.
TICKED_DAYS = 21
SCREW = "in the foot, 15 mm deep"
COLOURS = {"bogoak": ("slate", "ice"), "pine": ("deep", "ice"), "juniper": ("kelp", "deep")}


def open_pots(shop: Shop) -> None:
    """Will let the air off what has stood over night."""
    for key in ("small", "large"):
        load = shop.loads.get(key)
        if load is not None and load.started_at.date() < shop.day:
            at, person = shop.at(8, 10), maker(shop)
            work.unload(load=load, at=at, by=person, hands_on_s=300, confirm=True, air_off=True, now=at)
            shop.worked(person, 300)
            del shop.loads[key]


def take_out_of_moulds(shop: Shop) -> None:
    for pour, jobs in list(shop.bench.in_mould):
        at = shop.at(8, 20)
        if pour.demould_not_before is None or at < pour.demould_not_before:
            continue
        fills = {fill.casting_id: fill for fill in pour.fills.all()}
        for nth, job in enumerate(jobs):
            job.mass_mg = (job.mass_mg + _took(pour, fills[job.row.pk], nth)) // GRAM * GRAM
        work.demould(pour=pour, at=at, by=maker(shop), weights={job.row.pk: job.mass_mg for job in jobs})
        shop.bench.in_mould.remove((pour, jobs))
        for job in jobs:
            if not breaks(shop, job, StepCode.CAST, at + minutes(20)):
                job.ready = pour.full_cure_at
                shop.bench.to_turn.append(job)
        look_at(shop, pour, jobs, at + minutes(25))


def _took(pour: Pour, fill: PourFill, nth: int) -> int:
    """What a mould really took, colour left out."""
    more = MORE_OR_LESS[(pour.at.toordinal() // 3 + nth) % len(MORE_OR_LESS)]
    reckoned = fill.reckoned_mg or fill.planned_mg
    return min(reckoned * (100 + more) // 100, fill.share_mg * (100 - STAYS_BEHIND) // 100)


def mix_and_pour(shop: Shop) -> None:
    """Will fill one to three moulds with one colour, on the two days of the week that are for it."""
    at = shop.at(11, 20) if shop.left == 0 else shop.at(13, 40)
    there = [job for job in shop.bench.to_cast if cured(job, at) and job.waits_for != "the last pour"]
    ordered = [job for job in there if job.waits_for]
    waiting = ordered + [job for job in there if not job.waits_for]
    if shop.left == 0:
        _last_pours(shop, there, at)
    elif shop.left == 2:
        _pour(shop, waiting[:2], "large", at)
    elif shop.left > 11 and (shop.day.weekday() in POUR_DAYS or ordered):
        chosen = waiting[:MOST_MOULDS]
        _pour(shop, chosen, "small" if len(chosen) == 1 else "large", at)


def _last_pours(shop: Shop, there: list[Job], at: datetime) -> None:
    """So that both pots stand under pressure when the story stops, and something is left to be cast."""
    cones = [job for job in shop.bench.to_cast if job.waits_for == "the last pour"]
    _pour(shop, cones[:1], "small", at)
    _pour(shop, there[:1] if len(there) > 1 else [], "large", at)
    _weigh_again(shop, shop.bench.to_cast, at)
    for job in shop.bench.to_cast[:1]:
        _tick(shop, job, ("released", "sealed", "held"), at)


def _pour(shop: Shop, jobs: list[Job], pot: str, at: datetime) -> None:
    if not jobs or pot in shop.loads:
        return
    person = maker(shop)
    _weigh_again(shop, jobs, at - minutes(20))
    colour = shop.rng.choice(COLOURS.get(jobs[0].species, tuple(shop.story.shop["colours"])))
    plan = _plan(shop, jobs, colour, at)
    if shop.left < TICKED_DAYS:
        for job in jobs:
            _tick(shop, job, ("released", "sealed", "held", "level"), at - minutes(10))
    shop.loads[pot] = work.load_up(
        machine=shop.machines[pot],
        workpieces=[job.row for job in jobs],
        purpose=Purpose.PRESSURE,
        gauge_pa=GAUGE_PA,
        at=at,
        by=person,
        now=at,
    )
    up = at + FILLS_IN[pot]
    equipment.read_gauge(load=shop.loads[pot], gauge_pa=GAUGE_PA, at=up, by=person, now=up)
    over = GRAM * 4 if shop.count("pours") == 9 else 0
    poured = work.pour(
        system=shop.resin,
        fills=[
            work.Fill(
                planned_mg=fill.planned_mg,
                blanks=list(fill.wanted.blanks),
                mould=fill.wanted.mould,
                wood_mg=fill.wood_mg,
                wood_mm3=fill.wood_mm3,
                reckoned_mg=fill.reckoned_mg,
            )
            for fill in plan.fills
        ],
        planned_a_mg=plan.a_mg,
        planned_b_mg=plan.b_mg,
        poured_a_mg=plan.a_mg + over,
        poured_b_mg=plan.b_mg + over,
        colorants=[work.ColourIn(shop.materials[colour], plan.colorant_mg)],
        colour_words=shop.story.shop["colours"][colour]["words"],
        load=shop.loads[pot],
        wood_sure=True,
        at=at,
        by=person,
        now=at,
    )
    _clear_up(shop, jobs, poured, colour, at)


def _tick(shop: Shop, job: Job, done: tuple[str, ...], at: datetime) -> None:
    """At the mould, before anything is mixed; wide pieces are held by a screw."""
    screwed = "held" in done and job.form.mould == "dish"
    for what in done:
        work.tick_ready(
            mould=shop.moulds[job.form.mould], blanks=[job.row], what=what, done=True, at=at, now=at,
            by=maker(shop), screw_words=SCREW if what == "held" and screwed else None,
        )  # fmt: skip


def _weigh_again(shop: Shop, jobs: list[Job], at: datetime) -> None:
    """Out of their bags and once more onto the scale: they drank nothing."""
    for job in jobs:
        if not job.resin_mg:
            work.weigh(
                workpiece=job.row, mass_mg=job.mass_mg, at=at, condition="oven_dry", by=maker(shop), now=at, sure=True
            )


def _clear_up(shop: Shop, jobs: list[Job], poured: Pour, colour: str, at: datetime) -> None:
    shares = {fill.casting_id: fill.share_mg for fill in poured.fills.all()}
    person = poured.by or shop.owner
    for job in jobs:
        job.resin_mg += shares[job.row.pk]
        job.colour = colour
        shop.bench.to_cast.remove(job)
    shop.bench.in_mould.append((poured, jobs))
    seconds = (30 + 20 * len(jobs)) * 60
    work.add_hours(
        person=person,
        workpieces=[job.row for job in jobs],
        code=StepCode.CAST,
        seconds=seconds,
        at=at,
        by=person,
        now=at,
    )
    shop.worked(person, seconds)
    stores.use_in_shop(material=shop.materials["gloves"], amount=2000 * len(jobs), at=at, by=person, now=at)


def _plan(shop: Shop, jobs: list[Job], colour: str, at: datetime) -> PourPlan:
    """What the moulds take; what the stores are short of is fetched first."""
    wanted = [FillWanted(mould=shop.moulds[job.form.mould], blanks=[job.row]) for job in jobs]
    ppm = shop.story.shop["colours"][colour]["ppm"]

    def planned() -> PourPlan:
        return plan_pour(shop.resin, wanted, at=at, colorant=shop.materials[colour], colorant_ppm=ppm)

    plan = planned()
    short = [key for key in ("a", "b", colour) for holding in plan.stores
             if holding.short and holding.material.pk == shop.materials[key].pk]  # fmt: skip
    for key in short:
        buy(shop, key, at - timedelta(hours=2))
    plan = planned() if short else plan
    if plan.refusals:
        raise AssertionError(" ".join(plan.refusals))
    return plan


def cured(job: Job, at: datetime) -> bool:
    return job.ready is None or job.ready <= at
