"""What the scale showed."""

from datetime import datetime

from django.db import transaction

from studio.equipment.models import Load
from studio.fields.quantity import show
from studio.people.models import User
from studio.work.errors import OutOfTime
from studio.work.making import held_rows
from studio.work.models import Weighing, Workpiece

# How it is when a gain is nothing to ask about: resin went in.
HEAVIER = (Weighing.Condition.DRAINED, Weighing.Condition.BAKED, Weighing.Condition.CAST)


def weigh(
    *,
    workpiece: Workpiece,
    mass_mg: int,
    at: datetime,
    condition: str,
    step_mg: int = 1000,
    load: Load | None = None,
    by: User | None = None,
    now: datetime,
    sure: bool = False,
) -> Weighing:
    """Will note a weight. One ten times off the last, or far above it, is asked about unless `sure`."""
    if mass_mg <= 0:
        raise OutOfTime("A weight is above nothing. Type what the scale shows, in grams.", field="mass")
    if at > now:
        raise OutOfTime("That time is still to come. Leave it empty for now.", field="at")
    with transaction.atomic():
        (row,) = held_rows([workpiece])
        if at < row.made_at:
            raise OutOfTime(
                f"{row.number} came into being after that. Give the time it was weighed.", field="at"
            )
        last = (
            Weighing.objects.filter(workpiece=row, struck_out=False, at__lte=at).order_by("-at", "-pk").first()
        )
        if last and not sure:
            _ask_if_odd(last.mass_mg, mass_mg, condition)
        return Weighing.objects.create(
            workpiece=row, mass_mg=mass_mg, step_mg=step_mg, at=at, condition=condition, load=load, by=by
        )


def grams(mass_mg: int) -> str:
    return show(mass_mg, "mass", unit="g")


def _ask_if_odd(last_mg: int, mass_mg: int, condition: str) -> None:
    if mass_mg * 5 < last_mg or (mass_mg > last_mg * 5):
        raise OutOfTime(
            f"It weighed {grams(last_mg)} last time. If {grams(mass_mg)} is right, say so and send again.",
            field="mass",
            code="sure",
        )
    if mass_mg * 100 > last_mg * 103 and condition not in HEAVIER:
        raise OutOfTime(
            f"It gained since last time ({grams(last_mg)}). If {grams(mass_mg)} is right, say so and send again.",
            field="mass",
            code="sure",
        )


def strike_out_weighing(*, weighing: Weighing) -> None:
    """Will leave a weighing out of every reckoning; it stays to be seen, struck through."""
    Weighing.objects.filter(pk=weighing.pk).update(struck_out=True)
