"""How much resin a mould with wood in it takes, by the best way there is, and how far off that may be.

Whole cubic millimetres, milligrams and kg/m³; a spread is one standard deviation, in mm³. Every share below is
*common practice, no source*, unless it says otherwise; each is an argument.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .cast import wood_mm3
from .moisture import shrinkage_percent

# Nine times in ten a normal error stays within so many standard deviations.
NINE_IN_TEN = 1.6449
SIDES, FILLED = 0.015, 0.01
BEADS_BIAS, BEADS = 0.02, 0.03
BUCKET = 0.02
OWN_DENSITY = 0.04
# A coefficient of variation of about 10 % within one species: Wood Handbook, chapter 4, *from memory*.
SPECIES, BURR = 0.10, 0.20
# Bark left in, or cleaned out before the wood was weighed, makes the figure less sure by such a share of its room.
BARK = {"in": 0.05, "out": 0.03}
# Bark cleaned out since then leaves room for resin: such a share of the wood's, half of it in doubt.
BARK_GONE = 0.05
DRUNK, DRUNK_SPREAD = 0.03, 0.02


@dataclass(frozen=True)
class Part:
    """One source of the figure: `mm3` is what it adds to the resin (below zero: takes from it).

    Parts of one `common` name err together, as blanks reckoned by one species figure do.
    """

    code: str
    of: str
    mm3: int
    spread_mm3: float
    common: str = ""


@dataclass(frozen=True)
class Wood:
    """One blank: its oven-dry mass and whatever is known of its room, the best of it being used.

    `bucket_mm3` are the grams gained by a scale when the wrapped wood was pushed under, as ml; `wet_percent` its
    moisture at that time (None: it was dry). `bark`: none, in, out
    (before that), gone (since). `shrinkage` is of the volume, green to oven-dry, in percent.
    """

    of: str
    mass_mg: int = 0
    measured_mm3: int | None = None
    bucket_mm3: int | None = None
    wet_percent: float | None = None
    shrinkage: float | None = None
    own_kgm3: int | None = None
    species_kgm3: int | None = None
    species: str = ""
    burr: bool = False
    bark: str = "none"
    thirsty: bool = False


@dataclass(frozen=True)
class Room:
    """Resin one mould takes. `parts` add up to `mm3`; `spread_mm3` is of all of them together."""

    mm3: int
    spread_mm3: float
    parts: tuple[Part, ...]

    @property
    def wood_mm3(self) -> int:
        """The room the wood takes (nothing where only the resin's room was measured)."""
        return -sum(part.mm3 for part in self.parts if part.code in WAYS)


# How a blank's room came to be known, best first.
WAYS = ("measured", "bucket", "own density", "species")


def wood_part(wood: Wood) -> Part | None:
    """Return the room one blank takes, by the best way known; None where nothing is.

    Measured by water or sand; else a bucket on the scale (grams gained are ml; before drying less what the wood
    shrinks, a third of that in doubt); else its mass over its own density; else over its species' figure, spread
    wider for burr. Source: Archimedes; mass over density; linear shrinkage below 30 % moisture (Wood Handbook,
    chapter 4, *from memory*).
    """
    if wood.measured_mm3 is not None:
        return _taken("measured", wood, wood.measured_mm3, BUCKET)
    if wood.bucket_mm3 is not None:
        lost = _shrinks(wood)
        room = round(wood.bucket_mm3 * (1 - lost))
        return _taken("bucket", wood, room, math.hypot(BUCKET, lost / 3))
    if wood.own_kgm3 and wood.mass_mg:
        return _taken("own density", wood, wood_mm3(wood.mass_mg, wood.own_kgm3), OWN_DENSITY)
    if wood.species_kgm3 and wood.mass_mg:
        share = BURR if wood.burr else SPECIES
        room = wood_mm3(wood.mass_mg, wood.species_kgm3)
        return _taken("species", wood, room, share, common=f"species {wood.species or wood.species_kgm3}")
    return None


def resin_room(
    *,
    mould_mm3: int,
    measured: bool = False,
    woods: Sequence[Wood] = (),
    beads_mm3: int | None = None,
    beads_bias: float = BEADS_BIAS,
    more_mm3: int = 0,
    shrink_ppm: int = 0,
    bark_share: float = BARK_GONE,
    mould: str = "the mould",
) -> Room:
    """Return the resin a mould takes with the wood in place.

    `beads_mm3` is a dry fill in this mould with the wood in: it counts before everything, less nothing but plus
    its bias, since beads and rice bridge over cracks that resin finds. Else the mould's room less each blank's. On
    top: `more_mm3` for a riser, pockets or a cavity, what thirsty wood drinks, and what the resin shrinks in
    curing. `bark_share` of a blank's room was bark, where that was cleaned out since the blank was
    weighed. Sources: geometry and arithmetic; the shares at the head of this module.
    Raises ValueError where a blank's room is unknown, or no room is left.
    """
    if beads_mm3 is not None:
        parts = [Part("beads", mould, round(beads_mm3 * (1 + beads_bias)), beads_mm3 * BEADS)]
    else:
        share = FILLED if measured else SIDES
        parts = [Part("mould", mould, mould_mm3, mould_mm3 * share, f"mould {mould}")]
        for wood in woods:
            found = wood_part(wood)
            if found is None:
                raise ValueError(f"How much room {wood.of} takes isn't known: weigh it, or measure its room.")
            parts.append(found)
            if wood.bark in BARK:
                parts.append(Part(f"bark {wood.bark}", wood.of, 0, -found.mm3 * BARK[wood.bark]))
            elif wood.bark == "gone" and bark_share:
                room = -found.mm3 * bark_share
                parts.append(Part("bark gone", wood.of, round(room), room / 2))
    parts += [_drunk(wood, part) for wood in woods if wood.thirsty and (part := wood_part(wood))]
    if more_mm3:
        parts.append(Part("more", mould, more_mm3, more_mm3 * 0.1))
    so_far = sum(part.mm3 for part in parts)
    if so_far <= 0:
        raise ValueError("The wood takes all the room in the mould: look at the weights and at the mould.")
    if shrink_ppm:
        shrinks = so_far * shrink_ppm / 1_000_000
        parts.append(Part("shrink", mould, round(shrinks), shrinks / 3))
    return Room(sum(part.mm3 for part in parts), spread(parts), tuple(parts))


def spread(parts: Sequence[Part]) -> float:
    """Return the standard deviation of all parts together: those of one name add up, the rest as squares do.

    Source: propagation of independent and of fully dependent errors (JCGM 100:2008, *from memory*).
    """
    together: dict[str, float] = {}
    for place, part in enumerate(parts):
        name = part.common or f"#{place}"
        together[name] = together.get(name, 0) + math.copysign(part.spread_mm3, part.mm3)
    return math.sqrt(sum(value * value for value in together.values()))


def give_or_take(spread_mm3: float) -> float:
    """Return what a figure may be off by, nine times in ten. Source: the normal distribution."""
    return NINE_IN_TEN * spread_mm3


def _taken(code: str, wood: Wood, room: int, share: float, common: str = "") -> Part:
    return Part(code, wood.of, -room, room * share, common)


def _drunk(wood: Wood, part: Part) -> Part:
    """What punky or open wood drinks of the resin, as a share of its own room."""
    room = -part.mm3
    return Part("thirsty", wood.of, round(room * DRUNK), room * DRUNK_SPREAD)


def _shrinks(wood: Wood) -> float:
    if not wood.wet_percent or not wood.shrinkage:
        return 0.0
    still_to_go = wood.shrinkage - shrinkage_percent(wood.shrinkage, min(30.0, wood.wet_percent))
    return max(0.0, still_to_go) / 100
