"""How a workpiece is held on the lathe."""

from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from studio.ledger.errors import InTheFuture
from studio.people.models import User
from studio.people.text import tidy
from studio.work.errors import MountTrouble
from studio.work.making import held_rows
from studio.work.models import Balance, Holding, Mount, Workpiece

MOST_UM, LEAST_UM = 3_000_000, 500
WORDS = {"waste_words": 120, "jaws": 80, "jaw_one": 80, "note": 300}
LENGTHS = ("held_um", "across_um", "wall_um")


def mount(
    *, workpiece: Workpiece, how: str, at: datetime, by: User, now: datetime | None = None, **known: Any
) -> Mount:
    """Will note how it is held: `waste_words`, `jaws`, `held_um`, `jaw_one`, `across_um`, `balance`, `wall_um`,
    `kept`, `note`, each as far as known. The newest counts; earlier ones stay, for a later repair.

    Lengths in micrometres. Raises `MountTrouble` beside the field that can't be right, `InTheFuture`,
    `NotOnTheBench`.
    """
    if at > (now or timezone.now()):
        raise InTheFuture(at)
    if how not in Holding.values:
        raise MountTrouble("Choose how it is held.", field="how")
    kept = {**_words(known), **_lengths(known)}
    kept["balance"] = known.get("balance", Balance.ROUGH)
    if kept["balance"] not in Balance.values:
        raise MountTrouble("Choose how it runs.", field="balance")
    kept["kept"] = bool(known.get("kept", False))
    with transaction.atomic():
        (row,) = held_rows([workpiece])
        if at < row.made_at:
            raise MountTrouble(f"{row.number} wasn’t there yet then. Give a later time.", field="at")
        return Mount.objects.create(workpiece=row, how=how, at=at, by=by, **kept)


def _words(known: dict[str, Any]) -> dict[str, str]:
    said = {}
    for field, most in WORDS.items():
        try:
            said[field] = tidy(" ".join((known.get(field) or "").split()), most=most)
        except ValueError as error:
            raise MountTrouble(str(error), field=field) from error
    return said


def _lengths(known: dict[str, Any]) -> dict[str, int | None]:
    for field in LENGTHS:
        value = known.get(field)
        if value is not None and (type(value) is not int or not LEAST_UM <= value <= MOST_UM):
            raise MountTrouble("Give a length between half a millimetre and 3 m.", field=field)
    across, wall = known.get("across_um"), known.get("wall_um")
    if across and wall and wall * 2 > across:
        raise MountTrouble("A wall can’t be thicker than half the piece. Look at both again.", field="wall_um")
    return {field: known.get(field) for field in LENGTHS}
