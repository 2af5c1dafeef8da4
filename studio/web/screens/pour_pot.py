"""What a plan of a pour asks about pot and vacuum, and whether its moulds go into the pot."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms

from studio.equipment import queries as equipment
from studio.equipment.models import Machine
from studio.equipment.pot_check import PotFit, pot_fit
from studio.fields.forms import QuantityField
from studio.web.forms import Typed
from studio.work.queries import ClockWanted, PourPlan

NO_POT = "none"
NAMES = ("pot", "degas", "degas_cup")
LONGEST_DEGAS_S = 6 * 3600
LARGEST_CUP_MM3 = 10**9


def add_pot(form: forms.Form) -> list[Machine]:
    """Put what is asked about pot and vacuum into the form of a plan; return the pots there are."""
    pots = equipment.pots_in_use()
    if pots:
        any_of = [("", "Any of our pots: the slowest counts")] if len(pots) > 1 else []
        form.fields["pot"] = forms.ChoiceField(
            choices=[*any_of, *((str(one.pk), one.name) for one in pots), (NO_POT, "It isn't put under pressure")],
            required=False, label="Which pot does it go into?",
        )  # fmt: skip
    form.fields["degas"] = QuantityField(
        dimension="duration", unit="min", required=False, least=1, most=LONGEST_DEGAS_S, widget=Typed(letters=True),
        label="How long is the air pulled out of the mix?",
        help_text="Minutes under vacuum, in its cup, out of the time it can be worked. Empty: it isn't.",
    )  # fmt: skip
    form.fields["degas_cup"] = QuantityField(
        dimension="volume", required=False, least=1, most=LARGEST_CUP_MM3, widget=Typed(letters=True),
        label="How big is the cup for that?", help_text="To its rim: it is filled a quarter at most.",
    )  # fmt: skip
    return pots


def clock_wanted(data: dict[str, Any], pots: list[Machine]) -> ClockWanted:
    chosen = data.get("pot") or ""
    pot = 0 if chosen == NO_POT else int(chosen) if chosen else None
    return ClockWanted(pot, data.get("degas") or 0, data.get("degas_cup"), tuple(pots))


@dataclass(frozen=True)
class PotForPlan:
    """One pot beside a plan: why it takes no load, or whether the moulds go in."""

    pot: Machine
    refused: str
    fit: PotFit | None


def pots_for(plan: PourPlan, pots: list[Machine], wanted: ClockWanted, on: date) -> list[PotForPlan]:
    """Return the pot the plan names, or all of them, with what is known before anything is mixed. No query."""
    moulds = list({one.wanted.mould.pk: one.wanted.mould for one in plan.fills if one.wanted.mould}.values())
    found = []
    for pot in pots:
        if wanted.pot not in (None, pot.pk):
            continue
        refused = " ".join(one.words for one in equipment.pressure_advice(pot, on).refusals)
        fit = pot_fit(pot, moulds) if moulds and not refused else None
        found.append(PotForPlan(pot, refused, fit))
    return found
