"""What the gauge of a running load shows, one tap each."""

from datetime import datetime

from django.db import transaction

from studio.equipment.errors import LoadRefused, NeedsConfirm
from studio.equipment.figures import MACHINE_BOUNDS
from studio.equipment.models import GaugeReading, Load, MachineKind
from studio.equipment.operations.loads import running
from studio.equipment.pot_check import has_reached
from studio.equipment.times import moment_words, refuse_future
from studio.fields.writing import show
from studio.people.models import User
from studio.people.roles import require

# The widest gauge anybody reads here.
MOST_PA = MACHINE_BOUNDS["certified_pa"].high


def read_gauge(
    *, load: Load, gauge_pa: int, at: datetime, by: User, confirm: bool = False, now: datetime | None = None
) -> GaugeReading:
    """Will keep what a running pot's gauge showed. The same at the same moment is kept once.

    A fall since the reading before is asked about (`confirm=True` keeps it): air leaks, or the number is a slip.
    A reading above plate or valve is kept, not refused: it is so, and the screen says to let air off.
    Raises `AlreadyEnded`, `LoadRefused` for a machine that is no pot, nonsense, or a time before the lid was shut or
    before the last reading.
    """
    require(by, "bench")
    refuse_future(at, now)
    if type(gauge_pa) is not int or not 0 <= gauge_pa <= MOST_PA:
        raise LoadRefused(
            f"Give what the gauge shows, from nothing to {show(MOST_PA, 'pressure')}.", field="gauge_pa"
        )
    with transaction.atomic():
        held = running(load)
        if held.machine.kind != MachineKind.PRESSURE_POT:
            raise LoadRefused(f"{held.machine} is no pressure pot: it has no such gauge.", field="gauge_pa")
        if at < held.started_at:
            raise LoadRefused(
                f"The lid was shut on {moment_words(held.started_at)}. Give that time or a later one.", field="at"
            )
        before = held.readings.last()
        if before is not None and before.at == at and before.gauge_pa == gauge_pa:
            return before
        if before is not None and at < before.at:
            raise LoadRefused(
                f"It was read on {moment_words(before.at)} already. Give a later time.", field="at", code="earlier"
            )
        if before is not None and not has_reached(gauge_pa, before.gauge_pa) and not confirm:
            raise NeedsConfirm(
                f"It fell from {show(before.gauge_pa, 'pressure')} to {show(gauge_pa, 'pressure')} since "
                f"{moment_words(before.at)}. Is that what the gauge shows? Then air gets out: listen at the lid, "
                "the valve and the hose, and stand clear of the lid.",
                codes=("fell",),
                field="gauge_pa",
            )
        return GaugeReading.objects.create(load=held, gauge_pa=gauge_pa, at=at, by=by)
