"""What a pour takes, before anything is weighed."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from studio.craft import cast, mix, moisture
from studio.craft.costing import split
from studio.craft.rounding import divide
from studio.equipment.models import Mould, Shape
from studio.equipment.queries import mould_mm3
from studio.fields.quantity import show
from studio.people import settings as studio_settings
from studio.stores import queries as stores
from studio.stores.models import Material, ResinSystem
from studio.work.models import Stage, Weighing, Workpiece

PPM = 1_000_000
# Colour is weighed on a finer scale than resin: to a tenth of a gram. *Common practice, no source.*
COLOUR_STEP_MG = 100


@dataclass(frozen=True)
class FillWanted:
    """One mould and what lies in it. `level_um`: filled only so high. `room_mm3`: how much it holds where no
    mould of the studio's is named. `wood_mm3`: the room the wood takes, where somebody measured it."""

    mould: Mould | None = None
    blanks: Sequence[Workpiece] = ()
    level_um: int | None = None
    room_mm3: int | None = None
    wood_mm3: int | None = None


@dataclass(frozen=True)
class BlankIn:
    """One blank as reckoned with: its oven-dry weight, the density it has there, and the room it takes."""

    workpiece: Workpiece
    mass_mg: int
    kgm3: int
    mm3: int
    weighed_at: datetime | None


@dataclass(frozen=True)
class FillPlan:
    """One mould of a plan. `planned_mg` is its share of all that is mixed, cup and drips in it."""

    wanted: FillWanted
    blanks: tuple[BlankIn, ...]
    room_mm3: int
    wood_mg: int
    wood_mm3: int
    resin_mm3: int
    planned_mg: int
    geometry: str
    depth_um: int | None


@dataclass(frozen=True)
class Holding:
    """What a plan wants of one material and what the stores hold of it, past batches left out."""

    material: Material
    wants: int
    has: int

    @property
    def short(self) -> bool:
        return self.has < self.wants


@dataclass(frozen=True)
class PourPlan:
    """Grams to mix. `refusals` say why it can't be poured as asked, `cautions` what to think of first.

    With a refusal the figures may be nothing. Colour comes on top of the mixed resin.
    """

    system: ResinSystem
    fills: tuple[FillPlan, ...]
    kgm3: int
    waste_ppm: int
    step_mg: int
    fill_mg: int
    waste_mg: int
    total_mg: int
    a_mg: int
    b_mg: int
    colorant: Material | None
    colorant_ppm: int
    colorant_mg: int
    stores: tuple[Holding, ...]
    stores_make_mg: int
    refusals: tuple[str, ...]
    cautions: tuple[str, ...]


def plan_pour(
    system: ResinSystem,
    fills: Sequence[FillWanted],
    *,
    at: datetime,
    colorant: Material | None = None,
    colorant_ppm: int = 0,
) -> PourPlan:
    """Will reckon the grams of Part A, Part B and colour for these moulds with this wood in them.

    Room of each mould by its geometry (or as measured), less the wood's (oven-dry mass over oven-dry density,
    or as measured), times the density of mixed resin, plus the studio's allowance for waste. Nothing is
    stored. What makes it impossible stands in `refusals`. Four queries, and the studio's answers.
    Source: geometry; mass is volume times density; the allowance is the studio's (`waste_allowance_ppm`).
    """
    refusals: list[str] = []
    cautions: list[str] = []
    on = studio_settings.local_date(at)
    waste_ppm = studio_settings.value("waste_allowance_ppm", on)
    step_mg = studio_settings.value("scale_step_mg")
    kgm3 = _mixed_density(system)
    if not kgm3:
        refusals.append(
            f"How dense mixed {system.name} is isn't known yet. Write it on the resin's page, from its data sheet."
        )
    weights = _dry_weights([blank for fill in fills for blank in fill.blanks])
    rooms = [_room(fill, weights, refusals, cautions) for fill in fills]
    _refuse_twice(fills, refusals)
    _caution_lying_out(rooms, at, cautions)
    total = _total(system, rooms, kgm3 or 0, waste_ppm, step_mg, colorant_ppm if colorant else 0, refusals)
    fill_mg, total_mg, (a_mg, b_mg), colour_mg = total
    planned = split(total_mg, [room.resin_mm3 for room in rooms]) if total_mg else (0,) * len(rooms)
    found = tuple(
        FillPlan(
            room.wanted, room.blanks, room.room_mm3, sum(blank.mass_mg for blank in room.blanks), room.wood_mm3,
            room.resin_mm3, share, room.geometry, room.depth_um,
        )
        for room, share in zip(rooms, planned, strict=True)
    )  # fmt: skip
    if total_mg:
        depth = max((room.depth_um for room in rooms if room.depth_um), default=None)
        refusals += _limits(system, total_mg, colour_mg)
        cautions += _too_deep(system, depth)
    holdings, make_mg = _holdings(system, colorant, a_mg, b_mg, colour_mg, at)
    return PourPlan(
        system, found, kgm3 or 0, waste_ppm, step_mg, fill_mg, total_mg - fill_mg, total_mg, a_mg, b_mg,
        colorant, colorant_ppm, colour_mg, holdings, make_mg, tuple(refusals), tuple(dict.fromkeys(cautions)),
    )  # fmt: skip


@dataclass(frozen=True)
class _Room:
    wanted: FillWanted
    blanks: tuple[BlankIn, ...]
    room_mm3: int
    wood_mm3: int
    geometry: str
    depth_um: int | None

    @property
    def resin_mm3(self) -> int:
        return max(0, self.room_mm3 - self.wood_mm3)


def _mixed_density(system: ResinSystem) -> int | None:
    """As its sheet says, else from the two parts: their masses over the sum of their volumes."""
    if system.mixed_density_kgm3:
        return system.mixed_density_kgm3
    a, b = system.part_a.density_kgm3, system.part_b.density_kgm3
    if not a or not b:
        return None
    whole = system.parts_a + system.parts_b
    return divide(whole * a * b, system.parts_a * b + system.parts_b * a)


def _dry_weights(blanks: Sequence[Workpiece]) -> dict[int, Weighing]:
    """The last oven-dry weighing of each, else the last of any kind but with resin in it. One query."""
    found: dict[int, Weighing] = {}
    with_resin = (Weighing.Condition.DRAINED, Weighing.Condition.BAKED, Weighing.Condition.CAST)
    rows = Weighing.objects.filter(workpiece__in=blanks, struck_out=False).exclude(condition__in=with_resin)
    for row in rows.order_by("at", "pk"):
        held = found.get(row.workpiece_id)
        if held and held.condition == Weighing.Condition.OVEN_DRY != row.condition:
            continue
        found[row.workpiece_id] = row
    return found


def _room(
    wanted: FillWanted, weights: dict[int, Weighing], refusals: list[str], cautions: list[str]
) -> _Room:
    room, geometry = _mould_room(wanted, refusals)
    measured = wanted.wood_mm3
    blanks = tuple(
        found for blank in wanted.blanks
        if (found := _blank_in(blank, weights.get(blank.pk), measured is not None, refusals, cautions))
    )  # fmt: skip
    wood = sum(blank.mm3 for blank in blanks) if measured is None else measured
    if room and wood >= room:
        name = wanted.mould.name if wanted.mould else "the mould"
        refusals.append(
            f"The wood takes {show(wood, 'volume')} and {name} holds {show(room, 'volume')}: no room is left for "
            "resin. Look at the weights and at the mould."
        )
    depth = wanted.level_um or (wanted.mould.height_um if wanted.mould else None)
    return _Room(wanted, blanks, room, wood, geometry, depth)


def _mould_room(wanted: FillWanted, refusals: list[str]) -> tuple[int, str]:
    """The room to the level it is filled to, and the arithmetic in words."""
    mould, level = wanted.mould, wanted.level_um
    if mould is None:
        if not wanted.room_mm3:
            refusals.append("Choose the mould, or say how much it holds.")
            return 0, ""
        return wanted.room_mm3, f"holds {show(wanted.room_mm3, 'volume')}, as you say"
    if level is None:
        room = mould_mm3(mould)
        how = "as it was measured" if mould.fill_mm3 else f"{_sides(mould, mould.height_um)}, to the rim"
        return room, f"{how}: {show(room, 'volume')}"
    if mould.shape == Shape.MEASURED:
        refusals.append(f"{mould.name} was only filled and measured, so how high it is filled can't be reckoned.")
        return 0, ""
    if level <= 0:
        refusals.append("Say how high it is filled: above nothing, or leave it empty for to the rim.")
        return 0, ""
    if mould.height_um and level > mould.height_um:
        refusals.append(
            f"{mould.name} is {show(mould.height_um, 'length')} high inside; it can't be filled to "
            f"{show(level, 'length')}."
        )
        return 0, ""
    if mould.shape == Shape.BOX:
        room = cast.box_mm3(mould.length_um or 0, mould.width_um or 0, level)
    else:
        bottom = mould.diameter_um or 0
        top = mould.top_diameter_um or bottom
        room = cast.tapered_mm3(bottom, cast.diameter_at(bottom, top, mould.height_um or level, level), level)
    return room, f"{_sides(mould, level)}, filled so high: {show(room, 'volume')}"


def _sides(mould: Mould, height_um: int | None) -> str:
    def words(um: int | None) -> str:
        return show(um or 0, "length")

    if mould.shape == Shape.BOX:
        return f"{words(mould.length_um)} × {words(mould.width_um)} × {words(height_um)}"
    if mould.shape == Shape.TAPERED:
        return f"{words(mould.diameter_um)} to {words(mould.top_diameter_um)} across, {words(height_um)} high"
    return f"{words(mould.diameter_um)} across, {words(height_um)} high"


def _blank_in(
    blank: Workpiece,
    weighed: Weighing | None,
    measured: bool,
    refusals: list[str],
    cautions: list[str],
) -> BlankIn | None:
    """A blank with its room, or a refusal that says what is missing to reckon it."""
    species = blank.species
    if weighed is None and not measured:
        refusals.append(f"{blank.number} was never weighed without resin. Weigh it, or say how much room it takes.")
        return None
    mass = weighed.mass_mg if weighed else 0
    at = weighed.at if weighed else None
    if weighed and weighed.condition != Weighing.Condition.OVEN_DRY:
        cautions.append(
            f"{blank.number} has no oven-dry weight; its last one stands in for it. Damp wood bubbles, and "
            "Part B foams on water."
        )
    if measured:
        return BlankIn(blank, mass, 0, 0, at)
    if blank.stage in (Stage.CASTING, Stage.PART, Stage.PIECE):
        refusals.append(f"{blank.number} has resin in it already: say how much room it takes, by water or sand.")
        return None
    if species is None or not species.density_kgm3:
        wood = species.common_name if species else "its wood"
        refusals.append(
            f"{blank.number}: how dense {wood} is isn't known. Say how much room it takes, or write the density "
            "on the wood's page."
        )
        return None
    kgm3 = round(moisture.density_at(species.density_kgm3, species.craft_basis, 0))  # type: ignore[arg-type]
    return BlankIn(blank, mass, kgm3, cast.wood_mm3(mass, kgm3), at)


def _refuse_twice(fills: Sequence[FillWanted], refusals: list[str]) -> None:
    everyone = [blank.number for fill in fills for blank in fill.blanks]
    for number in sorted({number for number in everyone if everyone.count(number) > 1}):
        refusals.append(f"{number} lies in two moulds. Take it out of one.")
    if not fills:
        refusals.append("A pour goes into one mould at least.")


def _caution_lying_out(rooms: Sequence[_Room], at: datetime, cautions: list[str]) -> None:
    limit = studio_settings.value("lie_out_limit_s")
    for room in rooms:
        for blank in room.blanks:
            out = int((at - blank.weighed_at).total_seconds()) if blank.weighed_at else 0
            if out > limit:
                cautions.append(
                    f"{blank.workpiece.number} was weighed dry {show(out, 'duration')} ago; your limit for lying out "
                    f"is {show(limit, 'duration')}. Weigh it again, or dry it once more."
                )


def _total(
    system: ResinSystem,
    rooms: Sequence[_Room],
    kgm3: int,
    waste_ppm: int,
    step_mg: int,
    colorant_ppm: int,
    refusals: list[str],
) -> tuple[int, int, tuple[int, int], int]:
    """(resin in the moulds, all to mix, (A, B), colour), all nothing where something was refused."""
    nothing = (0, 0, (0, 0), 0)
    resin = sum(room.resin_mm3 for room in rooms)
    if refusals or not resin or not kgm3 or any(not room.resin_mm3 for room in rooms):
        return nothing
    try:
        plan = cast.grams_for_cast(
            mould_mm3=resin,
            resin_kgm3=kgm3,
            parts=(system.parts_a, system.parts_b),
            waste_ppm=waste_ppm,
            step_mg=step_mg,
            colorant_ppm=colorant_ppm,
            colorant_step_mg=COLOUR_STEP_MG,
        )
    except ValueError as stop:
        refusals.append(str(stop))
        return nothing
    return plan.fill_mg, plan.total_mg, (plan.parts_mg[0], plan.parts_mg[1]), plan.colorant_mg


def _limits(system: ResinSystem, total_mg: int, colour_mg: int) -> list[str]:
    """What the sheet doesn't allow, with its figure: the booking refuses the same."""
    figures = {
        "too little": ("smallest batch", system.smallest_mg, "mass"),
        "too much": ("largest batch", system.largest_mg, "mass"),
        "too much colour": ("most colour", system.colorant_limit_ppm, "share"),
    }
    found = mix.batch_limits(
        total_mg=total_mg,
        least_mg=system.smallest_mg,
        most_mg=system.largest_mg,
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
    system: ResinSystem, colorant: Material | None, a_mg: int, b_mg: int, colour_mg: int, at: datetime
) -> tuple[tuple[Holding, ...], int]:
    """What is wanted against what there is. Three queries at most."""
    on = studio_settings.local_date(at)
    there = stores.mix(system, on)
    found = [
        Holding(system.part_a, a_mg, there.left_a_mg),
        Holding(system.part_b, b_mg, there.left_b_mg),
    ]
    if colorant is not None:
        row = stores.material_row(colorant.pk, on, costs=False)
        found.append(Holding(colorant, colour_mg, row.left if row else 0))
    return tuple(found), there.mixed_mg
