"""Castings that still lie in their moulds: which moulds, and until when the resin's sheet keeps them there."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from studio.craft.pour_clock import hold_s
from studio.equipment.models import Machine, Mould
from studio.equipment.pot_check import PotFit, pot_fit
from studio.fields.quantity import show
from studio.people import settings as studio_settings
from studio.stores.models import ResinSystem
from studio.work.models import PourFill, Workpiece


def in_moulds(rows: Iterable[Workpiece]) -> list[PourFill]:
    """Return the fills of these workpieces that aren't out of their moulds yet, with mould and pour. One query."""
    found = PourFill.objects.filter(casting__in=list(rows), pour__demoulded_at=None)
    return list(found.select_related("mould", "pour__system", "casting").order_by("pk"))


def moulds_of(fills: Sequence[PourFill]) -> list[Mould]:
    """Return the moulds they lie in, each once; those that are none of the studio's are left out."""
    return list({fill.mould.pk: fill.mould for fill in fills if fill.mould is not None}.values())


def fits_pot(pot: Machine, fills: Sequence[PourFill]) -> PotFit | None:
    """Return whether their moulds go into the pot; None where none of them is known."""
    moulds = moulds_of(fills)
    return pot_fit(pot, moulds) if moulds else None


def held_until(fills: Sequence[PourFill]) -> datetime | None:
    """Return until when the last of them stays in its mould; None where no sheet says it."""
    return max((fill.pour.demould_not_before for fill in fills if fill.pour.demould_not_before), default=None)


def sheet_hold_s(system: ResinSystem, at: datetime) -> int | None:
    """Return how long a resin stays in its mould when it was poured then, by its sheet and the shop's warmth of that
    day: longer in a cool shop, never shorter. None where the sheet gives no time. Source: `craft.pour_clock.hold_s`.
    """
    if system.demould_s is None:
        return None
    shop = studio_settings.known("shop_temperature_mdegc", studio_settings.local_date(at))
    return hold_s(system.demould_s, system.work_time_at_mdegc, shop)


def hold_words(system: ResinSystem, held_s: int | None) -> str:
    """Whose the time in the mould is: `4 h by its sheet, 6 h in a shop as cool as yours`."""
    if not system.demould_s or held_s is None:
        return ""
    sheet = f"{show(system.demould_s, 'duration')} by its sheet"
    return sheet if held_s <= system.demould_s else f"{sheet}, {show(held_s, 'duration')} in a shop as cool as yours"
