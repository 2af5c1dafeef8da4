"""Stabilizing: whether wood wants it, how deep a vacuum is here, how long to soak, what the uptake proves."""

import math
from dataclasses import dataclass
from typing import Literal

from .moisture import air_pressure_pa

# *Common practice, no source*, all of these: a studio's own wood and scale decide.
LIGHT_KGM3, DENSE_KGM3 = 500.0, 700.0
DECAYED_SHARE = 0.85
# Makers call 24 inHg disappointing and want 26 to 29; 26 of 29.92 is 87 % of what sea level allows.
GOOD_VACUUM = 0.87
# A species' figure spreads by about a tenth; an own measured density by the bucket and the scale.
GIVE_OF_SPECIES, GIVE_OF_OWN = 0.12, 0.03
WATER_KGM3 = 1000.0
# Woods whose tannin or colour makers see go over into the bath, by genus.
DARK_GENERA = frozenset(
    {"castanea", "dalbergia", "diospyros", "juglans", "millettia", "pterocarpus", "quercus", "swietenia", "maclura"}
)

Rule = Literal["always", "never", "condition"]
Leaning = Literal["do", "leave", "either"]
Reason = Literal[
    "oily",
    "resinous",
    "waxed",
    "decayed",
    "punky",
    "spalted",
    "light",
    "dense",
    "always",
    "never",
    "sound",
    "checked",
]


@dataclass(frozen=True)
class Advice:
    """Which way it leans and why, the reason that decides first. The maker decides."""

    leans: Leaning
    reasons: tuple[Reason, ...]


def advise(
    *,
    rule: Rule = "condition",
    dry_kgm3: float | None = None,
    own_kgm3: float | None = None,
    punky: bool = False,
    spalted: bool = False,
    checked: bool = False,
    oily: bool = False,
    resinous: bool = False,
    waxed: bool = False,
) -> Advice:
    """Advise whether a piece of wood wants stabilizing.

    Densities are oven-dry, in kg/m³: the species' figure, and the piece's own where it was measured. Oil, pitch
    and wax keep the resin out, whatever else is so. Then the studio's own rule for the species; then decay, seen
    (punky, spalted) or weighed: a piece 15 % lighter than its species lost wood. Light wood (to 500) drinks and
    is soft; dense sound wood (from 700) has little room and needs none. Cracks are filled by a cast, not by thin
    resin: told beside whatever is advised.
    *Common practice, no source.* Raises ValueError for a density not above zero.
    """
    if min(dry_kgm3 or 1, own_kgm3 or 1) <= 0:
        raise ValueError("A density is above zero.")
    outside: tuple[tuple[Reason, bool], ...] = (("waxed", waxed), ("oily", oily), ("resinous", resinous))
    inside: tuple[tuple[Reason, bool], ...] = (("punky", punky), ("spalted", spalted))
    kept_out = [word for word, so in outside if so]
    soft = [word for word, so in inside if so]
    if dry_kgm3 and own_kgm3 and own_kgm3 <= DECAYED_SHARE * dry_kgm3:
        soft.append("decayed")
    beside: list[Reason] = ["checked"] if checked else []
    kgm3 = own_kgm3 or dry_kgm3
    leans: Leaning
    why: list[Reason]
    if kept_out:
        leans, why = "leave", kept_out
    elif rule == "never":
        leans, why = "leave", ["never"]
    elif soft:
        leans, why = "do", soft
    elif rule == "always":
        leans, why = "do", ["always"]
    elif kgm3 and kgm3 <= LIGHT_KGM3:
        leans, why = "do", ["light"]
    elif kgm3 and kgm3 >= DENSE_KGM3:
        leans, why = "leave", ["dense"]
    else:
        leans, why = "either", ["sound"]
    return Advice(leans, (*why, *beside))


def dark(botanical_name: str) -> bool:
    """Say whether a wood is one that darkens the bath, by its genus. *Common practice, no source.*"""
    words = botanical_name.lower().split()
    return bool(words) and words[0] in DARK_GENERA


def vacuum_share(gauge_pa: int, altitude_m: float) -> float:
    """Return a gauge's reading below the air (pascal) as a share of all the air there is at an altitude (m).

    Source: air of ISO 2533:1975, as `moisture.air_pressure_pa`. Raises ValueError for a reading not above zero.
    """
    if gauge_pa <= 0:
        raise ValueError("A vacuum is above nothing.")
    return gauge_pa / air_pressure_pa(altitude_m)


def soak_s(vacuum_s: float, factor: float) -> int:
    """Return how long (seconds) to leave wood under after the bubbles stopped: the vacuum's time, times a factor.

    As long again is the least makers tell each other, twice as long or a day is heard too: *common practice, no
    source*. Raises ValueError below zero.
    """
    if not (math.isfinite(vacuum_s) and vacuum_s >= 0 and factor >= 0):
        raise ValueError("Times and factors are zero or more.")
    return round(vacuum_s * factor)


def must_sink(dry_kgm3: float, uptake: float, *, own: bool) -> bool:
    """Say whether a piece must sink in water by its weights: dry density (kg/m³) and uptake (share of dry weight).

    Wood hardly swells in the resin, so what it weighs now is its dry density times one and the uptake. Over that
    of water by more than the density is unsure, it must sink: one that floats then holds air where the scale says
    resin. One under it floats however well it is filled: that proves nothing. `own`: the density is this piece's.
    Source: Archimedes; the spreads are *common practice, no source*. Raises ValueError for a density not above
    zero or an uptake below it.
    """
    if dry_kgm3 <= 0 or uptake < 0:
        raise ValueError("A density is above zero, an uptake not below it.")
    return dry_kgm3 * (1 + uptake) * (1 - (GIVE_OF_OWN if own else GIVE_OF_SPECIES)) > WATER_KGM3


@dataclass(frozen=True)
class BathLoss:
    """What left the bath (mg), what of it the wood kept, and the rest: drips, bleed-out. `odd` where it can't be."""

    gone_mg: int
    kept_mg: int
    odd: Literal["", "gained", "less_than_kept"] = ""

    @property
    def lost_mg(self) -> int:
        return max(self.gone_mg - self.kept_mg, 0)


def bath_loss(*, before_mg: int, after_mg: int, kept_mg: int, filled_mg: int = 0, thrown_mg: int = 0) -> BathLoss:
    """Balance a bath weighed before and after, in the same vessel: all in milligrams.

    `filled_mg` was poured in between, `thrown_mg` taken off the books between. A bath that gained, or lost less
    than the wood kept, is odd: a weight is wrong, or the vessel another. Source: a balance of masses.
    """
    if min(before_mg, after_mg, kept_mg, filled_mg, thrown_mg) < 0:
        raise ValueError("Weights are zero or more.")
    gone = before_mg + filled_mg - thrown_mg - after_mg
    return BathLoss(gone, kept_mg, "gained" if gone < 0 else "less_than_kept" if gone < kept_mg else "")
