"""What a pour still in its moulds asks of the pot or the chamber it is put into."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from studio.equipment import operations as equipment
from studio.equipment.models import Machine, Purpose
from studio.equipment.times import moment_words
from studio.fields.listing import listed
from studio.people.models import User
from studio.work.errors import StepTrouble
from studio.work.models import Pour, PourFill
from studio.work.queries.in_moulds import fits_pot, held_until

A_MINUTE = timedelta(minutes=1)


def refuse_in_vacuum(fills: Sequence[PourFill], purpose: str) -> None:
    """Raise for a filled mould that is to go under vacuum: wood gives off air for as long as it is pulled."""
    filled = [fill.casting.number for fill in fills if fill.casting.species_id or fill.wood_mg or fill.wood_mm3]
    if purpose == Purpose.VACUUM and filled:
        raise StepTrouble(
            f"Never a mould with wood in it under vacuum: {listed(filled)} would foam over, and float. Pull the air "
            "out of the mix in its cup, before it is poured, no more than a quarter full.",
            field="workpieces",
            code="vacuum",
        )


def fit_question(machine: Machine, fills: Sequence[PourFill], purpose: str) -> str:
    """Return what to ask where it isn't sure by their measures that the moulds go into the pot, or nothing."""
    found = fits_pot(machine, fills) if purpose == Purpose.PRESSURE else None
    if found is None or found.sure:
        return ""
    them = "Does it go in" if len(found.moulds) == 1 else "Do they go in"
    ends = f"{them}, and does the lid close?"
    if found.ruling == "no":
        ends = f"{them} all the same, and does the lid close? Then mend the measures."
    return " ".join([*found.words, ends])


def hold_of(fills: Sequence[PourFill], purpose: str, not_before: datetime | None, at: datetime) -> datetime | None:
    """Return until when the pot stays shut: as asked, else by the resin's sheet at the shop's warmth.

    Raises for a time before the sheet's: it may only be longer.
    """
    if purpose != Purpose.PRESSURE:
        return not_before
    sheet = held_until(fills)
    if sheet is None or sheet <= at:
        return not_before
    if not_before is not None and not_before <= sheet - A_MINUTE:  # a moment is typed to the minute
        raise StepTrouble(
            f"By the resin's sheet, in a shop as warm as yours, it stays under pressure until {moment_words(sheet)}. "
            "Give that time or a later one, or leave it empty.",
            field="not_before",
            code="too_short",
        )
    return max(not_before or sheet, sheet)


def stay_shut(pour: Pour, by: User | None, now: datetime | None) -> None:
    """Will keep the running pot a pour went into shut until the resin's sheet lets its castings out."""
    load, sheet = pour.load, pour.demould_not_before
    if load is None or sheet is None or load.purpose != Purpose.PRESSURE or load.ended_at is not None:
        return
    if load.not_before is None or load.not_before < sheet:
        equipment.change_load(load=load, not_before=sheet, at=pour.at, by=by or load.started_by, now=now)
