"""The finish bench in the story's last days: two finishes written down, and work midway on them."""

from collections.abc import Sequence
from datetime import datetime

from studio.demo.books import buy
from studio.demo.lumps import maker
from studio.demo.pours import cured
from studio.demo.shop import Job, Shop, minutes
from studio.demo.story import DAY_S, GRAM, HOUR_S, MM
from studio.stores.errors import StoresRunShort
from studio.work import operations as work
from studio.work.models import FinishLine, FinishRun, FinishSchedule, LineKind

# So many working days before the last one: written down, put on and sanded, a first coat, a second one.
WRITTEN, PUT_ON, FIRST_COAT, SECOND_COAT = 20, 3, 2, 1
TOGETHER = 3
OILED, WAXED = "Three thin coats", "Waxed and buffed"
OIL_MGM2, WAX_MGM2 = 45 * GRAM, 12 * GRAM


def at_the_finish_bench(shop: Shop) -> None:
    """Will bring the finish bench to where the demo shows it: a coat due, another not yet, rags lying about."""
    if shop.left == WRITTEN:
        _write_down(shop)
    elif shop.left == PUT_ON:
        _put_on(shop, OILED, TOGETHER)
    elif shop.left == FIRST_COAT:
        _coat(shop, _waiting(), shop.at(15, 40))
        work.rags_in_the_tin(at=shop.at(16, 30), by=shop.owner)
    elif shop.left == SECOND_COAT:
        _coat(shop, _waiting()[1:], shop.at(15, 50))
        _put_on(shop, WAXED, 1)


def _write_down(shop: Shop) -> None:
    at = shop.at(8, 40)
    if FinishSchedule.objects.exists():
        return
    oil, wax = shop.materials["oil"], shop.materials["wax"]
    coat = work.LineSpec(
        LineKind.COAT, material=oil, spread_mgm2=OIL_MGM2, wait_s=20 * HOUR_S, latest_s=6 * DAY_S, oily=True
    )
    last = work.LineSpec(LineKind.COAT, material=oil, spread_mgm2=OIL_MGM2, wait_s=DAY_S, oily=True)
    sanded = [work.LineSpec(LineKind.SAND, grit=grit) for grit in (180, 320)]
    cure = work.LineSpec(LineKind.CURE, wait_s=10 * DAY_S)
    work.keep_schedule(name=OILED, lines=[*sanded, coat, coat, last, cure], at=at, by=shop.owner)
    rubbed = work.LineSpec(LineKind.COAT, material=wax, spread_mgm2=WAX_MGM2, wait_s=HOUR_S, not_on_resin=True)
    lines = [sanded[1], rubbed, work.LineSpec(LineKind.BUFF, wait_s=DAY_S)]
    work.keep_schedule(name=WAXED, lines=lines, at=at, by=shop.owner)


def _put_on(shop: Shop, name: str, many: int) -> None:
    """Those that wait for their coats go on this finish instead, measured, and are sanded."""
    at, person = shop.at(15, 10), maker(shop)
    schedule = FinishSchedule.objects.filter(name=name, ended_at=None).first()
    dry = [job for job in shop.bench.to_finish if cured(job, at) and job.row.made_at <= at]
    ready = [job for job in dry if not (job.cast and many == 1)][:many]
    if schedule is None or not ready:
        return
    for job in ready:
        shop.bench.to_finish.remove(job)
        _measured(job)
    runs = work.put_on_finish(schedule=schedule, workpieces=[job.row for job in ready], at=at, by=person, now=at)
    for nth, line in enumerate(schedule.lines.filter(kind=LineKind.SAND).order_by("position")):
        done = at + minutes(12 * (nth + 1))
        work.do_lines(runs=runs, line=line, at=done, by=person, now=done)


def _measured(job: Job) -> None:
    """The turned piece is measured where that wasn't done: a coat is reckoned from it."""
    size = job.form.size_mm
    across = size.get("diameter") or size.get("length") or size["height"]
    work.describe(
        workpiece=job.row, length_um=across * MM, width_um=(size.get("width") or across) * MM,
        height_um=size["height"] * MM, form=job.form.name,
    )  # fmt: skip


def _waiting() -> list[FinishRun]:
    """What has a coat of oil to come, in shop order."""
    return list(
        FinishRun.objects.filter(ended_at=None, schedule__name=OILED)
        .select_related("workpiece", "schedule")
        .order_by("workpiece__sort_key")
    )


def _coat(shop: Shop, runs: Sequence[FinishRun], at: datetime) -> None:
    person = maker(shop)
    for run in runs:
        line = _next_coat(run)
        try:
            work.do_line(run=run, line=line, at=at, by=person, now=at)
        except StoresRunShort:
            buy(shop, "oil", at - minutes(30))
            work.do_line(run=run, line=line, at=at, by=person, now=at)


def _next_coat(run: FinishRun) -> FinishLine:
    tapped = run.done.filter(taken_back_at=None).values("line")
    line = (
        run.schedule.lines.select_related("material__commodity").exclude(pk__in=tapped).order_by("position").first()
    )
    assert line is not None
    return line
