"""How castings came out of their moulds: what is tapped, what was left in the cup, and one that wants more resin."""

from datetime import datetime

from studio.demo.lumps import maker
from studio.demo.shop import Job, Shop
from studio.demo.story import GRAM
from studio.work import operations as work
from studio.work.models import Outcome, Pour, PourFill, StepCode
from studio.work.queries.outcomes import weighed_out

What = Outcome.What
# Of so many castings one each is not what it should be.
FAULTS = {5: (What.VOID, "a thumb's width, near the rim"), 11: (What.CLOUDY, "")}
EVERY = 13
# So many working days before the story ends the cup is weighed too, and this share of what stayed behind lay in it.
CUP_DAYS, IN_THE_CUP = 30, 60
HOLLOW = "a hollow at the foot: more resin on it"


def look_at(shop: Shop, pour: Pour, jobs: list[Job], at: datetime) -> None:
    """Will tap how each casting looks, and of the last pours weigh the cup."""
    person = maker(shop)
    fills = {fill.casting_id: fill for fill in pour.fills.all()}
    for job in jobs:
        what, words = FAULTS.get(shop.count("castings") % EVERY, (What.GOOD, ""))
        job.row.refresh_from_db(fields=["closed_at"])
        if job.row.closed_at is None:
            work.note_outcome(fill=fills[job.row.pk], what=what, words=words, at=at, by=person)
    if shop.left < CUP_DAYS:
        stayed = weighed_out(pour).stayed_mg
        if stayed and stayed > 0:
            work.note_cup(pour=pour, cup_mg=stayed * IN_THE_CUP // 100 // GRAM * GRAM)
    if shop.left == 1:
        _wants_more(shop, [job for job in jobs if job in shop.bench.to_turn and not job.waits_for], fills, at)


def _wants_more(shop: Shop, jobs: list[Job], fills: dict[int, PourFill], at: datetime) -> None:
    """One of the last isn't full: it is to be poured onto while more still bonds by itself."""
    for job in jobs[:1]:
        work.note_outcome(fill=fills[job.row.pk], what=What.VOID, words=HOLLOW, at=at, by=maker(shop))
        work.repeat_step(workpiece=job.row, code=StepCode.CAST)
        shop.bench.to_turn.remove(job)
