"""The oven and the bath: water out, resin in, and what the scale shows on the way."""

import math
from datetime import datetime

from studio.craft import moisture
from studio.demo.books import fill_the_bath
from studio.demo.losses import breaks
from studio.demo.lumps import maker
from studio.demo.shop import Shop, minutes
from studio.demo.story import GRAM, HOUR_S
from studio.equipment.models import Purpose
from studio.work import operations as work
from studio.work.models import StepCode, Weighing

OVEN_AT = 103_000
BAKE_AT = 93_000
# Hours in which two thirds of the water leave a blank of this size.
LETS_GO_H = 8.0
MOST_IN_OVEN = 6
ENOUGH_READINGS, ENOUGH_AGREE = 7, 3
SOAK_MOST = 4
BATH_LOW = 4_500 * GRAM
BATH_FILL = 6_000 * GRAM
DRIPS_PERCENT = 4
BATH_VESSEL = 3_400 * GRAM
# Shares of the dry weight, by how soft the wood is.
UPTAKE = {"elm": (42, 68), "birch": (50, 82), "sycamore": (38, 60)}
BURRS = (35, 55)


def oven_in_the_morning(shop: Shop) -> None:
    """Will weigh what lies in the oven, take out what is dry, and load it anew."""
    if "oven" in shop.loads:
        at = shop.at(8, 35)
        _weigh_all(shop, at)
        if _may_come_out(shop):
            _take_out(shop)
    _load(shop)


def oven_in_the_evening(shop: Shop) -> None:
    """Will weigh what has been in since yesterday once more."""
    if "oven" in shop.loads and shop.loads["oven"].started_at.date() < shop.day:
        _weigh_all(shop, shop.at(15, 40))


def _weigh_all(shop: Shop, at: datetime) -> None:
    person = maker(shop)
    for job in shop.bench.in_oven:
        assert job.in_oven is not None
        hours = (at - job.in_oven).total_seconds() / HOUR_S
        if hours < 2:
            continue
        water = (job.wet_mg - job.dry_mg) * math.exp(-hours / LETS_GO_H)
        mass = max(GRAM, round((job.dry_mg + water) / GRAM) * GRAM)
        job.seen.append(
            work.weigh(
                workpiece=job.row,
                mass_mg=mass,
                at=at,
                condition=Weighing.Condition.OVEN,
                load=shop.loads["oven"],
                by=person,
                now=at,
                sure=True,
            )
        )


def _may_come_out(shop: Shop) -> bool:
    if shop.left <= 2:
        return False
    if shop.left == 3 and (shop.day - shop.loads["oven"].started_at.date()).days > 1:
        return True
    return all(len(job.seen) >= ENOUGH_READINGS or _three_agree(job.seen) for job in shop.bench.in_oven)


def _three_agree(seen: list[Weighing]) -> bool:
    if len(seen) < ENOUGH_AGREE:
        return False
    hours = [(one.at - seen[0].at).total_seconds() / HOUR_S for one in seen]
    judged = moisture.steady(hours, [one.mass_mg / GRAM for one in seen], step_g=seen[-1].step_mg / GRAM)
    return judged.state == "steady" and judged.agreeing >= ENOUGH_AGREE


def _take_out(shop: Shop) -> None:
    at, person = shop.at(8, 50), maker(shop)
    load = shop.loads.pop("oven")
    work.unload(load=load, at=at, by=person, hands_on_s=15 * 60, now=at)
    shop.worked(person, 15 * 60)
    for job in shop.bench.in_oven:
        if breaks(shop, job, StepCode.DRY, at + minutes(5)):
            continue
        out = at + minutes(2)
        mass = round(job.dry_mg / GRAM) * GRAM
        work.weigh(
            workpiece=job.row,
            mass_mg=mass,
            at=out,
            condition=Weighing.Condition.OVEN_DRY,
            by=person,
            now=out,
            sure=True,
        )
        job.mass_mg = mass
        (shop.bench.to_soak if job.soak else shop.bench.to_cast).append(job)
    shop.bench.in_oven = []


def _load(shop: Shop) -> None:
    """Will put in what waits, as one load; in the last days also late, into the one that runs."""
    waiting = [job for job in shop.bench.to_dry if not job.late or shop.left <= 1][:MOST_IN_OVEN]
    running = "oven" in shop.loads
    if not waiting or (shop.left > 1 if running else shop.left in (2, 4, 5)):
        return
    at = shop.at(9, 5)
    person = maker(shop)
    shop.loads["oven"] = work.load_up(
        machine=shop.machines["oven"],
        workpieces=[job.row for job in waiting],
        purpose=Purpose.DRY,
        set_point_mdegc=OVEN_AT,
        at=at,
        by=person,
        confirm=True,
        now=at,
    )
    for job in waiting:
        job.in_oven = at
        shop.bench.to_dry.remove(job)
        shop.bench.in_oven.append(job)


def warm_before_casting(shop: Shop) -> None:
    """Will dry what waits to be cast once more over the last night, so that it is dry when the story ends."""
    waiting = [job for job in shop.bench.to_cast if not job.waits_for]
    if shop.left == 1 and waiting:
        at = shop.at(16, 5)
        shop.loads["bake"] = work.load_up(
            machine=shop.machines["bake"],
            workpieces=[job.row for job in waiting],
            purpose=Purpose.DRY,
            set_point_mdegc=OVEN_AT,
            at=at,
            by=shop.owner,
            now=at,
        )
    if shop.left == 0 and "bake" in shop.loads:
        at = shop.at(8, 45)
        work.unload(load=shop.loads.pop("bake"), at=at, by=shop.owner, now=at)
        for job in waiting:
            dry = Weighing.Condition.OVEN_DRY
            work.weigh(workpiece=job.row, mass_mg=job.mass_mg, at=at, condition=dry, by=shop.owner, now=at, sure=True)


def soak(shop: Shop) -> None:
    """Will go on with the bath: out and drained, baked, or a new run begun."""
    if shop.soaking is None:
        _begin_soaking(shop)
    elif shop.soaking.drained_at is None:
        _drain_and_bake(shop)


def _begin_soaking(shop: Shop) -> None:
    waiting = shop.bench.to_soak[:SOAK_MOST]
    due = shop.day.weekday() in (0, 2) and shop.left > 12
    if not waiting or not (due or shop.left == 0):
        return
    at, person = shop.at(9, 30), maker(shop)
    _fill(shop, at)
    load = work.load_up(
        machine=shop.machines["chamber"],
        workpieces=[job.row for job in waiting],
        purpose=Purpose.VACUUM,
        gauge_pa=94_000,
        at=at,
        by=person,
        now=at,
    )
    shop.loads["chamber"] = load
    dry = [(job.row, job.mass_mg) for job in waiting]
    shop.bath.account.refresh_from_db(fields=["amount"])
    shop.soaking = work.start_stabilizing(
        bath=shop.bath, dry=dry, at=at, load=load, cooled=True, bath_mg=shop.bath.account.amount + BATH_VESSEL,
        sure=True, by=person,
    )  # fmt: skip
    work.note_soak(run=shop.soaking, what="under", at=at + minutes(5), by=person)
    work.note_soak(run=shop.soaking, what="vacuum", at=at + minutes(10), gauge_pa=94_000, by=person)
    if shop.left:
        shop.soaking = work.note_soak(run=shop.soaking, what="bubbles", at=at + minutes(190), by=person)
    for job in waiting:
        shop.bench.to_soak.remove(job)
        shop.bench.soaking.append(job)


def _fill(shop: Shop, at: datetime) -> None:
    shop.bath.account.refresh_from_db(fields=["amount"])
    if shop.bath.account.amount < BATH_LOW:
        fill_the_bath(shop, BATH_FILL, at - minutes(10))


def _drain_and_bake(shop: Shop) -> None:
    """The next working day: vacuum off, drained weights, a bake of some hours, and the baked weights."""
    assert shop.soaking is not None
    at, person = shop.at(9, 15), maker(shop)
    work.unload(load=shop.loads.pop("chamber"), at=at, by=person, hands_on_s=600, now=at)
    drained, baked = {}, {}
    for job in shop.bench.soaking:
        share = shop.between(*UPTAKE.get(job.species, BURRS))
        taken = job.mass_mg * share // 100
        drained[job.row.pk] = _grams(job.mass_mg + taken * 112 // 100)
        baked[job.row.pk] = _grams(job.mass_mg + taken)
        job.resin_mg += baked[job.row.pk] - job.mass_mg
    out = at + minutes(25)
    shop.soaking = work.record_drained(run=shop.soaking, weights=drained, at=out, by=person)
    work.note_soak(run=shop.soaking, what="foil", at=out + minutes(3), by=person)
    load = work.load_up(
        machine=shop.machines["bake"],
        workpieces=[job.row for job in shop.bench.soaking],
        purpose=Purpose.BAKE,
        set_point_mdegc=BAKE_AT,
        at=out + minutes(5),
        by=person,
        now=out + minutes(5),
    )
    done = shop.at(14, 20)
    work.unload(load=load, at=done, by=person, hands_on_s=1200, now=done)
    shop.worked(person, 1800)
    weighed = done + minutes(10)
    _finish_soaking(shop, baked, weighed)
    for job in shop.bench.soaking:
        job.ready = weighed
    shop.bench.to_cast += shop.bench.soaking
    shop.bench.soaking = []
    shop.soaking = None


def _finish_soaking(shop: Shop, baked: dict[int, int], at: datetime) -> None:
    """Baked weights, the bath weighed again (some of it dripped), and the skin brushed off."""
    assert shop.soaking is not None
    person = maker(shop)
    kept = sum(baked.values()) - sum(job.mass_mg for job in shop.bench.soaking)
    dripped = _grams(kept * DRIPS_PERCENT // 100)
    after = (shop.soaking.bath_before_mg or 0) - kept - dripped
    done = work.finish_stabilizing(run=shop.soaking, baked=baked, at=at, bath_after_mg=after, by=person, now=at)
    work.brush_skin(run=done, at=at + minutes(5), by=person)


def _grams(mg: int) -> int:
    return round(mg / GRAM) * GRAM
