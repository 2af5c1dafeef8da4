"""In the bag and out of it, fog, bark and wax off, ends sealed; and words that go past a refusal."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from studio.equipment.models import LoadPlace
from studio.fields.listing import listed
from studio.people.models import User
from studio.work.errors import OutOfTime, StepTrouble
from studio.work.making import held_rows
from studio.work.models import Overruled, WoodEvent, Workpiece, Wrap
from studio.work.queries.lying_out import IN_HEAT
from studio.work.queries.ready import not_ready

WORDS = 300


def wrap(*, workpieces: Sequence[Workpiece], at: datetime, by: User | None = None, now: datetime) -> list[Wrap]:
    """Will note that these lie in a tight bag from now on. Refused for what lies in an oven or in a bag already."""
    with transaction.atomic():
        rows = _held(workpieces, at, now)
        hot = LoadPlace.objects.filter(
            account__in=[row.account_id for row in rows], out_at=None, load__purpose__in=IN_HEAT
        ).values_list("account", flat=True)
        inside = [row.number for row in rows if row.account_id in set(hot)]
        if inside:
            raise StepTrouble(f"{listed(inside)} still in the oven: take it out first, then bag it.")
        bagged = set(
            Wrap.objects.filter(workpiece__in=rows, opened_at=None).values_list("workpiece", flat=True)
        )
        already = [row.number for row in rows if row.pk in bagged]
        if already:
            raise StepTrouble(f"{listed(already)} lies in a bag already. Tap “Out of the bag” when it comes out.")
        latest = Wrap.objects.filter(workpiece__in=rows, opened_at__gt=at).first()
        if latest is not None:
            raise OutOfTime("It was in another bag then. Give the time it went into this one.", field="at")
        return Wrap.objects.bulk_create([Wrap(workpiece=row, wrapped_at=at, by=by) for row in rows])


def unwrap(*, workpiece: Workpiece, at: datetime, by: User | None = None, now: datetime) -> Wrap:
    """Will note that it is out of its bag: from here on its skin is open again."""
    with transaction.atomic():
        (row,) = _held([workpiece], at, now)
        bag = _bag(row)
        if at < bag.wrapped_at:
            raise OutOfTime(f"{row.number} went into the bag after that. Give the time it came out.", field="at")
        bag.opened_at = at
        bag.save(update_fields=["opened_at"])
        return bag


def note_fog(*, workpiece: Workpiece, at: datetime, by: User | None = None, now: datetime) -> Wrap:
    """Will note fog in its bag: water still comes out of it, so it counts as not dry until it is weighed again or has
    been back in the oven."""
    with transaction.atomic():
        (row,) = _held([workpiece], at, now)
        bag = _bag(row)
        if at < bag.wrapped_at:
            raise OutOfTime(f"{row.number} went into the bag after that. Give the time fog was seen.", field="at")
        bag.fogged_at = at
        bag.save(update_fields=["fogged_at"])
        return bag


def _bag(row: Workpiece) -> Wrap:
    bag = Wrap.objects.select_for_update().filter(workpiece=row, opened_at=None).first()
    if bag is None:
        raise StepTrouble(f"{row.number} lies in no bag. Tap “Bagged” first.")
    return bag


def note_wood(*, workpiece: Workpiece, kind: str, at: datetime, by: User | None = None, now: datetime) -> WoodEvent:
    """Will note that bark or wax came off, or the ends were sealed: its weights begin a new series there."""
    if kind not in WoodEvent.Kind.values:
        raise StepTrouble("Say what was done: bark off, wax off, or ends sealed.", field="kind")
    with transaction.atomic():
        (row,) = _held([workpiece], at, now)
        return WoodEvent.objects.create(workpiece=row, kind=kind, at=at, by=by)


def take_back_wood_note(*, event: WoodEvent) -> None:
    """Will leave such a note out of every reckoning: it was tapped by mistake."""
    WoodEvent.objects.filter(pk=event.pk).update(struck_out=True)


def cast_all_the_same(
    *, workpiece: Workpiece, words: str, at: datetime, by: User | None = None, now: datetime
) -> Overruled:
    """Will keep why it is cast although it isn't known to be dry. Counts until it has been back in the oven; the
    words stay with it for good. Refused without words, and where nothing stands against casting it."""
    said = " ".join(words.split())
    if not said:
        raise StepTrouble("Say in words why it is cast all the same: they stay with the piece.", field="words")
    if len(said) > WORDS:
        raise StepTrouble(f"Keep it to {WORDS} characters.", field="words")
    with transaction.atomic():
        (row,) = _held([workpiece], at, now)
        stops = [one for one in not_ready([row], at) if one.refused]
        if not stops:
            raise StepTrouble(f"Nothing stands against casting {row.number}: no words are needed.", field="words")
        return Overruled.objects.create(
            workpiece=row, what=Overruled.What.CAST, refused=stops[0].reason[:WORDS], words=said, at=at, by=by
        )


def _held(workpieces: Sequence[Workpiece], at: datetime, now: datetime) -> list[Workpiece]:
    if not workpieces:
        raise StepTrouble("Choose which ones.", field="workpieces")
    if at > now:
        raise OutOfTime("That time is still to come. Leave it empty for now.", field="at")
    rows = held_rows(workpieces)
    young = next((row for row in rows if at < row.made_at), None)
    if young is not None:
        raise OutOfTime(f"{young.number} came into being after that. Give the time it was.", field="at")
    return rows
