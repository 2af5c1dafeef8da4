"""Rough turning, turning, sanding, and the coats of the finish."""

from datetime import datetime, timedelta

from studio.demo.books import use
from studio.demo.losses import breaks
from studio.demo.lumps import maker
from studio.demo.machines_kept import hold
from studio.demo.pours import cured
from studio.demo.shop import Job, Shop, minutes
from studio.demo.story import GRAM
from studio.people.models import User
from studio.work import operations as work
from studio.work.models import StepCode, Weighing

RESTS = timedelta(days=75)
BETWEEN_COATS = timedelta(hours=20)
LONGEST_MIN = 150
# How many are kept back at the lathe and at the finish when the story nears its end, so that some wait there.
KEPT, KEPT_IN_FINISH = 2, 3
# Nobody stands at the lathe every half day, unless much waits for it.
AT_THE_LATHE, MANY_READY = 0.4, 4
JAR_HALF_MIN = 130


def rough(shop: Shop) -> None:
    """Will rough one plain blank and put it away to rest."""
    if not shop.bench.to_rough or shop.left == 0:
        return
    job = shop.bench.to_rough[0]
    person = shop.users["tam"]
    hold(shop, job, person, StepCode.ROUGH, shop.at(13, 5))
    _by_the_clock(shop, job, person, StepCode.ROUGH, shop.at(13, 5), shop.between(18, 30))
    at = shop.at(13, 45)
    work.end_step(workpiece=job.row, code=StepCode.ROUGH, at=at, person=person)
    job.mass_mg = job.wet_mg * 46 // 100 // GRAM * GRAM
    work.weigh(
        workpiece=job.row, mass_mg=job.mass_mg, at=at, condition=Weighing.Condition.SEASON, by=person, now=at,
        sure=True,
    )  # fmt: skip
    shop.bench.to_rough.remove(job)
    if breaks(shop, job, StepCode.REST, at + minutes(4)):
        return
    job.ready = at + RESTS
    work.begin_step(workpiece=job.row, code=StepCode.REST, at=at, person=person)
    work.end_step(workpiece=job.row, code=StepCode.REST, at=at, person=person, not_before=job.ready)
    shop.bench.to_turn.append(job)


def turn(shop: Shop, who: str, hour: int, minute: int) -> None:
    """Will spend half a day at one piece: the clock runs, and either it is turned or goes on another day."""
    at = shop.at(hour, minute)
    ready = [job for job in shop.bench.to_turn if cured(job, at) and job.waits_for != "in_work"]
    if not ready or (shop.before_end(14) and len(ready) <= KEPT):
        return
    if len(ready) <= MANY_READY and not shop.chance(AT_THE_LATHE):
        return
    ordered = [job for job in ready if job.waits_for or job.second_half]
    job, person = (ordered or ready)[0], shop.users[who]
    left = job.turn_min
    now_min = left if left <= LONGEST_MIN else left * 3 // 5
    shop.at(hour + (minute + now_min + 20) // 60, (minute + now_min + 20) % 60)
    hold(shop, job, person, StepCode.TURN, at)
    stopped = _by_the_clock(shop, job, person, StepCode.TURN, at, now_min)
    if now_min < left:
        job.turn_min, job.second_half = left - now_min, True
        return
    job.second_half = False
    shop.bench.to_turn.remove(job)
    if breaks(shop, job, StepCode.TURN, stopped + minutes(2)):
        return
    work.end_step(workpiece=job.row, code=StepCode.TURN, at=stopped, person=person)
    job.mass_mg = max(GRAM, job.mass_mg * shop.between(28, 38) // 100 // GRAM * GRAM)
    if job.form.fitting:
        use(shop, [job], job.form.fitting, 1000, step=StepCode.TURN, at=stopped, by=person)
    shop.bench.to_sand.append(job)


def _by_the_clock(shop: Shop, job: Job, person: User, code: str, at: datetime, count: int) -> datetime:
    run = work.start_clock(person=person, workpieces=[job.row], code=code, at=at)
    stopped = at + minutes(count) + timedelta(seconds=shop.between(0, 59))
    work.stop_clock(run=run, at=stopped, by=person, now=stopped)
    shop.worked(person, int((stopped - at).total_seconds()))
    return stopped


def half_the_jar(shop: Shop, job: Job) -> None:
    """The ordered jar is begun and not ready: two hours and ten minutes of it are done."""
    hold(shop, job, shop.owner, StepCode.TURN, shop.at(9, 40))
    _by_the_clock(shop, job, shop.owner, StepCode.TURN, shop.at(9, 40), JAR_HALF_MIN)


def sand(shop: Shop) -> None:
    """Will sand what was turned before today; two cups of one lump become a pair."""
    for job in list(shop.bench.to_sand):
        at, person = shop.at(14, 50), maker(shop)
        turned = job.row.steps.filter(code=StepCode.TURN).order_by("-attempt").first()
        if turned is None or turned.stopped_at is None or turned.stopped_at.date() >= shop.day:
            continue
        shop.bench.to_sand.remove(job)
        seconds = shop.between(18, 45) * 60
        work.add_hours(
            person=person, workpieces=[job.row], code=StepCode.SAND, seconds=seconds, at=at, by=person, now=at
        )
        shop.worked(person, seconds)
        use(shop, [job], "discs", shop.between(2, 5) * 1000, step=StepCode.SAND, at=at, by=person)
        if breaks(shop, job, StepCode.SAND, at + minutes(10)):
            continue
        work.end_step(workpiece=job.row, code=StepCode.SAND, at=at, person=person)
        if job.form.name == "ferry cup":
            shop.bench.to_join.append(job)
        else:
            _to_finish(shop, job)


def _to_finish(shop: Shop, job: Job) -> None:
    job.coats_left, job.ready = job.form.coats, None
    shop.bench.to_finish.append(job)


def pair_up(shop: Shop) -> None:
    """Will join two sanded cups of one lump; one that is alone becomes a single cup."""
    waiting: dict[int, list[Job]] = {}
    for job in shop.bench.to_join:
        waiting.setdefault(job.lump, []).append(job)
    for lump, jobs in waiting.items():
        at = shop.at(15, 20)
        if len(jobs) >= 2:
            _join(shop, jobs[:2], at)
        elif not _sister_comes(shop, lump):
            shop.bench.to_join.remove(jobs[0])
            _to_finish(shop, jobs[0])


def _sister_comes(shop: Shop, lump: int) -> bool:
    ahead = [*shop.bench.to_rough, *shop.bench.to_turn, *shop.bench.to_sand]
    return any(job.lump == lump and job.form.name == "ferry cup" for job in ahead)


def _join(shop: Shop, cups: list[Job], at: datetime) -> None:
    form = shop.story.forms["ferry cup pair"]
    for job in cups:
        shop.bench.to_join.remove(job)
    row = work.join(
        parts=[job.row for job in cups],
        title="",
        form=form.name,
        route=[StepCode.FINISH],
        at=at,
        by=shop.owner,
        now=at,
    )
    first = cups[0]
    pair = Job(row, form, first.species, 0, 0, first.lump)
    pair.mass_mg = sum(job.mass_mg for job in cups)
    shop.marks[f"cups {row.pk}"] = [job.row for job in cups]
    _to_finish(shop, pair)


def coats(shop: Shop) -> None:
    """Will put one coat on all that is dry, in one go. Near the end the last coats wait."""
    if not shop.bench.to_finish:
        return
    at, person = shop.at(16, 0), maker(shop)
    dry = [job for job in shop.bench.to_finish if cured(job, at)]
    if shop.before_end(8):
        last = [job for job in dry if job.coats_left == 1]
        dry = [job for job in dry if job.coats_left > 1] + last[: max(0, len(last) - KEPT_IN_FINISH)]
    if not dry:
        return
    rows = [job.row for job in dry]
    seconds = sum(shop.between(7, 13) for _ in dry) * 60
    work.add_hours(person=person, workpieces=rows, code=StepCode.FINISH, seconds=seconds, at=at, by=person, now=at)
    shop.worked(person, seconds)
    use(shop, dry, "oil", sum(shop.between(4, 9) for _ in dry) * GRAM, step=StepCode.FINISH, at=at, by=person)
    for job in dry:
        _coat_is_on(shop, job, person, at)


def _coat_is_on(shop: Shop, job: Job, person: User, at: datetime) -> None:
    job.coats_left -= 1
    job.ready = at + BETWEEN_COATS
    if job.coats_left <= 1 and breaks(shop, job, StepCode.FINISH, at + minutes(15)):
        shop.bench.to_finish.remove(job)
        return
    work.end_step(workpiece=job.row, code=StepCode.FINISH, at=at, person=person, not_before=job.ready)
    if job.coats_left:
        work.repeat_step(workpiece=job.row, code=StepCode.FINISH)
    else:
        shop.bench.to_finish.remove(job)
        shop.bench.done.append(job)
