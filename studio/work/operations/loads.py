"""Into the oven, the chamber or the pot, and out again: the machine's load and the workpiece's step together."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from studio.craft import moisture
from studio.equipment import operations as equipment
from studio.equipment.errors import NeedsConfirm
from studio.equipment.models import Load, LoadPlace, Machine, Purpose, ShareBy
from studio.fields.listing import listed
from studio.fields.models import Submission
from studio.fields.quantity import show
from studio.people import settings as answers
from studio.people.models import User
from studio.work.errors import StepTrouble
from studio.work.making import held_rows
from studio.work.models import Step, StepCode, StepState, Weighing, Workpiece
from studio.work.operations.steps import begin_step, end_step

STEP_OF: dict[str, StepCode] = {
    Purpose.SEASON: StepCode.SEASON,
    Purpose.DRY: StepCode.DRY,
    Purpose.WARM: StepCode.DRY,
    Purpose.BAKE: StepCode.STABILIZE,
    Purpose.VACUUM: StepCode.STABILIZE,
    Purpose.PRESSURE: StepCode.CAST,
    Purpose.POST_CURE: StepCode.CAST,
    Purpose.OTHER: StepCode.OTHER,
}
ENDS_WITH_THE_LOAD = (Purpose.SEASON, Purpose.DRY)
# Thick enough that the middle stays wet while the skin shrinks and checks: two inches, or, where nobody measured
# it, a kilogram. Common practice, no source.
THICK_UM = 50_000
THICK_MG = 1_000_000
STEADY_AT = 3


def load_up(
    *,
    machine: Machine,
    workpieces: Sequence[Workpiece],
    purpose: str,
    at: datetime,
    by: User,
    set_point_mdegc: int | None = None,
    gauge_pa: int | None = None,
    not_before: datetime | None = None,
    confirm: bool = False,
    why: str = "",
    now: datetime | None = None,
) -> Load:
    """Will put workpieces into a machine and begin the step it serves.

    Into a running load they are put in late and pay from then on. The hours are shared by weight where every
    one of them has been weighed, equally otherwise. Thick wood that is still wet is asked about before it goes
    into a hot oven (`confirm=True` goes ahead), together with whatever the machine itself asks.
    """
    if not workpieces:
        raise StepTrouble("Choose what goes in.", field="workpieces")
    with transaction.atomic():
        rows = held_rows(workpieces)
        running = Load.objects.running().filter(machine=machine).first()
        masses = last_masses(rows)
        share_by = running.share_by if running else _share_by(rows, masses)
        weights = [_weight(row, share_by, masses) for row in rows]
        heat = running.set_point_mdegc if running else set_point_mdegc
        asked = "" if confirm else _checks_if_hot(rows, running.purpose if running else purpose, heat, at)
        if running is None:
            try:
                running = equipment.start_load(
                    machine=machine,
                    purpose=purpose,
                    at=at,
                    by=by,
                    places=[(row.account, weight) for row, weight in zip(rows, weights, strict=True)],
                    set_point_mdegc=set_point_mdegc,
                    gauge_pa=gauge_pa,
                    share_by=share_by,
                    not_before=not_before,
                    confirm=confirm,
                    why=why,
                    now=now,
                )
            except NeedsConfirm as stop:  # one tick answers every question: all of them have to be read first
                raise NeedsConfirm(
                    f"{stop.message} {asked}".strip(), codes=stop.codes, field=stop.field
                ) from stop
        else:
            for row, weight in zip(rows, weights, strict=True):
                equipment.put_in(load=running, account=row.account, weight=weight, at=at, by=by, now=now)
        for row in rows:
            begin_step(workpiece=row, code=STEP_OF[running.purpose], at=at, person=by)
        if asked:
            raise StepTrouble(asked, field="workpieces", code="sure")
        return running


def _checks_if_hot(rows: Sequence[Workpiece], purpose: str, heat: int | None, at: datetime) -> str:
    """What to ask before these go into a drying oven at this heat, or nothing. Four queries at most."""
    if purpose != Purpose.DRY or heat is None:
        return ""
    mild = answers.value("warm_up_most_mdegc", answers.local_date(at))
    if heat <= mild:
        return ""
    wet = _still_wet(rows, at)
    numbers = [row.number for row in rows if row.pk in wet]
    if not numbers:
        return ""
    one = len(numbers) == 1
    it = "it" if one else "them"
    return (
        f"{listed(numbers)} {'is' if one else 'are'} thick, and by the last weight still wet. "
        f"At {show(heat, 'temperature')} the skin shrinks over a wet middle and checks. Season {it} first, or warm "
        f"{it} up slowly, at {show(mild, 'temperature')} or less. If {'it' if one else 'they'} may go in all the "
        "same, say so and send again."
    )


def _still_wet(rows: Sequence[Workpiece], at: datetime) -> set[int]:
    """Keys of those that are thick and were never seen dry, seasoned or warmed. Three queries."""
    seen: dict[int, list[Weighing]] = {row.pk: [] for row in rows}
    known = Weighing.objects.filter(workpiece__in=rows, struck_out=False, at__lte=at)
    for weighing in known.order_by("at", "pk"):
        seen[weighing.workpiece_id].append(weighing)
    wet = {row.pk for row in rows if _thick(row, seen[row.pk]) and _wet_by_weight(seen[row.pk])}
    if not wet:
        return wet
    over = [StepState.DONE, StepState.SKIPPED]
    seasoned = Step.objects.filter(workpiece__in=wet, code=StepCode.SEASON, state__in=over)
    wet -= set(seasoned.values_list("workpiece", flat=True))
    warmed = LoadPlace.objects.filter(
        account__workpiece__in=wet, load__purpose__in=(Purpose.WARM, Purpose.SEASON), out_at__isnull=False
    )
    return wet - set(warmed.values_list("account__workpiece", flat=True))


def _thick(row: Workpiece, seen: Sequence[Weighing]) -> bool:
    """By its least side where all three are known, else by weight; of what nobody knows the worse is taken."""
    if row.length_um and row.width_um and row.height_um:
        return min(row.length_um, row.width_um, row.height_um) >= THICK_UM
    return not seen or seen[-1].mass_mg >= THICK_MG


def _wet_by_weight(seen: Sequence[Weighing]) -> bool:
    """Whether the last weighing leaves it wet: as it came, or seasoning and not steady yet, or none at all."""
    if not seen or seen[-1].condition == Weighing.Condition.WET:
        return True
    if seen[-1].condition != Weighing.Condition.SEASON:
        return False
    series: dict[datetime, Weighing] = {one.at: one for one in seen if one.condition == Weighing.Condition.SEASON}
    if len(series) < STEADY_AT:
        return True
    hours = [(moment - seen[0].at).total_seconds() / 3600 for moment in series]
    grams = [one.mass_mg / 1000 for one in series.values()]
    judged = moisture.steady(hours, grams, step_g=seen[-1].step_mg / 1000)
    return judged.state != "steady" or judged.agreeing < STEADY_AT


def _share_by(rows: Sequence[Workpiece], masses: dict[int, int]) -> str:
    return ShareBy.MASS if all(row.pk in masses for row in rows) else ShareBy.EQUAL


def _weight(row: Workpiece, share_by: str, masses: dict[int, int]) -> int:
    """What this one's share of the hours goes by. Raises where the load is shared by what isn't known of it."""
    if share_by == ShareBy.MASS:
        if row.pk not in masses:
            raise StepTrouble(
                f"That load is shared by weight and {row.number} has never been weighed. Weigh it first.",
                field="workpieces",
            )
        return masses[row.pk]
    if share_by == ShareBy.VOLUME:
        if not (row.length_um and row.width_um and row.height_um):
            raise StepTrouble(
                f"That load is shared by volume and the size of {row.number} isn't known. Measure it first.",
                field="workpieces",
            )
        return max(1, row.length_um * row.width_um * row.height_um // 1_000_000_000)
    return 1


def last_masses(rows: Sequence[Workpiece]) -> dict[int, int]:
    """The last weight of each, in milligrams, by workpiece key; those never weighed are absent. One query."""
    masses: dict[int, int] = {}
    for weighing in Weighing.objects.filter(workpiece__in=rows, struck_out=False).order_by("at", "pk"):
        masses[weighing.workpiece_id] = weighing.mass_mg
    return masses


def unload(
    *,
    load: Load,
    at: datetime,
    by: User,
    hands_on_s: int = 0,
    still_going: bool = False,
    confirm: bool = False,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Load:
    """Will end a load, post its hours, and end the drying or seasoning of what was in it (unless `still_going`).

    A bake, a vacuum or a hold under pressure leaves its step open: three weights, or the mould, end that.
    """
    with transaction.atomic():
        inside = list(
            LoadPlace.objects.filter(load=load, out_at__isnull=True).values_list("account", flat=True)
        )
        ended = equipment.end_load(
            load=load,
            at=at,
            by=by,
            hands_on_s=hands_on_s,
            confirm=confirm,
            submission=submission,
            now=now,
        )
        if ended.purpose in ENDS_WITH_THE_LOAD and not still_going:
            for row in Workpiece.objects.on_the_bench().filter(account__in=inside):
                end_step(workpiece=row, code=STEP_OF[ended.purpose], at=at, person=by)
        return ended
