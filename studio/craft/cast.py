"""What goes into a mould: its room, less the wood, in grams of each part and of colour.

Whole numbers in stored units: micrometres, cubic millimetres, milligrams, kg/m³, parts per million.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from .mix import Part, split_by_weight
from .rounding import divide, whole


def box_mm3(length_um: int, width_um: int, height_um: int) -> int:
    """Return the room in a box, filled to a height. Source: geometry. Raises ValueError unless above zero."""
    _above_zero(length_um, width_um, height_um)
    return divide(length_um * width_um * height_um, 10**9)


def round_mm3(diameter_um: int, height_um: int) -> int:
    """Return the room in a round mould, filled to a height. Source: geometry. Raises ValueError as above."""
    return tapered_mm3(diameter_um, diameter_um, height_um)


def tapered_mm3(bottom_um: int, top_um: int, height_um: int) -> int:
    """Return the room in a pail: diameter at the bottom, diameter at the level of the fill, and its height.

    Source: geometry (a cone with its tip cut off). Raises ValueError unless all are above zero.
    """
    _above_zero(bottom_um, top_um, height_um)
    squares = bottom_um**2 + bottom_um * top_um + top_um**2
    return whole(Fraction(math.pi) * height_um * squares / (12 * 10**9))


def diameter_at(bottom_um: int, top_um: int, height_um: int, level_um: int) -> int:
    """Return a pail's diameter at a level, from its bottom, its rim and its full height.

    Source: geometry. Raises ValueError when the level is above the rim or a figure is not above zero.
    """
    _above_zero(bottom_um, top_um, height_um, level_um)
    if level_um > height_um:
        raise ValueError("That is above the rim: it would run over.")
    return bottom_um + divide((top_um - bottom_um) * level_um, height_um)


def wood_mm3(mass_mg: int, density_kgm3: int) -> int:
    """Return the room wood takes up: its mass over its density.

    Source: arithmetic; the density must be at the moisture the wood has now (`moisture.density_at`).
    Raises ValueError for a density that is not above zero or a mass below it.
    """
    if density_kgm3 <= 0 or mass_mg < 0:
        raise ValueError("The wood's density must be above zero, and its weight not below.")
    return divide(mass_mg * 1000, density_kgm3)


@dataclass(frozen=True)
class CastPlan:
    """What to pour. `parts_mg` stand on the scale's step and make `total_mg`; colour comes on top."""

    mould_mm3: int
    wood_mm3: int
    fill_mm3: int
    fill_mg: int
    waste_mg: int
    total_mg: int
    parts_mg: tuple[int, ...]
    colorant_mg: int


def grams_for_cast(
    *,
    mould_mm3: int,
    resin_kgm3: int,
    parts: Sequence[Part],
    wood_mg: int = 0,
    wood_kgm3: int | None = None,
    waste_ppm: int = 100_000,
    step_mg: int = 1000,
    colorant_ppm: int = 0,
    colorant_step_mg: int = 100,
) -> CastPlan:
    """Return the milligrams of each part and of colour for a mould with wood in it.

    The mould's room less the wood's (mass over density), times the density of mixed resin, plus the allowance
    for cup, stick and leaks, up to the next step of the scale; colour as a share of the mixed resin.
    Several moulds poured from one cup: pass the sum of their rooms and of their wood.
    Source: geometry and arithmetic; 5 to 15 % for waste is *common practice, no source*.

    Raises ValueError when the wood fills the mould, or a figure is out of range.
    """
    _above_zero(mould_mm3, resin_kgm3, step_mg, colorant_step_mg)
    if not 0 <= waste_ppm <= 1_000_000 or not 0 <= colorant_ppm <= 1_000_000:
        raise ValueError("Waste and colour are shares: between nothing and all of it.")
    if wood_mg and wood_kgm3 is None:
        raise ValueError("The wood's density is needed to know the room it takes up.")
    wood = wood_mm3(wood_mg, wood_kgm3) if wood_kgm3 is not None else 0
    fill = mould_mm3 - wood
    if fill <= 0:
        raise ValueError("The wood takes up all the room in the mould: check its weight, density and the mould.")
    fill_mg = divide(fill * resin_kgm3, 1000)
    needed = divide(fill_mg * (1_000_000 + waste_ppm), 1_000_000)
    total = -(-needed // step_mg) * step_mg
    shares = split_by_weight(total, parts, step_mg)
    colour = divide(divide(total * colorant_ppm, 1_000_000), colorant_step_mg) * colorant_step_mg
    return CastPlan(
        mould_mm3, wood, fill, fill_mg, total - fill_mg, total, tuple(int(share) for share in shares), colour
    )


def _above_zero(*values: int) -> None:
    if min(values) <= 0:
        raise ValueError("Every measure here must be above zero.")
