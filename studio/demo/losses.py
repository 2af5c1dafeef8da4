"""What breaks, and what is saved of it."""

from datetime import datetime

from studio.demo.shop import Job, Shop, minutes
from studio.demo.story import GRAM, MONEY
from studio.work import operations as work
from studio.work.models import Loss, StepCode

LIKE_NEW = 24 * MONEY
TURNED_ON = (StepCode.TURN, StepCode.SAND, StepCode.FINISH)


def breaks(shop: Shop, job: Job, step: str, at: datetime) -> bool:
    """Whether this blank breaks at this step; if so it is booked, and what can be saved becomes a blank."""
    if job.waits_for or job.second_half:
        return False
    fate = shop.fate(step)
    if fate is None:
        return False
    person = shop.users["tam" if len(shop.fates) % 2 else "ines"]
    loss = work.it_broke(workpiece=job.row, cause=fate.cause, step=step, words=fate.words, at=at, by=person, now=at)
    shop.count("lost")
    if fate.saved and job.mass_mg:
        _save(shop, job, loss, at + minutes(15))
    elif shop.calendar.last.date() > shop.day and not shop.before_end(60):
        work.look_after_loss(loss=loss)
    return True


def _save(shop: Shop, job: Job, loss: Loss, at: datetime) -> None:
    """Half of a casting is still a good salt jar."""
    was = job.mass_mg - job.resin_mg
    kept_wood, kept_resin = _part(was), _part(job.resin_mg)
    row = work.salvage(
        loss=loss,
        kept_wood_mg=kept_wood,
        wood_was_mg=was,
        kept_resin_mg=kept_resin,
        resin_was_mg=job.resin_mg,
        like_blank_micro=LIKE_NEW,
        at=at,
        by=shop.owner,
        now=at,
    )
    form = shop.story.forms["salt jar"]
    work.describe(workpiece=row, form=form.name)
    work.plan_steps(workpiece=row, codes=TURNED_ON)
    saved = Job(row, form, job.species, 0, 0, job.lump, job.kind, colour=job.colour, ready=at)
    saved.mass_mg, saved.resin_mg = kept_wood + kept_resin, kept_resin
    saved.turn_min = shop.between(*form.turn_min)
    shop.bench.to_turn.append(saved)


def _part(mg: int) -> int:
    return mg * 45 // 100 // GRAM * GRAM
