"""What stands beside an oven's set-point: facts of this altitude, its own limit, and what makers tell each other."""

from datetime import date

from studio.craft.dryness import OVEN_DRY_C, OVEN_DRY_GIVE_C
from studio.craft.moisture import boiling_point_c
from studio.craft.oven import CHARS_C, CONES_C, DARKENS_C
from studio.equipment.models import Machine, MachineKind
from studio.fields.quantity import show
from studio.people import settings as answers

USUAL_F, SEA_LEVEL_F = 220, 212
PRACTICE = "common practice, no source"


def heat_facts(machine: Machine, on: date) -> list[tuple[str, str, str]]:
    """Return word, sentence and source beside an oven's set-point on a day; nothing for other machines."""
    if machine.kind != MachineKind.OVEN:
        return []
    height = answers.known("altitude_m", on)
    boils = _degrees(boiling_point_c(height or 0), digits=1)
    here = f"At {boils}, {height:,} m above the sea" if height is not None else f"At {boils} at sea level"
    if height is None:
        here += "; the settings don’t say yet how high the shop lies"
    usual, over = _degrees((USUAL_F - 32) / 1.8), _span((USUAL_F - SEA_LEVEL_F) / 1.8)
    rows = [
        ("Water boils", f"{here}.", "IAPWS-IF97 in the air of ISO 2533"),
        ("Many set", f"{usual}, {over} over boiling at sea level.", PRACTICE),
        (
            "Oven-dry",
            f"Is told at {_degrees(OVEN_DRY_C)}, give or take {_span(OVEN_DRY_GIVE_C)}.",
            "ASTM D4442, EN 13183-1",
        ),
    ]
    if machine.highest_mdegc is not None:
        rows.append(("Its limit", f"{show(machine.highest_mdegc, 'temperature')}, by its plate.", "the nameplate"))
    dark, chars = _degrees(DARKENS_C), _degrees(CHARS_C)
    return [
        *rows,
        ("Too hot", f"From {dark} wood darkens, from {chars} it chars where it lies for days.", PRACTICE),
        ("Cones", f"{_degrees(CONES_C)} or less, on foil: their pitch runs, and what runs may catch fire.", PRACTICE),
    ]


def _degrees(celsius: float, digits: int = 0) -> str:
    return show(round(celsius * 1000), "temperature", digits=digits)


def _span(celsius: float) -> str:
    """A difference of temperatures in the studio's own degrees: 4 °C, 8 °F."""
    unit = show(0, "temperature").split()[-1]
    return f"{round(celsius * 1.8 if 'F' in unit else celsius)}\u00a0{unit}"
