"""Air under pressure: what it does to a bubble, what it does to a lid, and what a pot may take.

Gauge pressures are above the air outside; kilopascal in the physics, whole pascal in the verdict.
"""

import math
from dataclasses import dataclass
from typing import Literal

from .moisture import air_pressure_pa


def bubble_diameter_ratio(gauge_kpa: float, altitude_m: float = 0) -> float:
    """Return a bubble's diameter under pressure as a share of what it was (1 at no pressure).

    Source: Boyle's law at one temperature, absolute pressures, cube root for the diameter; air outside by
    ISO 2533:1975. Raises ValueError for a gauge pressure below zero.
    """
    return float((1 / absolute_ratio(gauge_kpa, altitude_m)) ** (1 / 3))


def absolute_ratio(gauge_kpa: float, altitude_m: float = 0) -> float:
    """Return the absolute pressure inside over that outside. Raises ValueError below zero gauge."""
    if not (math.isfinite(gauge_kpa) and gauge_kpa >= 0):
        raise ValueError("Gauge pressure is zero or more.")
    outside = air_pressure_pa(altitude_m) / 1000
    return (outside + gauge_kpa) / outside


def bubble_volume_ratio(gauge_kpa: float, altitude_m: float = 0) -> float:
    """Return a bubble's volume under pressure as a share of what it was: a fifth at 60 psi.

    Source: Boyle's law at one temperature, absolute pressures. Raises ValueError for a gauge pressure below zero.
    """
    return 1 / absolute_ratio(gauge_kpa, altitude_m)


def lid_force_n(gauge_kpa: float, diameter_mm: float) -> float:
    """Return the force (newtons) with which a lid of an inside diameter is pushed off.

    Source: force is gauge pressure times area. Raises ValueError for figures below zero.
    """
    if not (math.isfinite(gauge_kpa) and gauge_kpa >= 0 and math.isfinite(diameter_mm) and diameter_mm >= 0):
        raise ValueError("Pressure and diameter are zero or more.")
    return gauge_kpa * math.pi / 4 * diameter_mm**2 / 1000


def free_air_l(volume_l: float, gauge_kpa: float, altitude_m: float = 0) -> float:
    """Return the litres of outside air it takes to fill a pot of volume_l to a gauge pressure.

    Source: Boyle's law at one temperature. Raises ValueError for figures below zero.
    """
    if volume_l < 0:
        raise ValueError("A pot's volume is zero or more.")
    return volume_l * (absolute_ratio(gauge_kpa, altitude_m) - 1)


def stored_energy_j(volume_l: float, gauge_kpa: float, gamma: float = 1.4) -> float:
    """Return the energy (joules) that compressed air in a pot can let go at once.

    Source: Brode's estimate, (p − p0) V / (γ − 1) (*from memory*). Raises ValueError for figures below zero.
    """
    if volume_l < 0 or gauge_kpa < 0 or gamma <= 1:
        raise ValueError("Volume and pressure are zero or more.")
    return gauge_kpa * volume_l / (gamma - 1)


Ruling = Literal["ok", "warned", "refused"]
# What a reason says to the one who stands before the pot.
WORDS: dict[str, str] = {
    "no certificate": "No certified maximum is known for this pot: it takes no load.",
    "no relief valve": "This pot has no relief valve: it takes no load.",
    "altered": "This pot was altered: its plate no longer holds, it takes no load.",
    "above the certificate": "That is above the pot's certified maximum.",
    "above the relief valve": "That is above the relief valve's setting: it would open.",
    "close to the limit": "That is close to the limit: stay at nine tenths of plate and valve, or below.",
    "valve above the certificate": "The relief valve opens above the certified maximum: have it set lower.",
    "inspection due": "This pot's inspection is due.",
    "inspection overdue": "This pot's inspection is more than a month overdue: it takes no load before that is done.",
}


@dataclass(frozen=True)
class Verdict:
    """Whether a pot may take a load: *ok*, *warned* or *refused*, why, the lower of plate and valve (Pa)."""

    ruling: Ruling
    reasons: tuple[str, ...]
    limit_pa: int | None

    @property
    def sentences(self) -> tuple[str, ...]:
        """The reasons in words."""
        return tuple(WORDS[reason] for reason in self.reasons)


def pot_verdict(
    *,
    planned_pa: int,
    certified_pa: int | None,
    relief_pa: int | None,
    altered: bool,
    inspection_due: bool = False,
    inspection_overdue: bool = False,
    near_ppm: int = 900_000,
) -> Verdict:
    """Rule on a planned gauge pressure (Pa) against a pot's plate and its relief valve's setting.

    Refused: no certified figure, no relief valve, an altered pot, above the certificate, above the valve, an
    inspection overdue beyond its grace.
    Warned: above nine tenths of the lower of the two, a valve set above the certificate, inspection due. No
    one's role changes this.
    Source: safety valve set no higher than the maximum working pressure, ASME BPVC VIII-1 UG-134 (*from
    memory*); nine tenths is *common practice, no source*.

    Raises ValueError for a pressure below zero.
    """
    if planned_pa < 0 or min(certified_pa or 0, relief_pa or 0) < 0:
        raise ValueError("Gauge pressure is zero or more.")
    refused = []
    if altered:
        refused.append("altered")
    if not certified_pa:
        refused.append("no certificate")
    if not relief_pa:
        refused.append("no relief valve")
    if certified_pa and planned_pa > certified_pa:
        refused.append("above the certificate")
    if relief_pa and planned_pa > relief_pa:
        refused.append("above the relief valve")
    if inspection_overdue:
        refused.append("inspection overdue")
    known = [pa for pa in (certified_pa, relief_pa) if pa]
    limit = min(known) if known else None
    warned = []
    if limit and not refused and planned_pa * 1_000_000 > limit * near_ppm:
        warned.append("close to the limit")
    if certified_pa and relief_pa and relief_pa > certified_pa:
        warned.append("valve above the certificate")
    if inspection_due and not inspection_overdue:
        warned.append("inspection due")
    ruling: Ruling = "refused" if refused else "warned" if warned else "ok"
    return Verdict(ruling, (*refused, *warned), limit)
