"""What machines want every so often: their diaries, and what was done."""

from datetime import datetime, timedelta

from django.db import transaction

from studio.equipment import figures as rules
from studio.equipment.errors import UpkeepRefused
from studio.equipment.models import NAME_LENGTH, WHY_LENGTH, Machine, Upkeep, UpkeepDone
from studio.equipment.times import moment_words, refuse_future
from studio.equipment.upkeep_usual import DAY_S, HOUR_S, USUAL
from studio.people.models import User
from studio.people.roles import require

LONGEST_S, MOST_RUN_S = 20 * 366 * DAY_S, 100_000 * HOUR_S
# What was done before the machine stood in these books is told in words.
BEFORE = timedelta(days=10 * 366)


def usual_lines(machine: Machine, at: datetime) -> list[Upkeep]:
    """Build what a machine of its kind usually wants (*common practice, no source*), not stored yet."""
    return [
        Upkeep(machine=machine, what=what, every_s=every, run_s=run, began_at=at)
        for what, every, run in USUAL.get(machine.kind, ())
    ]


def begin_diary(*, machine: Machine, by: User, at: datetime) -> list[Upkeep]:
    """Will note what a machine of its kind usually wants, as far as its diary doesn't hold it yet."""
    require(by, "equipment")
    with transaction.atomic():
        held = _in_use(machine)
        there = set(Upkeep.objects.filter(machine=held, dropped=False).values_list("what", flat=True))
        new = [line for line in usual_lines(held, at) if line.what not in there]
        if not new:
            why = "holds all of it already" if there else f"has no usual list: {held.get_kind_display()}"
            raise UpkeepRefused(f"The diary of {held} {why}. Write down what it wants yourself.")
        return Upkeep.objects.bulk_create(new)


def add_upkeep(
    *, machine: Machine, what: str, by: User, at: datetime, every_s: int | None = None, run_s: int | None = None
) -> Upkeep:
    """Will note something this machine wants, every so many seconds of the calendar, of running, or both."""
    require(by, "equipment")
    _intervals(every_s, run_s)
    with transaction.atomic():
        held = _in_use(machine)
        said = _free(held, what)
        return Upkeep.objects.create(machine=held, what=said, every_s=every_s, run_s=run_s, ours=True, began_at=at)


def change_upkeep(
    *, upkeep: Upkeep, what: str, by: User, every_s: int | None = None, run_s: int | None = None
) -> Upkeep:
    """Will set what is wanted and how often; from then on it is the studio's own figure."""
    require(by, "equipment")
    _intervals(every_s, run_s)
    with transaction.atomic():
        held = _held(upkeep)
        held.what = _free(held.machine, what, besides=held)
        held.every_s, held.run_s, held.ours = every_s, run_s, True
        held.save(update_fields=["what", "every_s", "run_s", "ours"])
    return held


def drop_upkeep(*, upkeep: Upkeep, by: User) -> Upkeep:
    """Will ask for it no more; what was done of it stays in the diary."""
    require(by, "equipment")
    with transaction.atomic():
        held = _held(upkeep)
        held.dropped = True
        held.save(update_fields=["dropped"])
    return held


def upkeep_done(
    *, upkeep: Upkeep, at: datetime, by: User, words: str = "", now: datetime | None = None
) -> UpkeepDone:
    """Will note that it was done, and what was found. Its clock runs from `at` again, or from a later time noted
    before."""
    require(by, "bench")
    refuse_future(at, now)
    said = rules.words(words, "words", UpkeepRefused, most=WHY_LENGTH)
    with transaction.atomic():
        held = _held(upkeep)
        if at < held.machine.added_at - BEFORE:
            raise UpkeepRefused(f"{moment_words(at)} is too long ago. Give the day again.", field="at")
        if held.done.filter(at=at).exists():
            raise UpkeepRefused(f"That is noted already: {held.what}, {moment_words(at)}.", field="at")
        return UpkeepDone.objects.create(upkeep=held, at=at, by=by, words=said)


def take_back_done(*, done: UpkeepDone, by: User) -> None:
    """Will take back what was noted by mistake: the clock runs from the time before."""
    require(by, "bench")
    with transaction.atomic():
        _held(done.upkeep, dropped=True)
        if not UpkeepDone.objects.filter(pk=done.pk).delete()[0]:
            raise UpkeepRefused("It was taken back already.")


def _in_use(machine: Machine) -> Machine:
    held = Machine.objects.select_for_update().get(pk=machine.pk)
    if held.retired_on is not None:
        raise UpkeepRefused(f"{held} is out of use. Bring it back first.")
    return held


def _held(upkeep: Upkeep, *, dropped: bool = False) -> Upkeep:
    held = Upkeep.objects.select_for_update().select_related("machine").get(pk=upkeep.pk)
    if held.dropped and not dropped:
        raise UpkeepRefused(f"“{held.what}” isn’t asked for any more. Write it into the diary again first.")
    return held


def _intervals(every_s: int | None, run_s: int | None) -> None:
    if every_s is None and run_s is None:
        raise UpkeepRefused("Say how often: days, hours it has run, or both.", field="every_s")
    for value, low, high, field, says in (
        (every_s, DAY_S, LONGEST_S, "every_s", "Give days between one and twenty years."),
        (run_s, HOUR_S, MOST_RUN_S, "run_s", "Give hours it has run, between 1 and 100,000."),
    ):
        if value is not None and (type(value) is not int or not low <= value <= high):
            raise UpkeepRefused(says, field=field)


def _free(machine: Machine, text: str, besides: Upkeep | None = None) -> str:
    said = " ".join(rules.words(text, "what", UpkeepRefused, most=NAME_LENGTH).split())
    if not said:
        raise UpkeepRefused("Say what it wants, such as “grease the bearings”.", field="what")
    rows = Upkeep.objects.filter(machine=machine, dropped=False, what=said)
    if (rows.exclude(pk=besides.pk) if besides else rows).exists():
        raise UpkeepRefused(f"The diary of {machine} asks for that already. Change that line.", field="what")
    return said
