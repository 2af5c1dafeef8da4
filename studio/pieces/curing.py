"""A finish that isn't done or still cures: shown, and asked about before the piece is called ready or goes away."""

from collections.abc import Iterable
from datetime import datetime

from studio.people import settings as studio_settings
from studio.work import queries as work
from studio.work.models import Workpiece


def not_cured(workpieces: Iterable[Workpiece], at: datetime) -> dict[int, str]:
    """A sentence for each workpiece whose finish isn't done or still cures at `at`; the others are absent.

    Two queries. How long it cures is the finish's own figure: from the tin, or this studio's habit.
    """
    rows = {row.pk: row.number for row in workpieces}
    told = {pk: f"{rows[pk]} is still on its finish" for pk in work.on_a_finish_now(rows)}
    for pk, until in work.still_curing(rows, at).items():
        there = until.astimezone(studio_settings.zone())
        told[pk] = f"The finish of {rows[pk]} cures until {there.day} {there:%B}"
    return told


def asked_about(workpieces: Iterable[Workpiece], at: datetime) -> str:
    """What to ask before these are called ready or go away; "" where all are cured."""
    told = not_cured(workpieces, at)
    if not told:
        return ""
    said = ". ".join(told.values())
    return f"{said}. Packed too early a finish prints, sticks and smells. Wait, or tick that you know."
