"""What somebody saw at the pour desk: the room a blank takes, and when resin thickened."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from studio.equipment.models import Mould
from studio.equipment.queries import mould_mm3
from studio.fields.quantity import show
from studio.people.models import User
from studio.work.errors import OutOfTime, PourTrouble
from studio.work.making import held_rows
from studio.work.models import Pour, RoomReading, Stage, Workpiece

# Lighter than the lightest balsa, heavier than lignum vitae: then a figure was slipped. *Common practice, no source*.
LIGHTEST_KGM3, HEAVIEST_KGM3 = 50, 1_500


def measure_room(
    *,
    workpiece: Workpiece,
    at: datetime,
    now: datetime,
    beside: Sequence[Workpiece] = (),
    bucket_mm3: int | None = None,
    beads_mm3: int | None = None,
    mould: Mould | None = None,
    own_kgm3: int | None = None,
    by: User | None = None,
) -> tuple[RoomReading, ...]:
    """Will note what was measured of the room a blank takes; the next plan reckons with the best of it.

    `bucket_mm3`: the grams a bucket of water on the scale gained, as millilitres. `beads_mm3` with its `mould`: what
    the mould held of beads or rice with the blank in it, and all those `beside` it. `own_kgm3`: the blank's own
    density, oven-dry. Raises `PourTrouble` beside the figure that can't be, `OutOfTime` for a moment that is still
    to come or before its time.
    """
    ways = RoomReading.Way
    found = ((ways.BUCKET, bucket_mm3), (ways.BEADS, beads_mm3), (ways.DENSITY, own_kgm3))
    told = [(way, figure) for way, figure in found if figure is not None]
    if not told:
        raise PourTrouble("Give one of these: what you measured.", field="bucket")
    if any(figure <= 0 for _, figure in told):
        raise PourTrouble("What was measured is above nothing.", field=FIELDS[told[0][0]])
    if own_kgm3 is not None and not LIGHTEST_KGM3 <= own_kgm3 <= HEAVIEST_KGM3:
        raise PourTrouble("No wood is so dense, or so light. Look at the figure and its unit.", field="own_density")
    if beads_mm3 is not None:
        _refuse_fill(beads_mm3, mould)
    if at > now:
        raise OutOfTime("That time is still to come. Leave it empty for now.", field="at")
    with transaction.atomic():
        rows = held_rows([workpiece, *(one for one in beside if one.pk != workpiece.pk)])
        for row in rows:
            _refuse_wood(row, at)
        return tuple(
            RoomReading.objects.create(
                workpiece=row,
                way=way,
                mould=mould if way == ways.BEADS else None,
                mm3=None if way == ways.DENSITY else figure,
                kgm3=figure if way == ways.DENSITY else None,
                together=len(rows) if way == ways.BEADS else 1,
                at=at,
                by=by,
            )
            for way, figure in told
            for row in (rows if way == ways.BEADS else [one for one in rows if one.pk == workpiece.pk])
        )


def _refuse_wood(row: Workpiece, at: datetime) -> None:
    if row.stage in (Stage.CASTING, Stage.PART, Stage.PIECE):
        raise PourTrouble(f"{row.number} has resin in it already.")
    if at < row.made_at:
        raise OutOfTime(f"{row.number} came into being after that. Give the time it was measured.", field="at")


FIELDS = {
    RoomReading.Way.BUCKET: "bucket",
    RoomReading.Way.BEADS: "beads",
    RoomReading.Way.DENSITY: "own_density",
}


def _refuse_fill(beads_mm3: int, mould: Mould | None) -> None:
    if mould is None:
        raise PourTrouble("Say which mould you filled.", field="mould")
    holds = mould_mm3(mould)
    if beads_mm3 > holds:
        raise PourTrouble(
            f"{mould.name} holds {show(holds, 'volume')} with nothing in it. With the wood in it takes less.",
            field="beads",
        )


def note_thickened(*, pour: Pour, at: datetime, now: datetime) -> Pour:
    """Will note when a mix thickened, once: from then on the plan knows this bench's own time for such a mass.

    Raises `PourTrouble` where it was noted before, or nobody knows when the two parts met; `OutOfTime` for a moment
    still to come or not after that.
    """
    if at > now:
        raise OutOfTime("That time is still to come. Leave it empty for now.", field="at")
    with transaction.atomic():
        held = Pour.objects.select_for_update().get(pk=pour.pk)
        if held.thickened_at is not None:
            raise PourTrouble("When it thickened is noted already.")
        if held.began_at is None:
            raise PourTrouble("Nobody noted when the two parts met, so it tells nothing. Walk the next mix here.")
        if at <= held.began_at:
            raise OutOfTime("That is before the two parts met. Give the time it thickened.", field="at")
        held.thickened_at = at
        held.save(update_fields=["thickened_at"])
    return held
