"""Water in wood: how much there is, where it settles, and when it is gone.

Moisture is always in percent of the oven-dry mass. Grams, degrees Celsius, hours, kg/m³.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

Number = float | int | Decimal
Basis = Literal["green", "12 %", "oven-dry", "air-dry"]
FIBRE_SATURATION = 30.0
CELL_WALL = 1.54


def moisture_content(wet_g: Number, dry_g: Number) -> float:
    """Return moisture in percent of the oven-dry mass, from two weighings in grams; it may exceed 100.

    Source: ASTM D4442-20 section 3.1.1; Wood Handbook (FPL-GTR-282) equation 4-2.
    Raises ValueError when the dry mass is not above zero or the wet mass is below it by more than 5 %.
    """
    wet, dry = float(wet_g), float(dry_g)
    if not (math.isfinite(wet) and math.isfinite(dry)) or dry <= 0 or wet <= 0:
        raise ValueError("Both weights must be above zero.")
    if wet < 0.95 * dry:
        raise ValueError("The wet weight is well below the dry one: look whether they are the wrong way round.")
    return 100 * (wet - dry) / dry


def equilibrium_moisture(temp_c: float, rh: float) -> float:
    """Return the moisture (%) at which wood settles in air of temp_c and relative humidity rh (0 to 1).

    Source: Wood Handbook (FPL-GTR-282) equation 4-5, Celsius coefficients (Hailwood and Horrobin). Its own
    table spans −1 to 132 °C and 5 to 95 % humidity; beyond that it is an extrapolation.
    Raises ValueError for a humidity outside 0 to 1 or a temperature outside −10 to 140 °C.
    """
    if not 0 <= rh <= 1:
        raise ValueError("Humidity is a share: between 0 and 1.")
    if not -10 <= temp_c <= 140:
        raise ValueError("The formula holds between −10 and 140 °C.")
    t = temp_c
    w = 349 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * rh
    layer = (k1 * kh + 2 * k1 * k2 * kh**2) / (1 + k1 * kh + k1 * k2 * kh**2)
    moisture: float = 1800 / w * (kh / (1 - kh) + layer)
    return moisture


def air_pressure_pa(altitude_m: float) -> float:
    """Return the pressure of standard air at an altitude in metres, in pascal.

    Source: ISO 2533:1975, troposphere (constants *from memory*, checked against tables).
    Raises ValueError outside −500 to 11 000 m.
    """
    if not -500 <= altitude_m <= 11_000:
        raise ValueError("An altitude lies between −500 and 11 000 m.")
    return float(101_325 * (1 - 0.0065 * altitude_m / 288.15) ** (9.80665 / (287.05287 * 0.0065)))


def boiling_point_c(altitude_m: float) -> float:
    """Return the temperature (°C) at which water boils at an altitude in metres, in standard air.

    Source: IAPWS-IF97, equation 31 (saturation temperature; coefficients *from memory*, checked against
    tables), at the pressure of ISO 2533:1975. Raises ValueError outside −500 to 11 000 m.
    """
    n = (
        1167.0521452767, -724213.16703206, -17.073846940092, 12020.824702470, -3232555.0322333,
        14.915108613530, -4823.2657361591, 405113.40542057, -0.23855557567849, 650.17534844798,
    )  # fmt: skip
    beta = (air_pressure_pa(altitude_m) / 1e6) ** 0.25
    e = beta**2 + n[2] * beta + n[5]
    f = n[0] * beta**2 + n[3] * beta + n[6]
    g = n[1] * beta**2 + n[4] * beta + n[7]
    d = 2 * g / (-f - math.sqrt(f**2 - 4 * e * g))
    kelvin = (n[9] + d - math.sqrt((n[9] + d) ** 2 - 4 * (n[8] + n[9] * d))) / 2
    return kelvin - 273.15


def oven_set_point_c(altitude_m: float, above_c: float = 2.8) -> float:
    """Return an oven setting (°C) a little above where water boils here.

    *Common practice, no source* for the 5 °F (2.8 °C) above; at sea level it falls inside the 103 ± 2 °C of
    ASTM D4442.
    """
    return boiling_point_c(altitude_m) + above_c


def shrinkage_percent(to_oven_dry: float, moisture: float) -> float:
    """Return the shrinkage (%) from green to a moisture, of a shrinkage to oven-dry, linear below 30 %.

    Source: Wood Handbook (FPL-GTR-190) chapter 4, the linear rule (*from memory*).
    Raises ValueError when shrinkage is outside 0 to 40 % or moisture is below zero.
    """
    if not 0 <= to_oven_dry <= 40 or moisture < 0:
        raise ValueError("Shrinkage lies between 0 and 40 %, moisture above zero.")
    return to_oven_dry * max(0.0, FIBRE_SATURATION - moisture) / FIBRE_SATURATION


def basic_gravity(kgm3: float, basis: Basis) -> float:
    """Return oven-dry mass over green volume, as a specific gravity, from a density and its basis.

    Bases: *green*, *12 %* and *oven-dry* are oven-dry mass over the volume at that moisture (as timber
    handbooks give specific gravity, times 1000); *air-dry* is mass and volume both at 12 %.
    Source: Wood Handbook (FPL-GTR-190) equations 4-7, 4-10, 4-11 combined (*from memory*).
    Raises ValueError for a density outside 50 to 1600 kg/m³ or an unknown basis.
    """
    if not 50 <= kgm3 <= 1600:
        raise ValueError("A wood's density lies between 50 and 1600 kg/m³.")
    gravity = kgm3 / 1000
    if basis == "green":
        return gravity
    if basis == "air-dry":
        gravity, at = gravity / 1.12, 12.0
    elif basis == "12 %":
        at = 12.0
    elif basis == "oven-dry":
        at = 0.0
    else:
        raise ValueError("Say on which basis the density stands: green, 12 %, oven-dry or air-dry.")
    return gravity / (1 + 0.265 * gravity * (1 - at / FIBRE_SATURATION))


def gravity_at(basic: float, moisture: float) -> float:
    """Return oven-dry mass over volume at a moisture (%), from the basic specific gravity.

    Source: as `basic_gravity`.
    """
    if moisture >= FIBRE_SATURATION:
        return basic
    return basic / (1 - 0.265 * basic * (1 - moisture / FIBRE_SATURATION))


def density_at(kgm3: float, basis: Basis, moisture: float) -> float:
    """Return what a cubic metre weighs (kg) at a moisture (%), water and all, from a density and its basis.

    Source: Wood Handbook (FPL-GTR-190) equation 4-12, with the specific gravity of `gravity_at`.
    Raises ValueError as `basic_gravity` does, or for a moisture below zero.
    """
    if moisture < 0:
        raise ValueError("Moisture can't be below zero.")
    return 1000 * gravity_at(basic_gravity(kgm3, basis), moisture) * (1 + moisture / 100)


def most_moisture(basic: float) -> float:
    """Return the moisture (%) at which every hollow in the wood is full of water.

    Source: Wood Handbook (FPL-GTR-190), 100 (1.54 − Gb) / (1.54 Gb) (*from memory*).
    """
    if not 0 < basic < CELL_WALL:
        raise ValueError("A specific gravity lies between 0 and 1.54.")
    return 100 * (CELL_WALL - basic) / (CELL_WALL * basic)


def most_uptake(oven_dry_gravity: float, resin_gravity: float = 1.05) -> float:
    """Return the most stabilizing resin (% of the dry mass) that oven-dry wood has room for.

    (1 − G0 / 1.54) · resin / G0: every hollow full. More than this means a wrong weight or resin outside.
    Source: cell wall of 1.54 from the Wood Handbook (*from memory*), the rest is arithmetic.
    Raises ValueError when a gravity is out of range.
    """
    if not 0 < oven_dry_gravity < CELL_WALL or not 0.5 <= resin_gravity <= 2:
        raise ValueError("A wood's specific gravity lies between 0 and 1.54, a resin's between 0.5 and 2.")
    return 100 * (1 - oven_dry_gravity / CELL_WALL) * resin_gravity / oven_dry_gravity


def uptake_percent(dry_g: Number, baked_g: Number) -> float:
    """Return stabilizing resin kept, in percent of the oven-dry mass before it went in."""
    return moisture_content(baked_g, dry_g)


@dataclass(frozen=True)
class Steadiness:
    """What the last weighings say: still losing, steady or gained; how many agree; the loss per hour."""

    state: Literal["losing", "steady", "gained"]
    agreeing: int
    percent_per_hour: float


def loss_rate(hours: Sequence[float], grams: Sequence[Number]) -> float:
    """Return what the last interval lost, in percent of the last mass per hour (below zero: it gained)."""
    at, mass = check_series(hours, grams, 2)
    return 100 * (mass[-2] - mass[-1]) / mass[-1] / (at[-1] - at[-2])


def steady(
    hours: Sequence[float], grams: Sequence[Number], step_g: Number = 1, within_percent: float = 0.1
) -> Steadiness:
    """Judge whether weighings have stopped falling.

    Weighings agree when all of them lie within `within_percent` of the last mass, or within two steps of the
    scale where that is more. *Common practice, no source*: turners wait for three that agree.
    Raises ValueError with fewer than two weighings or times out of order.
    """
    at, mass = check_series(hours, grams, 2)
    room = max(2 * float(step_g), within_percent / 100 * mass[-1]) * (1 + 1e-9)
    agreeing = 1
    while agreeing < len(mass) and _spread(mass[-agreeing - 1 :]) <= room:
        agreeing += 1
    state: Literal["losing", "steady", "gained"] = "steady" if agreeing > 1 else "losing"
    if mass[-1] - min(mass[:-1]) > room:
        state = "gained"
    return Steadiness(state, agreeing, loss_rate(at, mass))


def oven_dry_by_astm(hours: Sequence[float], grams: Sequence[Number], sensitivity_g: Number) -> bool:
    """Say whether the loss over at least 3 h is no more than twice the balance's sensitivity.

    Source: ASTM D4442 method A, at 103 °C (as a test laboratory sums it up).
    """
    change = loss_over(3.0, hours, grams)
    return change is not None and abs(change[0]) <= 2 * float(sensitivity_g) * (1 + 1e-9)


def oven_dry_by_en(hours: Sequence[float], grams: Sequence[Number]) -> bool:
    """Say whether the mass changed by less than 0.1 % over at least 2 h.

    Source: EN 13183-1:2002 section 6, at 103 ± 2 °C.
    """
    change = loss_over(2.0, hours, grams)
    return change is not None and abs(change[0]) < 0.001 * change[1]


def loss_over(least_h: float, hours: Sequence[float], grams: Sequence[Number]) -> tuple[float, float] | None:
    """Return (loss, mass then), grams, since the latest weighing that lies at least this long before the last."""
    at, mass = check_series(hours, grams, 1)
    for then, before in zip(reversed(at[:-1]), reversed(mass[:-1]), strict=True):
        if at[-1] - then >= least_h - 1e-9:
            return before - mass[-1], before
    return None


def _spread(values: Sequence[float]) -> float:
    return max(values) - min(values)


def check_series(hours: Sequence[float], grams: Sequence[Number], least: int) -> tuple[list[float], list[float]]:
    """Return both as numbers. Raises ValueError with too few, out of order, or a weight not above zero."""
    at, mass = [float(h) for h in hours], [float(g) for g in grams]
    if len(at) != len(mass) or len(at) < least:
        raise ValueError(f"At least {least} weighings are needed, each with its time.")
    if not all(map(math.isfinite, at + mass)) or min(mass) <= 0:
        raise ValueError("A weight must be above zero.")
    if any(later <= earlier for earlier, later in zip(at, at[1:], strict=False)):
        raise ValueError("The weighings must be in the order they were made, no two at one time.")
    return at, mass


@dataclass(frozen=True)
class DryingFit:
    """Where weighings are heading. `low_g` to `high_g` holds the dry mass 9 times in 10.

    `ready_h` is the time (hours, on the clock of the weighings) at which the wood is within
    `within_percent` of dry, with the same give or take.
    """

    dry_g: float
    low_g: float
    high_g: float
    within_percent: float
    ready_h: float
    ready_low_h: float
    ready_high_h: float


def fit_drying(
    hours: Sequence[float],
    grams: Sequence[Number],
    within_percent: float = 1.0,
    step_g: Number | None = None,
) -> DryingFit:
    """Estimate the oven-dry mass from weighings made while the wood dries in unchanging air.

    The mass is taken to fall as dry + a·exp(−(k·t)^n), time counted from the first weighing. Every k and n of
    a wide grid is weighed by how well it agrees with the weighings, so the interval holds the doubt about the
    shape of the curve as well as the scale's step and the scatter. Two or three weighings early on say
    little, and the interval says so.
    Source: thin-layer drying models (Lewis; Page; the logarithmic one with a level to settle at); the
    weighing of all shapes at once is ours. Scatter to expect by itself, 0.02 % of the mass: from a published
    series (student research poster, SUNY ESF, late weighings at 85 and 103 °C). The scale's step is read off
    the weighings unless given.

    Raises ValueError with fewer than three weighings, times out of order, wood that gained weight, or a loss
    greater than the water wood can hold.
    """
    from .drying import fit

    at, mass = check_series(hours, grams, 3)
    if mass[-1] > 1.005 * mass[0]:
        raise ValueError("This gained weight since the first weighing: there is no drying to reckon from.")
    if mass[0] > 3.5 * min(mass):
        raise ValueError("This lost more than the water wood can hold: look for a wrong weight.")
    return DryingFit(*fit(at, mass, within_percent, None if step_g is None else float(step_g)))
