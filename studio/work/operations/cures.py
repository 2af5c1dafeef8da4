"""Resin that cures: the lathe waits for it, and the oven may shorten that."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from studio.equipment.models import Load, LoadPlace, Purpose
from studio.equipment.times import moment_words
from studio.fields.listing import listed
from studio.work.errors import StepTrouble
from studio.work.models import Pour, PourFill, Step, StepCode, StepState, Workpiece
from studio.work.queries.cures import cures_until

# What soft resin is hurt by.
TURNS = (StepCode.ROUGH, StepCode.TURN, StepCode.SAND, StepCode.FINISH)


def refuse_uncured(rows: Sequence[Workpiece], *, code: str, at: datetime, sure: bool = False) -> None:
    """Will ask about turning, sanding or finishing what isn't cured through (code "sure"). One query at most."""
    if sure or code not in TURNS:
        return
    until = cures_until([row.pk for row in rows], at)
    soft = [row for row in rows if row.pk in until]
    if soft:
        last = max(until[row.pk] for row in soft)
        cures = "cures" if len(soft) == 1 else "cure"
        raise StepTrouble(
            f"{listed(row.number for row in soft)} still {cures}, until {moment_words(last)}: soft resin smears, "
            "heats up and can let go of the wood. If it is hard enough, say so.",
            code="sure",
        )


def cured_in_the_warm(*, load: Load, workpieces: Sequence[Workpiece], at: datetime) -> list[Workpiece]:
    """Will let castings go on that were cured in the warm for long enough, and return them: as long as the load was
    meant to stand, else as long as the resin's sheet asks, else as long as whoever ended it saw fit. What came out
    too soon keeps the time it cures without heat."""
    if load.purpose != Purpose.POST_CURE or (load.not_before is not None and at < load.not_before):
        return []
    fills = PourFill.objects.filter(casting__in=list(workpieces)).select_related("pour__system")
    asks = {row.casting_id: row.pour.system.post_cure_s for row in fills.order_by("pour__at", "pk")}
    began = dict(LoadPlace.objects.filter(load=load).order_by("pk").values_list("account", "put_in_at"))
    through = [
        piece
        for piece in workpieces
        if piece.pk in asks and at - began.get(piece.account_id, at) >= timedelta(seconds=asks[piece.pk] or 0)
    ]
    Step.objects.filter(workpiece__in=through, code=StepCode.CAST, state=StepState.DONE, not_before__gt=at).update(
        not_before=at
    )
    soft = PourFill.objects.filter(casting__closed_at=None).exclude(casting__in=through)
    pours = Pour.objects.filter(fills__casting__in=through, full_cure_at__gt=at, demoulded_at__isnull=False)
    pours.exclude(pk__in=soft.values("pour")).update(full_cure_at=at)
    return through
