"""At the pot: what is checked before the lid closes, and what its gauge shows while it stands."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from studio.equipment import pot_check
from studio.equipment.cautions import AT_THE_LID, Caution
from studio.equipment.models import Load, Machine, MachineKind
from studio.fields.quantity import show, typed
from studio.people import settings as answers
from studio.web import saying
from studio.work import queries as bench
from studio.work.models import Workpiece


def gauge_words(load: Load) -> str:
    return show(load.gauge_pa, "pressure") if load.gauge_pa else ""


def before_the_lid(pot: Machine, rows: Iterable[Workpiece], now: datetime) -> dict[str, Any]:
    """What is known before these go into a pot: fit, hold, and how long it takes to fill."""
    fills = bench.in_moulds(rows)
    until = bench.held_until(fills)
    last = max(fills, key=lambda fill: fill.pour.demould_not_before or fill.pour.at, default=None)
    fill = pot_check.fill_times([pot], answers.local_date(now)).get(pot.pk)
    return {
        "fit": bench.fits_pot(pot, fills),
        "until": until if until and until > now else None,
        "until_words": _hold_words(last.pour) if last and until else "",
        "fill": f"{show(fill.seconds, 'duration')} to {show(fill.gauge_pa, 'pressure')}" if fill else "",
        "fill_whose": fill.whose if fill else "",
    }


def _hold_words(pour: Any) -> str:
    held = pour.demould_not_before - pour.at if pour.demould_not_before else None
    return bench.hold_words(pour.system, int(held.total_seconds()) if held else None)


def at_the_lid(cautions: Sequence[Caution]) -> list[Caution]:
    """What stands boxed where a lid is about to close."""
    return [one for one in cautions if one.code in AT_THE_LID]


def gauge_facts(load: Load, now: datetime) -> dict[str, Any] | None:
    """What a running pot's gauge said, in words; None for another machine, or one that has ended."""
    if load.machine.kind != MachineKind.PRESSURE_POT or load.ended_at is not None:
        return None
    seen = pot_check.gauge(load)
    last, found = seen.last, {"wanted": gauge_words(load), "reached": "", "fell": "", "shows": "", "over": ""}
    found["typed"] = typed(load.gauge_pa, "pressure") if load.gauge_pa else ""
    if seen.reached_at is not None:
        took = int((seen.reached_at - load.started_at).total_seconds())
        at = saying.when(seen.reached_at, now, clock=True)
        filled = f", {show(took, 'duration')} after the lid was shut" if took else ""
        found["reached"] = f"At {found['wanted']} {at}{filled}"
    if last is not None:
        found["shows"] = f"{show(last.gauge_pa, 'pressure')} {saying.when(last.at, now, clock=True)}"
    if last is not None and seen.fell_from is not None:
        was = show(seen.fell_from.gauge_pa, "pressure")
        found["fell"] = (
            f"The gauge fell from {was} to {show(last.gauge_pa, 'pressure')}. What is in it grows its bubbles back "
            "until it is hard. Listen at the lid, the valve and the hose; stand clear of the lid; bring it up again, "
            "never above its plate."
        )
    limit = min((pa for pa in (load.machine.certified_pa, load.machine.relief_pa) if pa), default=None)
    if last is not None and limit is not None and last.gauge_pa > limit:
        over = f"The gauge stood above {show(limit, 'pressure')}, the limit of this pot."
        found["over"] = f"{over} Let air off at the valve now, standing clear of the lid."
    return found
