"""Into the oven, the chamber or the pot, and out again: the machine's load and the workpiece's step together."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from studio.equipment import operations as equipment
from studio.equipment.errors import NeedsConfirm
from studio.equipment.models import Load, LoadPlace, Machine, Purpose, ShareBy
from studio.fields.models import Submission
from studio.people.models import User
from studio.work.errors import StepTrouble
from studio.work.making import held_rows
from studio.work.models import StepCode, Weighing, Workpiece
from studio.work.operations.cures import cured_in_the_warm
from studio.work.operations.dry_room import wrap
from studio.work.operations.heat import heat_questions
from studio.work.operations.pots import fit_question, hold_of, refuse_in_vacuum
from studio.work.operations.steps import begin_step, end_step
from studio.work.queries.in_moulds import in_moulds

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
    one of them has been weighed, equally otherwise. What the heat may do to this wood is asked about before it goes
    in (`confirm=True` goes ahead), together with whatever the machine itself asks, and whether moulds go into a pot
    where their measures don't show it. A pot stays shut until the resin's sheet lets its castings out of their
    moulds, longer if asked. A filled mould is refused under vacuum.
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
        purpose = running.purpose if running else purpose
        poured = in_moulds(_all_in(running, rows)) if purpose in (Purpose.PRESSURE, Purpose.VACUUM) else []
        refuse_in_vacuum(poured, purpose)
        not_before = hold_of(poured, purpose, not_before, at)
        asks = () if confirm else (heat_questions(rows, purpose, heat, at), fit_question(machine, poured, purpose))
        asked = " ".join(filter(None, asks))
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
            if not_before is not None and not_before > (running.not_before or at):
                running = equipment.change_load(load=running, not_before=not_before, at=at, by=by, now=now)
            for row, weight in zip(rows, weights, strict=True):
                equipment.put_in(load=running, account=row.account, weight=weight, at=at, by=by, now=now)
        for row in rows:
            if running.purpose != Purpose.POST_CURE:  # cast it is already
                begin_step(workpiece=row, code=STEP_OF[running.purpose], at=at, person=by)
        if asked:
            raise StepTrouble(asked, field="workpieces", code="sure")
        return running


def _all_in(running: Load | None, rows: Sequence[Workpiece]) -> list[Workpiece]:
    """These, and what lies in the running load already: moulds lie side by side."""
    if running is None:
        return list(rows)
    inside = LoadPlace.objects.inside().filter(load=running).values("account")
    return [*rows, *Workpiece.objects.filter(account__in=inside)]


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


def set_load(
    *,
    load: Load,
    at: datetime,
    by: User,
    set_point_mdegc: int | None = None,
    gauge_pa: int | None = None,
    not_before: datetime | None = None,
    confirm: bool = False,
    why: str = "",
    now: datetime | None = None,
) -> Load:
    """Will set a running load anew. A hotter set-point is asked about for what lies in it, as when it is loaded."""
    with transaction.atomic():
        was = Load.objects.get(pk=load.pk).set_point_mdegc
        held = equipment.change_load(
            load=load, at=at, by=by, set_point_mdegc=set_point_mdegc, gauge_pa=gauge_pa, not_before=not_before,
            confirm=confirm, why=why, now=now,
        )  # fmt: skip
        if set_point_mdegc is not None and set_point_mdegc > (was or 0) and not confirm:
            inside = LoadPlace.objects.filter(load=load, out_at__isnull=True).values("account")
            rows = list(Workpiece.objects.filter(account__in=inside).in_shop_order())
            if asked := heat_questions(rows, held.purpose, set_point_mdegc, at):
                raise StepTrouble(asked, field="set_point_mdegc", code="sure")
        return held


def unload(
    *,
    load: Load,
    at: datetime,
    by: User,
    hands_on_s: int = 0,
    still_going: bool = False,
    bagged: bool = False,
    confirm: bool = False,
    air_off: bool = False,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Load:
    """Will end a load, post its hours, and end the drying or seasoning of what was in it (unless `still_going`).
    `bagged`: all of it went into tight bags at once.

    A bake, a vacuum or a hold under pressure leaves its step open: three weights, or the mould, end that. `air_off`:
    the gauge was seen at zero, which is kept as its last reading.
    """
    with transaction.atomic():
        inside = list(
            LoadPlace.objects.filter(load=load, out_at__isnull=True).values_list("account", flat=True)
        )
        if air_off:
            equipment.read_gauge(load=load, gauge_pa=0, at=at, by=by, confirm=True, now=now)
        ended = equipment.end_load(
            load=load,
            at=at,
            by=by,
            hands_on_s=hands_on_s,
            confirm=confirm,
            submission=submission,
            now=now,
        )
        rows = list(Workpiece.objects.on_the_bench().filter(account__in=inside))
        if bagged and rows:
            wrap(workpieces=rows, at=at, by=by, now=now or at)
        if ended.purpose in ENDS_WITH_THE_LOAD and not still_going:
            for row in rows:
                end_step(workpiece=row, code=STEP_OF[ended.purpose], at=at, person=by)
        cured_in_the_warm(load=ended, workpieces=rows, at=at)
        return ended
