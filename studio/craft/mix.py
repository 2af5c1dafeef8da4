"""Two-part resin: how much of each, what to do after a slip, and what a mix can't do.

Parts are by weight unless a name says by volume. Grams at the scale are `Decimal` on the scale's step; stored
masses are whole milligrams, volumes whole cubic millimetres, lengths whole micrometres.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from .costing import split
from .rounding import decimal_half_up, whole

# As far as the ten-degree rule is stated.
COOLEST_MDEGC, WARMEST_MDEGC = -1_000, 49_000
Number = Decimal | int | float | str
Part = Number | Fraction


def split_by_weight(total_g: Number, parts: Sequence[Part], step_g: Number) -> tuple[Decimal, ...]:
    """Return grams of each part for a total, on the scale's step; they add up to the total.

    The total is first brought to the step (half up); the steps are then shared by parts, left-over ones to
    the largest remainders, so none is a step off its due.
    Source: arithmetic; largest remainder is *common practice, no source*.

    Raises ValueError for a total, part or step that is not above zero, or a total finer than the step shares.
    """
    total, step = _decimal(total_g), _decimal(step_g)
    ratio = _ratio(parts)
    if total <= 0 or step <= 0:
        raise ValueError("The total and the scale's step must be above zero.")
    steps = int(decimal_half_up(total, step) / step)
    shares = split(steps, ratio)
    if 0 in shares:
        raise ValueError("That is too little for this scale: one part would be nothing. Mix more.")
    return tuple(share * step for share in shares)


def parts_by_weight(volume_parts: Sequence[Part], densities_kgm3: Sequence[int]) -> tuple[Fraction, ...]:
    """Return parts by weight, the first as printed, for parts by volume of given densities.

    Source: mass is volume times density. Raises ValueError unless both lists match, above zero.
    """
    ratio = _fractions(volume_parts)
    if len(ratio) != len(densities_kgm3) or min(densities_kgm3, default=0) <= 0:
        raise ValueError("Give each part its density, above zero.")
    return tuple(part * density / densities_kgm3[0] for part, density in zip(ratio, densities_kgm3, strict=True))


def parts_by_volume(weight_parts: Sequence[Part], densities_kgm3: Sequence[int]) -> tuple[Fraction, ...]:
    """Return parts by volume, the first as printed, for parts by weight: the denser part fills less.

    Source: mass is volume times density. Raises ValueError unless both lists match, above zero.
    """
    ratio = _fractions(weight_parts)
    if len(ratio) != len(densities_kgm3) or min(densities_kgm3, default=0) <= 0:
        raise ValueError("Give each part its density, above zero.")
    return tuple(part * densities_kgm3[0] / density for part, density in zip(ratio, densities_kgm3, strict=True))


def after_overshoot(parts: Sequence[Part], poured_g: Number, which: int, step_g: Number = 1) -> tuple[Decimal, ...]:
    """Return what each part must come to when `poured_g` of part number `which` (from 0) is in the cup.

    The part poured keeps its figure; the others follow it, to the nearest step of the scale.
    Source: arithmetic. Raises ValueError for a part that doesn't exist or a weight that is not above zero.
    """
    ratio, poured, step = _ratio(parts), _decimal(poured_g), _decimal(step_g)
    if not 0 <= which < len(ratio):
        raise ValueError("Say which of the parts was poured.")
    if poured <= 0:
        raise ValueError("What was poured must be above zero.")
    return tuple(
        poured if index == which else _on_step(Fraction(poured) * part / ratio[which], step)
        for index, part in enumerate(ratio)
    )


def rescue(parts: Sequence[Part], poured_g: Sequence[Number], step_g: Number = 1) -> tuple[Decimal, ...]:
    """Return what to add of each part so that a wrong mix comes right, nothing taken out.

    The part that is furthest ahead leads. Source: arithmetic. Raises ValueError when nothing was poured.
    """
    ratio, step = _ratio(parts), _decimal(step_g)
    poured = [_decimal(grams) for grams in poured_g]
    if len(poured) != len(ratio) or min(poured) < 0 or not any(poured):
        raise ValueError("Say for each part what was poured; something must have been.")
    lead = max(Fraction(grams) / part for grams, part in zip(poured, ratio, strict=True))
    return tuple(
        max(_on_step(lead * part - Fraction(grams), step), Decimal(0) * step)
        for grams, part in zip(poured, ratio, strict=True)
    )


def ratio_error_ppm(parts: Sequence[Part], poured_g: Sequence[Number]) -> int:
    """Return how far the ratio is off, in parts per million: above zero the second part is too much.

    With more than two parts: the largest deviation of any part against the first. An error of the ratio is
    the same relative error of the chemical index.
    Source: arithmetic.
    Raises ValueError when a part is missing or nothing of the first was poured.
    """
    ratio = _ratio(parts)
    poured = [Fraction(_decimal(grams)) for grams in poured_g]
    if len(poured) != len(ratio) or len(ratio) < 2 or min(poured) < 0 or poured[0] == 0:
        raise ValueError("Say for each part what was poured.")
    errors = [poured[index] / poured[0] * ratio[0] / ratio[index] - 1 for index in range(1, len(ratio))]
    return whole(max(errors, key=abs) * 1_000_000)


def good_range(
    parts: Sequence[Part], first_g: Number, tolerance_ppm: int, step_g: Number = 1
) -> tuple[Decimal, Decimal]:
    """Return the least and the most of the second part, on the scale's step, that keep the ratio good.

    The tolerance is the product's own, from its data sheet. Source: arithmetic.
    Raises ValueError for other than two parts, or when no step of the scale lies inside: use a finer scale.
    """
    ratio, step = _ratio(parts), _decimal(step_g)
    if len(ratio) != 2 or not 0 <= tolerance_ppm < 1_000_000:
        raise ValueError("A range is for two parts and a tolerance below the whole.")
    due = Fraction(_decimal(first_g)) * ratio[1] / ratio[0]
    slack = due * tolerance_ppm / 1_000_000
    low = math.ceil((due - slack) / Fraction(step)) * step
    high = math.floor((due + slack) / Fraction(step)) * step
    if low > high:
        raise ValueError("This scale can't hold that tolerance: use a finer one, or mix more.")
    return low, high


def mixable_mg(parts: Sequence[Part], left_mg: Sequence[int]) -> int:
    """Return how much mixed resin the stores make; the scarcer part decides. Milligrams, rounded down.

    Source: arithmetic. Raises ValueError when a part is missing or below zero.
    """
    ratio = _ratio(parts)
    if len(left_mg) != len(ratio) or min(left_mg) < 0:
        raise ValueError("Say for each part what is left, zero or more.")
    total = sum(ratio)
    return min(left * total // part for left, part in zip(left_mg, ratio, strict=True))


def work_time_s(stated_s: int, stated_mdegc: int, room_mdegc: int) -> int:
    """Return the work time (s) at the room's temperature: ten degrees warmer halves it, cooler doubles it.

    Source: the ten-degree rule as an adhesive maker states it, for about −1 to 49 °C.
    Raises ValueError outside that, or for a time that is not above zero.
    """
    if stated_s <= 0:
        raise ValueError("The work time on the data sheet must be above zero.")
    if not all(COOLEST_MDEGC <= t <= WARMEST_MDEGC for t in (stated_mdegc, room_mdegc)):
        raise ValueError("The rule holds between −1 and 49 °C.")
    return round(stated_s * 2 ** ((stated_mdegc - room_mdegc) / 10_000))


@dataclass(frozen=True)
class Limit:
    """Something about a batch that its data sheet does not allow: a code, and words for the maker."""

    code: str
    words: str


def batch_limits(
    *,
    total_mg: int,
    least_mg: int | None = None,
    most_mg: int | None = None,
    depth_um: int | None = None,
    most_depth_um: int | None = None,
    colorant_mg: int = 0,
    most_colorant_ppm: int | None = None,
) -> tuple[Limit, ...]:
    """Return each limit of the data sheet that a batch breaks; none given, none checked.

    Source: the product's own data sheet, as the studio typed it in.
    """
    found = []
    if least_mg is not None and total_mg < least_mg:
        found.append(Limit("too little", "Below the smallest batch it may not have the heat to cure: mix more."))
    if most_mg is not None and total_mg > most_mg:
        found.append(Limit("too much", "Above the largest batch it may run hot in the cup: pour it in two."))
    if depth_um is not None and most_depth_um is not None and depth_um > most_depth_um:
        found.append(Limit("too deep", "Deeper than this resin allows in one pour: pour it in layers."))
    if most_colorant_ppm is not None and colorant_mg * 1_000_000 > most_colorant_ppm * total_mg:
        found.append(Limit("too much colour", "More colour than this resin takes: use less of it."))
    return tuple(found)


def _decimal(value: Number) -> Decimal:
    number = Decimal(str(value)) if isinstance(value, float) else Decimal(value)
    if not number.is_finite():
        raise ValueError("That is not a number.")
    return number


def _fractions(parts: Sequence[Part]) -> tuple[Fraction, ...]:
    ratio = tuple(part if isinstance(part, Fraction) else Fraction(_decimal(part)) for part in parts)
    if not ratio or min(ratio) <= 0:
        raise ValueError("Every part of a mix must be above zero.")
    return ratio


def _ratio(parts: Sequence[Part]) -> tuple[int, ...]:
    """Return parts as the smallest whole numbers in the same ratio."""
    ratio = _fractions(parts)
    scale = math.lcm(*(part.denominator for part in ratio))
    numbers = [int(part * scale) for part in ratio]
    common = math.gcd(*numbers)
    return tuple(number // common for number in numbers)


def _on_step(exact: Fraction, step: Decimal) -> Decimal:
    return whole(exact / Fraction(step)) * step
