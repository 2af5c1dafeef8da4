"""The diaries of the machines, and how work was held on the lathe."""

from datetime import datetime

from studio.demo.shop import Job, Shop
from studio.demo.story import DAY_S, HOUR_S, MM
from studio.equipment import operations as equipment
from studio.equipment import upkeep
from studio.people.models import User
from studio.work.models import StepCode
from studio.work.operations.mount import mount

STEP_UM = 5 * MM
# The last time this one was done lies so many days back that it is due again when the story ends.
LEFT_DUE, LEFT_DAYS = ("large", "Try the relief valve"), 96
# In the story's last days nothing else is left to be due, so that one line stands out.
AHEAD_DAYS, LAST_AHEAD_DAYS, LAST_DAYS = 6, 4, 7


def begin_diaries(shop: Shop, at: datetime) -> None:
    """Will write down what the lathes want besides; what is usual stands in every diary from the first day."""
    for row in shop.story.shop["wants"]:
        equipment.add_upkeep(
            machine=shop.machines[row["machine"]], what=row["what"], every_s=row["days"] * DAY_S,
            run_s=row["hours"] * HOUR_S if "hours" in row else None, by=shop.owner, at=at,
        )  # fmt: skip


def look_after(shop: Shop) -> None:
    """Will do on a Monday, and in the last week on any day, what the diaries ask for by the next; one waits."""
    late = shop.before_end(LAST_DAYS)
    if shop.day.weekday() and not late:
        return
    ahead = LAST_AHEAD_DAYS if shop.day.weekday() else AHEAD_DAYS
    at, found = shop.at(8, 10), shop.story.shop["found"]
    name, what = LEFT_DUE
    spared = shop.machines[name]
    last_time = shop.before_end(LEFT_DAYS) and "left due" not in shop.marks
    if last_time:
        shop.marks["left due"] = True
    for row in upkeep.upkeep_rows(at):
        line = row.upkeep
        if (line.machine_id, line.what) == (spared.pk, what) and shop.before_end(LEFT_DAYS):
            due = last_time
        else:
            due = row.due.now or (row.due.at is not None and (row.due.at - at).days < ahead)
        if due:
            nth, words = shop.count(f"done: {line.pk}"), found.get(line.what, [""])
            person = shop.users["tam" if (nth + line.pk) % 3 else "ines"]
            equipment.upkeep_done(upkeep=line, at=at, words=words[nth % len(words)], by=person, now=at)


def hold(shop: Shop, job: Job, person: User, code: str, at: datetime) -> None:
    """Will write on the lathe card how a piece is held when it goes on the lathe, and when it is turned over."""
    held = shop.story.shop["held"].get(job.form.profile)
    if held is None:
        return
    across = max(job.form.size_mm.get(side, 0) for side in ("diameter", "length")) * MM
    known = {key: value for key, value in held.items() if key not in ("how", "held_mm", "wall_mm", "over")}
    known |= {"wall_um": held["wall_mm"] * MM, "held_um": held["held_mm"] * MM}
    how = held["how"]
    blank = -(-across * 21 // (20 * STEP_UM)) * STEP_UM  # a blank is a little wider, and measured roughly
    if code == StepCode.ROUGH:
        known |= {"across_um": blank + STEP_UM, "balance": "rough"}
    elif job.second_half:
        how, known["jaws"], known["held_um"] = "jam", "", None
        known |= {"across_um": across, "balance": "true", "note": held["over"]}
    else:
        rough = "off" if job.form.profile == "dish" else "rough"
        known |= {"across_um": blank, "balance": rough}
    mount(workpiece=job.row, how=how, at=at, by=person, now=at, **known)
