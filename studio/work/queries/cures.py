"""Until when resin cures: for more of it, and for the lathe."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Exists, OuterRef

from studio.craft.pour_clock import hold_s
from studio.equipment.times import moment_words
from studio.people import settings as studio_settings
from studio.stores.models import ResinSystem
from studio.work.models import Pour, PourFill, Stage, Step, StepCode, StepState, Workpiece


@dataclass(frozen=True)
class Recoat:
    """Between when a second pour bonds by itself, by the sheet of the resin poured last. Either end may be open: the
    sheet gives none."""

    from_at: datetime | None
    to_at: datetime | None

    def early(self, now: datetime) -> bool:
        return self.from_at is not None and now < self.from_at

    def past(self, now: datetime) -> bool:
        return self.to_at is not None and now > self.to_at

    def words(self, now: datetime) -> str:
        """More resin bonds to it by itself from today 15:20 until tomorrow 11:20; later it is scuffed first."""
        if self.past(now):
            return "It is cured for more resin: scuff it first, and wipe the dust off."
        opens = f" from {moment_words(self.from_at)}" if self.from_at and self.early(now) else ""
        if self.to_at is None:
            return f"More resin may be poured onto it{opens or ' now'}, by its sheet."
        return f"More resin bonds to it by itself{opens} until {moment_words(self.to_at)}; later it is scuffed first."

    def short(self, now: datetime) -> str:
        """The same in a few words, beside its mould."""
        opens = f" from {_day(self.from_at)}" if self.from_at and self.early(now) else ""
        shuts = f" until {_day(self.to_at)}" if self.to_at else ""
        return f"more bonds to it{opens}{shuts}" if opens or shuts else ""


def _day(at: datetime) -> str:
    there = at.astimezone(studio_settings.zone())
    return f"{there.day} {there:%B, %H:%M}"


def recoat(pour: Pour) -> Recoat | None:
    """When more may be poured onto what came of this; None where the resin's sheet says nothing of it. No query.

    In a cool shop it begins later, by the ten-degree rule, and still ends as the sheet says: the surer of the two.
    """
    system = pour.system
    if system.recoat_from_s is None and system.recoat_to_s is None:
        return None
    ends = None if system.recoat_to_s is None else pour.at + timedelta(seconds=system.recoat_to_s)
    starts = None
    if system.recoat_from_s is not None:
        begins = _in_this_shop(system, system.recoat_from_s, pour.at) if system.recoat_from_s else 0
        starts = pour.at + timedelta(seconds=begins)
    return Recoat(min(starts, ends) if starts and ends else starts, ends)


def recoat_of(keys: Iterable[int]) -> dict[int, Recoat]:
    """When more may be poured onto each of these, by the key of the casting: what was poured last counts. Those never
    poured, or whose sheet says nothing of it, are absent. One query, and the studio's answers."""
    rows = PourFill.objects.filter(casting__in=list(keys)).select_related("pour__system").order_by("pour__at", "pk")
    last = {row.casting_id: row.pour for row in rows}
    return {key: found for key, pour in last.items() if (found := recoat(pour)) is not None}


def recoat_questions(castings: Sequence[Workpiece], at: datetime) -> list[str]:
    """What to ask before resin is poured onto what was cast already, one sentence each. One query where some was."""
    cast = [piece for piece in castings if piece.stage == Stage.CASTING]
    asked, found = [], recoat_of([piece.pk for piece in cast]) if cast else {}
    for piece in cast:
        one = found.get(piece.pk)
        if one is not None and one.from_at and one.early(at):
            asked.append(f"{piece.number} is to be poured onto again not before {moment_words(one.from_at)}.")
        elif one is not None and one.to_at and one.past(at):
            asked.append(
                f"Until {moment_words(one.to_at)} more resin would have bonded to {piece.number} by itself. It is "
                "cured: scuff it first, and wipe the dust off."
            )
    return asked


def sheet_cure_s(system: ResinSystem, at: datetime) -> int | None:
    """How long a resin poured then cures through, by its sheet and the shop's warmth of that day: longer in a cool
    shop, never shorter. None where the sheet gives no time. Source: `craft.pour_clock.hold_s`."""
    return None if system.full_cure_s is None else _in_this_shop(system, system.full_cure_s, at)


def _in_this_shop(system: ResinSystem, sheet_s: int, at: datetime) -> int:
    shop = studio_settings.known("shop_temperature_mdegc", studio_settings.local_date(at))
    return hold_s(sheet_s, system.work_time_at_mdegc, shop)


def cures_until(keys: Iterable[int], at: datetime) -> dict[int, datetime]:
    """Until when each of these still cures, by its key; those that are through are absent. One query."""
    rows = Step.objects.filter(
        workpiece__in=list(keys), code=StepCode.CAST, state=StepState.DONE, not_before__gt=at
    ).order_by("not_before")
    return {key: until for key, until in rows.values_list("workpiece", "not_before") if until is not None}


def still_cures(now: datetime) -> Exists:
    """Say in SQL whether a workpiece is a casting that isn't cured through yet."""
    return Exists(
        Step.objects.filter(workpiece=OuterRef("pk"), code=StepCode.CAST, state=StepState.DONE, not_before__gt=now)
    )
