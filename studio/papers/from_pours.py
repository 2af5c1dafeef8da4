"""What the mix sheet says of a plan."""

from datetime import date

from studio.equipment.cautions import cautions_for
from studio.fields.quantity import show
from studio.people import settings as studio_settings
from studio.work.queries import FillPlan, PourPlan

from .mix_sheet import MixFill, MixSheetFacts, MixStep

# How far from its target Part A may stop and still be looked up on the sheet, in steps of the scale.
ELSEWHERE = (-4, -2, 2, 4, 8, 12)
HOW_IT_LOOKS = ("good", "soft", "void", "leak", "floated", "cloudy", "cracked")
AT_THE_CUP = (
    "Gloves on, air moving. The product's safety data sheet decides what else.",
    "What stays in the cup heats by itself. Stand it outdoors or on stone until it is cold.",
)
AT_THE_POT = ("pot_lid_force", "pot_clamps")


def grams(mg: int) -> str:
    """A weight as the scale shows it: no unit, no mark between thousands."""
    return show(mg, "mass", unit="g", with_unit=False)


def mix_sheet_facts(plan: PourPlan, *, on: date) -> MixSheetFacts:
    """The sheet of a plan that nothing was refused in, with the figures the scale screens show."""
    system = plan.system
    return MixSheetFacts(
        studio_name=str(studio_settings.known("studio_name") or ""),
        resin=system.name,
        ratio=f"Part A to Part B {show(system.parts_a, 'number')} to {show(system.parts_b, 'number')}, by weight. "
        f"{grams(plan.total_mg)} g in all, {grams(plan.waste_mg)} g of it for cup and drips.",
        made_on=f"{on.day} {on:%B %Y}",
        numbers=tuple(blank.workpiece.number for fill in plan.fills for blank in fill.blanks),
        steps=_steps(plan),
        elsewhere=_elsewhere(plan),
        fills=tuple(_fill(fill, number) for number, fill in enumerate(plan.fills, start=1)),
        times=_times(plan),
        looks=HOW_IT_LOOKS,
        cautions=(*AT_THE_CUP, *(one.words for one in cautions_for("pressure_pot") if one.code in AT_THE_POT)),
    )


def _steps(plan: PourPlan) -> tuple[MixStep, ...]:
    a, colour = plan.a_mg, plan.colorant_mg
    found = [MixStep("Cup on the scale, press tare", "0", ""), MixStep("Part A until the scale shows", grams(a))]
    if plan.colorant is not None and colour:
        weighed = f"{plan.colorant.name}, weighed by itself: {grams(colour)} g"
        if plan.system.colour_into == "b":
            found.append(MixStep(f"{weighed}, stirred into Part B in its own cup", grams(colour)))
        else:
            found.append(MixStep(f"{weighed}, stirred into Part A. The scale then shows", grams(a + colour)))
    found.append(MixStep("Part B until the scale shows", grams(a + plan.colorant_mg + plan.b_mg)))
    return tuple(found)


def _elsewhere(plan: PourPlan) -> tuple[tuple[str, str], ...]:
    """For other stops of Part A what the scale shall show in the end, so that the ratio is right again."""
    found = []
    for steps in ELSEWHERE:
        a = plan.a_mg + steps * plan.step_mg
        if a <= 0:
            continue
        found.append((grams(a), grams(a + plan.colorant_mg + plan.b_for(a))))
    return tuple(found)


def _fill(fill: FillPlan, number: int) -> MixFill:
    name = fill.wanted.mould.name if fill.wanted.mould else f"Mould {number}"
    holds = ", ".join(blank.workpiece.number for blank in fill.blanks)
    return MixFill(name, holds, f"{grams(fill.planned_mg)} g")


def _times(plan: PourPlan) -> tuple[str, ...]:
    system = plan.system
    work, out = "In the mould by", "Out of the mould"
    if system.work_time_s:
        work += f" (its sheet: {show(system.work_time_s, 'duration')}"
        if system.work_time_at_mdegc is not None:
            work += f" at {show(system.work_time_at_mdegc, 'temperature')}"
        work += ")"
    if system.demould_s:
        out += f", not before {show(system.demould_s, 'duration')}"
    return ("The two parts touched at", work, "Lid shut at", "Gauge", "At pressure at", out)
