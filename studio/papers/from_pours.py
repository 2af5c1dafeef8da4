"""What the mix sheet says of a plan."""

from datetime import date

from studio.equipment.cautions import cautions_for
from studio.fields.quantity import show
from studio.people import settings as studio_settings
from studio.work.queries import FillPlan, PourPlan
from studio.work.queries.pour_parts import SwirlPlan

from .mix_sheet import MixCup, MixFill, MixSheetFacts, MixStep, MixSwirl

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


def mix_sheet_facts(plan: PourPlan, *, on: date, address: str = "") -> MixSheetFacts:
    """The sheet of a plan that nothing was refused in, with the figures the scale screens show.

    `address`: where it is typed in later."""
    system, several = plan.system, len(plan.cups) > 1
    return MixSheetFacts(
        studio_name=str(studio_settings.known("studio_name") or ""),
        resin=system.name,
        ratio=f"Part A to Part B {show(system.parts_a, 'number')} to {show(system.parts_b, 'number')}, by weight. "
        f"{grams(plan.total_mg)} g in all, {grams(plan.waste_mg)} g of it for cup and drips.",
        made_on=f"{on.day} {on:%B %Y}",
        numbers=tuple(blank.workpiece.number for fill in plan.fills for blank in fill.blanks),
        steps=(TARE,) if several else _steps(plan),
        elsewhere=() if several else _elsewhere(plan),
        fills=tuple(_fill(fill, number) for number, fill in enumerate(plan.fills, start=1)),
        times=_times(plan),
        looks=HOW_IT_LOOKS,
        cautions=(*AT_THE_CUP, *(one.words for one in cautions_for("pressure_pot") if one.code in AT_THE_POT)),
        cups=_cups(plan) if several else (),
        colour=_colour_words(plan) if several else "",
        otherwise=_otherwise(plan) if several else "",
        swirls=tuple(_swirl(plan, cup) for cup in plan.swirls),
        window=_window(plan),
        address=address,
    )


TARE = MixStep("Cup on the scale, press tare", "0", "")


def _steps(plan: PourPlan) -> tuple[MixStep, ...]:
    a, colour = plan.a_mg, plan.colorant_mg
    found = [TARE, MixStep("Part A until the scale shows", grams(a))]
    if plan.colorant is not None and colour:
        then = "" if plan.system.colour_into == "b" else f". The scale then shows {grams(a + colour)} g"
        found.append(MixStep(f"{_colour_words(plan)}{then}", grams(colour), "it weighed"))
    found.append(MixStep("Part B until the scale shows", grams(a + plan.colorant_mg + plan.b_mg)))
    return tuple(found)


def _colour_words(plan: PourPlan) -> str:
    if plan.colorant is None:
        return ""
    into = "Part B, in its own cup" if plan.system.colour_into == "b" else "Part A"
    return f"{plan.colorant.name}, weighed by itself, stirred into {into}"


def _cups(plan: PourPlan) -> tuple[MixCup, ...]:
    return tuple(
        MixCup(
            grams(cup.a_mg),
            grams(cup.colorant_mg) if cup.colorant_mg else "",
            grams(cup.a_mg + cup.colorant_mg + cup.b_mg),
        )
        for cup in plan.cups
    )


def _otherwise(plan: PourPlan) -> str:
    """How to go on where Part A stopped elsewhere in one of several cups."""
    a, b = plan.system.parts_a, plan.system.parts_b
    if a == b:
        return "If Part A stops elsewhere, put in as much of Part B as of Part A, weighed."
    ratio = f"{show(b, 'number')} of Part B for each {show(a, 'number')} of Part A"
    return f"If Part A stops elsewhere, put in {ratio}, weighed."


def _swirl(plan: PourPlan, cup: SwirlPlan) -> MixSwirl:
    into = ""
    if cup.wanted.into is not None and cup.wanted.into < len(plan.fills):
        into = _mould_name(plan.fills[cup.wanted.into], cup.wanted.into + 1)
    return MixSwirl(grams(cup.taken_mg), tuple((of.name, grams(mg)) for of, mg in cup.colours), into)


def _window(plan: PourPlan) -> str:
    if not plan.swirls:
        return ""
    if plan.window is None:
        return "The swirl cups go in when a drop keeps its edge, and before it strings: the time isn't known."
    if not plan.window.open:
        return ""
    since, until = show(plan.window.from_s, "duration"), show(plan.window.until_s, "duration")
    return f"The swirl cups go in not before {since} and not after {until} from when A meets B."


def _elsewhere(plan: PourPlan) -> tuple[tuple[str, str], ...]:
    """For other stops of Part A what the scale shall show in the end, so that the ratio is right again."""
    found = []
    for steps in ELSEWHERE:
        a = plan.a_mg + steps * plan.step_mg
        if a <= 0:
            continue
        found.append((grams(a), grams(a + plan.colorant_mg + plan.b_for(a))))
    return tuple(found)


def _mould_name(fill: FillPlan, number: int) -> str:
    return fill.wanted.mould.name if fill.wanted.mould else f"Mould {number}"


def _fill(fill: FillPlan, number: int) -> MixFill:
    holds = ", ".join(blank.workpiece.number for blank in fill.blanks)
    return MixFill(_mould_name(fill, number), holds, f"{grams(fill.planned_mg)} g")


def _times(plan: PourPlan) -> tuple[str, ...]:
    """Lines to write on; how long it can be worked is what the screen says of this warmth and this much."""
    within, lid, out = "In the mould by", "Lid shut at", "Out of the mould"
    held = plan.clock
    if held is not None and held.time.seconds is not None:
        within += f" ({show(held.time.seconds, 'duration')} for {show(held.mass_mg, 'mass')})"
        if held.fill_s is not None:
            lid += f" (within {show(held.clock.lid_by_s or 0, 'duration')})"
    elif held is not None and held.time.at_most_s:
        within += f" (at most {show(held.time.at_most_s, 'duration')}: unknown for {show(held.mass_mg, 'mass')})"
    if plan.system.demould_s:
        out += f", not before {show(plan.system.demould_s, 'duration')}"
    return ("A met B at", within, "Poured at", lid, "Gauge", "At pressure at", out)
