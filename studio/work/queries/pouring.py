"""What a pour takes, before anything is weighed."""

from collections.abc import Sequence
from datetime import datetime

from studio.craft import cast, mix, room
from studio.craft.costing import split
from studio.craft.rounding import divide
from studio.equipment import queries as equipment
from studio.fields.quantity import show
from studio.people import settings as studio_settings
from studio.stores import queries as stores
from studio.stores.models import Material, ResinSystem
from studio.work.queries.cures import recoat_questions
from studio.work.queries.pour_allowed import allowed
from studio.work.queries.pour_clocks import ClockWanted, clock_cautions, find_clock, find_cups, refuse_small_cup
from studio.work.queries.pour_parts import FillPlan, FillWanted, Holding, PourPlan, RoomFound, SwirlWanted
from studio.work.queries.pour_rooms import fill_lift, find_room, seen
from studio.work.queries.pour_swirls import find_swirls, find_window, swirl_cautions
from studio.work.queries.ready import not_ready

__all__ = ["FillPlan", "FillWanted", "PourPlan", "SwirlWanted", "plan_pour"]

PPM = 1_000_000
# Where no scale is named, colour is weighed to a tenth of a gram. *Common practice, no source.*
COLOUR_STEP_MG = 100


def plan_pour(
    system: ResinSystem,
    fills: Sequence[FillWanted],
    *,
    at: datetime,
    colorant: Material | None = None,
    colorant_ppm: int = 0,
    resin_mdegc: int | None = None,
    swirls: Sequence[SwirlWanted] = (),
    mixed_at: datetime | None = None,
    judge_wood: bool = True,
    clock_wanted: ClockWanted = ClockWanted(),  # noqa: B008  frozen
) -> PourPlan:
    """Will reckon the grams of Part A, Part B and colour for these moulds with this wood in them.

    Room of each mould with its wood by the best that is known (`craft.room`), times the density of mixed resin, plus
    an allowance learned from this studio's pours, or the studio's own figure while those are few. With it how far
    off that may be, the lift on the wood, the cups, and the clock at the resin's own warmth (`resin_mdegc`, else the
    shop's). Nothing is stored. What makes it impossible stands in `refusals`.
    Wood is judged as it was at `mixed_at`, where the parts have met already; not at all without `judge_wood`: a pour
    that is only typed in is judged when it is booked, as it was then.
    Twenty-one queries at most, and the studio's answers.
    Source: geometry; mass is volume times density; `craft.room`, `craft.allowance`, `craft.pour_clock`.
    """
    refusals: list[str] = []
    cautions: list[str] = []
    on = studio_settings.local_date(at)
    more, enough_ppm = allowed(on)
    step_mg = studio_settings.value("scale_step_mg")
    colour_step = (equipment.finest_step_mg() or COLOUR_STEP_MG) if colorant or swirls else COLOUR_STEP_MG
    steps = (step_mg, colour_step)
    kgm3 = _mixed_density(system)
    if not kgm3:
        refusals.append(
            f"How dense mixed {system.name} is isn't known yet. Write it on the resin's page, from its data sheet."
        )
    there = seen([blank for fill in fills for blank in fill.blanks])
    rooms = [find_room(fill, there, system.shrink_ppm or 0, refusals, cautions) for fill in fills]
    _refuse_twice(fills, refusals)
    total = _total(system, rooms, kgm3 or 0, more.ppm, steps, colorant_ppm if colorant else 0, refusals)
    fill_mg, total_mg, (a_mg, b_mg), colour_mg = total
    found = _fills(rooms, total_mg, kgm3 or 0)
    cups = find_cups(system, (a_mg, b_mg), colour_mg, step_mg, colour_step, refusals)
    if total_mg:
        depth = max((one.depth_um for one in rooms if one.depth_um), default=None)
        refusals += _limits(system, total_mg, colour_mg)
        cautions += _too_deep(system, depth)
    if judge_wood:
        _wood(rooms, min(at, mixed_at or at), refusals, cautions)
    clock = find_clock(system, cups, on, resin_mdegc, kgm3 or 0, clock_wanted)
    cautions += clock_cautions(clock)
    refusals += refuse_small_cup(clock, clock_wanted)
    taken = find_swirls(system, swirls, total_mg, colour_mg, steps, refusals)
    window = find_window(clock) if taken else None
    cautions += swirl_cautions(taken, window)
    colours = [*([(colorant, colour_mg)] if colorant else []), *(one for cup in taken for one in cup.colours)]
    holdings, make_mg = _holdings(system, colours, a_mg, b_mg, at)
    return PourPlan(
        system, found, kgm3 or 0, more.ppm, step_mg, fill_mg, total_mg - fill_mg, total_mg, a_mg, b_mg,
        colorant, colorant_ppm, colour_mg, holdings, make_mg, tuple(refusals), tuple(dict.fromkeys(cautions)),
        _give_mg(rooms, kgm3 or 0), more, enough_ppm, cups, clock, resin_mdegc,
        taken, window, colour_step,
    )  # fmt: skip


def _fills(rooms: Sequence[RoomFound], total_mg: int, kgm3: int) -> tuple[FillPlan, ...]:
    planned = split(total_mg, [one.resin_mm3 for one in rooms]) if total_mg else (0,) * len(rooms)
    return tuple(
        FillPlan(
            one.wanted, one.blanks, one.room_mm3, sum(blank.mass_mg for blank in one.blanks), one.wood_mm3,
            one.resin_mm3, share, one.geometry, one.depth_um,
            divide(one.resin_mm3 * kgm3, 1000), _give_mg([one], kgm3), one.shares,
            fill_lift(one, kgm3) if kgm3 else None,
        )
        for one, share in zip(rooms, planned, strict=True)
    )  # fmt: skip


def _give_mg(rooms: Sequence[RoomFound], kgm3: int) -> int:
    """How far off the grams may be, nine times in ten: what errs alike adds up across the moulds."""
    parts = [part for one in rooms if one.resin for part in one.resin.parts]
    return round(room.give_or_take(room.spread(parts)) * kgm3 / 1000)


def _mixed_density(system: ResinSystem) -> int | None:
    """As its sheet says, else from the two parts: their masses over the sum of their volumes."""
    if system.mixed_density_kgm3:
        return system.mixed_density_kgm3
    a, b = system.part_a.density_kgm3, system.part_b.density_kgm3
    if not a or not b:
        return None
    whole = system.parts_a + system.parts_b
    return divide(whole * a * b, system.parts_a * b + system.parts_b * a)


def _refuse_twice(fills: Sequence[FillWanted], refusals: list[str]) -> None:
    everyone = [blank.number for fill in fills for blank in fill.blanks]
    for number in sorted({number for number in everyone if everyone.count(number) > 1}):
        refusals.append(f"{number} lies in two moulds. Take it out of one.")
    if not fills:
        refusals.append("A pour goes into one mould at least.")


def _wood(rooms: Sequence[RoomFound], at: datetime, refusals: list[str], cautions: list[str]) -> None:
    """What isn't dry enough by this studio's own limits is refused; of what nothing is known, that is told."""
    blanks = [blank.workpiece for one in rooms for blank in one.blanks]
    for one in not_ready(blanks, at):
        if one.refused:
            refusals.append(one.words)
        else:
            cautions.append(f"{one.reason}. You will be asked about it when the pour is booked.")
    cautions += recoat_questions(blanks, at)


def _total(
    system: ResinSystem,
    rooms: Sequence[RoomFound],
    kgm3: int,
    waste_ppm: int,
    steps: tuple[int, int],
    colorant_ppm: int,
    refusals: list[str],
) -> tuple[int, int, tuple[int, int], int]:
    """(resin in the moulds, all to mix, (A, B), colour), all nothing where something was refused."""
    nothing = (0, 0, (0, 0), 0)
    resin = sum(one.resin_mm3 for one in rooms)
    if refusals or not resin or not kgm3 or any(not one.resin_mm3 for one in rooms):
        return nothing
    try:
        plan = cast.grams_for_cast(
            mould_mm3=resin,
            resin_kgm3=kgm3,
            parts=(system.parts_a, system.parts_b),
            waste_ppm=waste_ppm,
            step_mg=steps[0],
            colorant_ppm=colorant_ppm,
            colorant_step_mg=steps[1],
        )
    except ValueError as stop:
        refusals.append(str(stop))
        return nothing
    return plan.fill_mg, plan.total_mg, (plan.parts_mg[0], plan.parts_mg[1]), plan.colorant_mg


def _limits(system: ResinSystem, total_mg: int, colour_mg: int) -> list[str]:
    """What the sheet doesn't allow, with its figure: the booking refuses the same. Too much goes into
    several cups."""
    figures = {
        "too little": ("smallest batch", system.smallest_mg, "mass"),
        "too much colour": ("most colour", system.colorant_limit_ppm, "share"),
    }
    found = mix.batch_limits(
        total_mg=total_mg,
        least_mg=system.smallest_mg,
        colorant_mg=colour_mg,
        most_colorant_ppm=system.colorant_limit_ppm,
    )
    return [
        f"{limit.words} The data sheet's {name}: {show(figure, dimension)}."
        for limit in found
        for name, figure, dimension in [figures[limit.code]]
        if figure is not None
    ]


def _too_deep(system: ResinSystem, depth_um: int | None) -> list[str]:
    """Depth is told, not refused: the wood may fill the lower part of the mould."""
    if not depth_um or not system.max_depth_um or depth_um <= system.max_depth_um:
        return []
    return [
        f"{show(depth_um, 'length')} is deeper than this resin allows in one pour, "
        f"{show(system.max_depth_um, 'length')} by its data sheet: it may run hot and crack. Pour it in layers."
    ]


def _holdings(
    system: ResinSystem, colours: Sequence[tuple[Material, int]], a_mg: int, b_mg: int, at: datetime
) -> tuple[tuple[Holding, ...], int]:
    """What is wanted against what there is. Two queries, and one for each colour."""
    on = studio_settings.local_date(at)
    there = stores.mix(system, on)
    found = [
        Holding(system.part_a, a_mg, there.left_a_mg),
        Holding(system.part_b, b_mg, there.left_b_mg),
    ]
    wants: dict[int, tuple[Material, int]] = {}
    for material, mg in colours:
        wants[material.pk] = (material, wants.get(material.pk, (material, 0))[1] + mg)
    for material, mg in wants.values():
        row = stores.material_row(material.pk, on, costs=False)
        found.append(Holding(material, mg, row.left if row else 0))
    return tuple(found), there.mixed_mg
