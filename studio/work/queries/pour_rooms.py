"""The room in each mould of a pour, what the wood takes of it, and how far off that may be."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from studio.craft import cast, lift, moisture, room
from studio.craft.rounding import divide
from studio.equipment.models import Mould, Shape
from studio.equipment.queries import mould_mm3
from studio.fields.quantity import show
from studio.people import settings as studio_settings
from studio.wood.kinds import WoodKind
from studio.work.models import RoomReading, Stage, Weighing, Workpiece
from studio.work.queries.pour_parts import BlankIn, FillWanted, Lift, RoomFound, Share

PPM = 1_000_000
Way = RoomReading.Way
WITH_RESIN = (Weighing.Condition.DRAINED, Weighing.Condition.BAKED, Weighing.Condition.CAST)


@dataclass(frozen=True)
class Seen:
    """What is written down of the blanks: weights without resin in order, the latest reading of each way, and which
    were stabilized."""

    weights: dict[int, list[Weighing]] = field(default_factory=dict)
    stabilized: set[int] = field(default_factory=set)
    readings: dict[tuple[int, str, int | None], RoomReading] = field(default_factory=dict)

    def dry(self, blank: Workpiece) -> Weighing | None:
        """The last oven-dry weighing, else the last of any kind."""
        rows = self.weights.get(blank.pk, [])
        dry = [row for row in rows if row.condition == Weighing.Condition.OVEN_DRY]
        return dry[-1] if dry else rows[-1] if rows else None

    def reading(self, blank: Workpiece, way: str, mould: Mould | None = None) -> RoomReading | None:
        return self.readings.get((blank.pk, way, mould.pk if mould else None))

    def wet_percent(self, blank: Workpiece, reading: RoomReading) -> float | None:
        """How wet it was by its own weights when it was measured; None where that isn't known, or it was dry."""
        rows, dry = self.weights.get(blank.pk, []), self.dry(blank)
        if dry is None or dry.condition != Weighing.Condition.OVEN_DRY or reading.at >= dry.at:
            return None
        before = [row for row in rows if row.at <= reading.at] or rows[:1]
        wet = (before[-1].mass_mg / dry.mass_mg - 1) * 100
        return wet if wet > 0 else None


def seen(blanks: Sequence[Workpiece]) -> Seen:
    """Weights and readings of these blanks. Two queries."""
    found = Seen()
    rows = Weighing.objects.filter(workpiece__in=blanks, struck_out=False)
    for row in rows.order_by("at", "pk"):
        if row.condition == Weighing.Condition.BAKED:
            found.stabilized.add(row.workpiece_id)
        if row.condition in WITH_RESIN:
            continue
        found.weights.setdefault(row.workpiece_id, []).append(row)
    for one in RoomReading.objects.filter(workpiece__in=blanks).order_by("at", "pk"):
        found.readings[(one.workpiece_id, one.way, one.mould_id)] = one
    return found


def find_room(
    wanted: FillWanted, there: Seen, shrink_ppm: int, refusals: list[str], cautions: list[str]
) -> RoomFound:
    """One mould reckoned by the best that is known; what is missing goes to the refusals. `shrink_ppm`: what the
    resin loses of its volume in curing."""
    before = len(refusals)
    holds, geometry = _mould_room(wanted, refusals)
    beads = _beads(wanted, there)
    told = wanted.wood_mm3 is not None or beads is not None
    pairs = [
        found for blank in wanted.blanks if (found := _blank_in(blank, there, told, refusals, cautions))
    ]
    woods = [wood for _, wood in pairs]
    if wanted.wood_mm3 is not None:
        thirsty = any(wood.thirsty for wood in woods)
        whole = room.Wood("the wood", measured_mm3=wanted.wood_mm3, thirsty=thirsty)
        woods = [whole] if wanted.wood_mm3 else []
    woods = [replace(wood, bark=wanted.bark) for wood in woods] if wanted.bark else woods
    resin = None
    name = wanted.mould.name if wanted.mould else "the mould"
    parts = [part for wood in woods if (part := room.wood_part(wood))]
    takes = -sum(part.mm3 for part in parts)
    if holds and takes >= holds and beads is None:
        refusals.append(
            f"The wood takes {show(takes, 'volume')} and {name} holds {show(holds, 'volume')}: no room is left for "
            "resin. Look at the weights and at the mould."
        )
    elif holds and len(refusals) == before:
        resin = room.resin_room(
            mould_mm3=holds, measured=bool(wanted.mould and wanted.mould.fill_mm3), woods=woods,
            beads_mm3=beads, more_mm3=wanted.more_mm3, shrink_ppm=shrink_ppm, mould=name,
            bark_share=_bark_share() / PPM if any(wood.bark == "gone" for wood in woods) else 0,
        )  # fmt: skip
        takes = holds - resin.parts[0].mm3 if beads is not None else takes
    blanks = tuple(blank for blank, _ in pairs)
    depth = wanted.level_um or _level(wanted) or (wanted.mould.height_um if wanted.mould else None)
    how = geometry.rpartition(": ")[0] if wanted.mould else "as you say"
    shares = _shares(resin, blanks, how) if resin else ()
    return RoomFound(wanted, blanks, holds, max(0, takes), geometry, depth, resin, shares)


def fill_lift(found: RoomFound, resin_kgm3: int) -> Lift | None:
    """What the wood of one mould is lifted with; None where its room or weight isn't known."""
    mass = sum(blank.mass_mg for blank in found.blanks)
    if found.resin is None or not mass or not found.wood_mm3 or not all(blank.mass_mg for blank in found.blanks):
        return None
    kgm3 = divide(mass * 1000, found.wood_mm3)
    if not kgm3:
        return None
    lifts = lift.lift_mg(found.wood_mm3, kgm3, resin_kgm3)
    return Lift(lifts, found.wood_mm3, kgm3, lift.must_be_held(lifts))


def _beads(wanted: FillWanted, there: Seen) -> int | None:
    """A dry fill of this mould with just these blanks in it, filled to the rim as the plan fills it."""
    lower = wanted.level_um or wanted.profile_mm3
    if wanted.mould is None or lower or wanted.wood_mm3 is not None or not wanted.blanks:
        return None
    rows = [there.reading(blank, Way.BEADS, wanted.mould) for blank in wanted.blanks]
    fills = {(row.at, row.mm3, row.together) for row in rows if row is not None}
    if None in rows or len(fills) != 1:
        return None
    _, mm3, together = fills.pop()
    return mm3 if together == len(rows) else None


def _level(wanted: FillWanted) -> int | None:
    """How high what the piece needs stands in the mould; None where its walls aren't straight."""
    mould, needs = wanted.mould, wanted.profile_mm3
    if mould is None or not needs or mould.shape not in (Shape.BOX, Shape.ROUND, Shape.TUBE) or not mould.height_um:
        return None
    return divide(mould.height_um * needs, mould_mm3(mould))


def _mould_room(wanted: FillWanted, refusals: list[str]) -> tuple[int, str]:
    """The room to the level it is filled to, and the arithmetic in words."""
    mould, level = wanted.mould, wanted.level_um
    if wanted.profile_mm3:
        return _needed(wanted, wanted.profile_mm3, refusals)
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


def _needed(wanted: FillWanted, needs: int, refusals: list[str]) -> tuple[int, str]:
    """What the turned piece needs, where that is less than the mould."""
    mould = wanted.mould
    holds = mould_mm3(mould) if mould else wanted.room_mm3
    if wanted.level_um:
        refusals.append("Say either how high it is filled or how much the turned piece needs, not both.")
        return 0, ""
    if holds and needs > holds:
        name = mould.name if mould else "The mould"
        refusals.append(
            f"The turned piece needs {show(needs, 'volume')} and {name} holds {show(holds, 'volume')}: take a bigger "
            "mould, or look at the figure."
        )
        return 0, ""
    high = _level(wanted)
    stands = f", standing {show(high // 1000 * 1000, 'length')} high in the mould" if high else ""
    return needs, f"as much as the turned piece needs{stands}: {show(needs, 'volume')}"


def _sides(mould: Mould, height_um: int | None) -> str:
    def words(um: int | None) -> str:
        return show(um or 0, "length")

    if mould.shape == Shape.BOX:
        return f"{words(mould.length_um)} × {words(mould.width_um)} × {words(height_um)}"
    if mould.shape == Shape.TAPERED:
        return f"{words(mould.diameter_um)} to {words(mould.top_diameter_um)} across, {words(height_um)} high"
    return f"{words(mould.diameter_um)} across, {words(height_um)} high"


def _blank_in(
    blank: Workpiece, there: Seen, told: bool, refusals: list[str], cautions: list[str]
) -> tuple[BlankIn, room.Wood] | None:
    """A blank with what is known of its room, or a refusal that says what is missing to reckon it.

    `told`: its room was measured together with the mould's, or typed.
    """
    species, weighed = blank.species, there.dry(blank)
    bucket, own = there.reading(blank, Way.BUCKET), there.reading(blank, Way.DENSITY)
    mass, at = (weighed.mass_mg, weighed.at) if weighed else (0, None)
    if weighed is None and not told and bucket is None:
        refusals.append(f"{blank.number} was never weighed without resin. Weigh it, or say how much room it takes.")
        return None
    if weighed and weighed.condition != Weighing.Condition.OVEN_DRY:
        cautions.append(
            f"{blank.number} has no oven-dry weight; its last one stands in for it. Damp wood bubbles, and "
            "Part B foams on water."
        )
    if not told and blank.stage in (Stage.CASTING, Stage.PART, Stage.PIECE):
        refusals.append(f"{blank.number} has resin in it already: say how much room it takes, by water or sand.")
        return None
    if not told and bucket is None and own is None and (species is None or not species.density_kgm3):
        named = species.common_name if species else "its wood"
        refusals.append(
            f"{blank.number}: how dense {named} is isn't known. Say how much room it takes, or write the density "
            "on the wood's page."
        )
        return None
    by_species = None
    if species is not None and species.density_kgm3:
        by_species = round(moisture.density_at(species.density_kgm3, species.craft_basis, 0))  # type: ignore[arg-type]
    wood = room.Wood(
        blank.number, mass,
        bucket_mm3=bucket.mm3 if bucket else None,
        wet_percent=there.wet_percent(blank, bucket) if bucket else None,
        shrinkage=species.shrinkage_ppm / 10_000 if species and species.shrinkage_ppm else None,
        own_kgm3=own.kgm3 if own else None,
        species_kgm3=by_species, species=species.common_name if species else "",
        burr=blank.wood_kind in (WoodKind.BURR, WoodKind.ROOT), bark=blank.bark,
        thirsty=blank.punky and blank.pk not in there.stabilized,
    )  # fmt: skip
    part = None if told else room.wood_part(wood)
    by_weight = part is not None and part.code in ("own density", "species")
    kgm3 = (wood.own_kgm3 or by_species or 0) if by_weight else 0
    return BlankIn(blank, mass, kgm3, -part.mm3 if part else 0, at), wood


def _shares(resin: room.Room, blanks: Sequence[BlankIn], geometry: str) -> tuple[Share, ...]:
    by_number = {blank.workpiece.number: blank for blank in blanks}
    return tuple(
        Share(_words(part, by_number.get(part.of), geometry), part.mm3, _give(part.spread_mm3))
        for part in resin.parts
    )


def _give(spread_mm3: float) -> int:
    """To the millilitre from ten of them on: more would pretend to know."""
    give = round(room.give_or_take(spread_mm3))
    return give if give < 10_000 else round(give / 1000) * 1000


def _percent(share: float) -> str:
    return show(round(share * PPM), "share")


def _bark_share() -> int:
    found: int = studio_settings.value("bark_share_ppm")
    return found


def _gone(part: room.Part) -> str:
    """Where bark was cleaned out: the share of the wood's room that it was, and whose figure that is."""
    share = _bark_share()
    asked = studio_settings.question("bark_share_ppm")
    whose = asked.whose if share == asked.default else "your figure"
    return f"Where bark was cleaned out of {part.of}, {show(share, 'share')} of its room ({whose})"


def _words(part: room.Part, blank: BlankIn | None, geometry: str) -> str:
    """Where one part of the figure comes from, as one would say it."""
    if part.code == "bark gone":
        return _gone(part)
    of = f"{show(blank.mass_mg, 'mass')} at {show(blank.kgm3, 'density')}" if blank else ""
    said = {
        "mould": f"The room, {geometry}",
        "beads": "Filled dry with the wood in it, and 2 % more for the cracks that beads bridge over",
        "measured": "The wood, as you measured it",
        "bucket": f"{part.of} by the bucket on the scale, less what it shrank since if it was wet then",
        "own density": f"{part.of}, {of}, its own density",
        "species": f"{part.of}, {of}, as its wood usually is",
        "thirsty": f"{part.of} is punky and drinks",
        "bark in": f"Bark left in {part.of}, {_percent(room.BARK['in'])} of its room either way (common practice)",
        "bark out": f"Hollows where bark was in {part.of}, {_percent(room.BARK['out'])} either way (common practice)",
        "more": "A riser, or a hollow, as you say",
        "shrink": "What the resin shrinks in curing, by its sheet",
    }
    return said.get(part.code, part.code)
