"""Whether moulds go into a pressure pot: each by itself, several side by side, and the lid over them.

Whole micrometres throughout. What is said to fit has been laid out; what is said not to fit can't be laid out;
between the two nobody knows before it was tried dry.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

# So much air is left between a mould and the lid. *Common practice, no source.*
LID_CLEARANCE_UM = 10_000
# More than so many side by side are not laid out.
MOST_TOGETHER = 12

Ruling = Literal["fits", "no", "unsure", "unknown"]
Code = Literal["too wide", "too tall", "not together", "try dry", "mould unknown", "pot unknown"]


@dataclass(frozen=True)
class Outside:
    """A mould by its outside: a diameter, or length and width; and how high it stands. None: nobody measured."""

    name: str
    height_um: int | None = None
    diameter_um: int | None = None
    length_um: int | None = None
    width_um: int | None = None

    @property
    def known(self) -> bool:
        return self.height_um is not None and self.across_um is not None

    @property
    def across_um(self) -> int | None:
        """The narrowest round hole it goes through upright: the diagonal of a box, rounded up."""
        if self.diameter_um is not None:
            return self.diameter_um
        if self.length_um is None or self.width_um is None:
            return None
        square = self.length_um**2 + self.width_um**2
        return math.isqrt(square - 1) + 1

    @property
    def least_um(self) -> int:
        """The widest circle that lies wholly inside its outline."""
        if self.diameter_um is not None:
            return self.diameter_um
        return min(self.length_um or 0, self.width_um or 0)

    @property
    def area(self) -> float:
        if self.diameter_um is not None:
            return math.pi / 4 * self.diameter_um**2
        return (self.length_um or 0) * (self.width_um or 0)


@dataclass(frozen=True)
class Why:
    """One reason: what it is about, what it needs and what there is (micrometres; None where it isn't a length)."""

    code: Code
    name: str = ""
    needs_um: int | None = None
    has_um: int | None = None


@dataclass(frozen=True)
class Fit:
    """`ruling`, and why. `side_um` is what is left beside a single mould, `lid_um` between the tallest and the lid,
    the clearance for it included; both None unless it fits."""

    ruling: Ruling
    why: tuple[Why, ...] = ()
    side_um: int | None = None
    lid_um: int | None = None


def fit(
    moulds: Sequence[Outside],
    *,
    pot_diameter_um: int | None,
    pot_height_um: int | None,
    clearance_um: int = LID_CLEARANCE_UM,
) -> Fit:
    """Rule on moulds standing upright side by side in a round pot.

    *No*: one is too wide or too tall by itself, or several can't lie there however they are turned (their areas, or
    the circles inside two of them, don't go in). *Fits*: the circles round them were laid out along the wall, with
    one in the middle if need be. *Unsure*: neither could be shown. *Unknown*: a size is wanting, and what is known
    says nothing against it.
    Source: plane geometry. Raises ValueError for no mould, or a size that isn't above zero.
    """
    if not moulds:
        raise ValueError("There is no mould to put in.")
    sizes = [size for one in moulds for size in (one.height_um, one.diameter_um, one.length_um, one.width_um)]
    if clearance_um < 0 or any(size is not None and size <= 0 for size in (*sizes, pot_diameter_um, pot_height_um)):
        raise ValueError("A size is above zero.")
    against = [
        *_each(moulds, pot_diameter_um, pot_height_um, clearance_um),
        *_never_together(moulds, pot_diameter_um),
    ]
    if against:
        return Fit("no", tuple(against))
    unknown = [Why("mould unknown", one.name) for one in moulds if not one.known]
    if pot_diameter_um is None or pot_height_um is None:
        unknown.append(Why("pot unknown"))
    if unknown or pot_diameter_um is None or pot_height_um is None:
        return Fit("unknown", tuple(unknown))
    across = [one.across_um or 0 for one in moulds]
    if not lies_together(across, pot_diameter_um):
        return Fit("unsure", (Why("try dry"),))
    side = pot_diameter_um - across[0] if len(moulds) == 1 else None
    return Fit("fits", (), side, pot_height_um - max(one.height_um or 0 for one in moulds))


def _each(moulds: Sequence[Outside], diameter_um: int | None, height_um: int | None, clearance_um: int) -> list[Why]:
    found = []
    for one in moulds:
        across = one.across_um
        if across is not None and diameter_um is not None and across > diameter_um:
            found.append(Why("too wide", one.name, across, diameter_um))
        if one.height_um is not None and height_um is not None and one.height_um + clearance_um > height_um:
            found.append(Why("too tall", one.name, one.height_um + clearance_um, height_um))
    return found


def _never_together(moulds: Sequence[Outside], diameter_um: int | None) -> list[Why]:
    """However they are turned: two circles need their two diameters, and no area lies twice."""
    there = [one for one in moulds if one.across_um is not None]
    if diameter_um is None or len(there) < 2:
        return []
    inner = sorted((one.least_um for one in there), reverse=True)
    if inner[0] + inner[1] > diameter_um or sum(one.area for one in there) > math.pi / 4 * diameter_um**2:
        return [Why("not together")]
    return []


def lies_together(across_um: Sequence[int], diameter_um: int) -> bool:
    """Say whether circles of these diameters were laid out in a round pot without one lying on another.

    They are set along the wall one after the other, or so with the smallest or the biggest in the middle: what is
    found this way fits surely, what isn't may fit all the same. Source: the law of cosines.
    """
    pot, radii = diameter_um / 2, sorted(one / 2 for one in across_um)
    if not radii or radii[-1] > pot or len(radii) > MOST_TOGETHER:
        return bool(not radii)
    if len(radii) == 1:
        return True
    if _along_the_wall(radii, pot):
        return True
    for middle in (radii[0], radii[-1]):
        round_it = list(radii)
        round_it.remove(middle)
        if all(pot >= middle + 2 * one for one in round_it) and _along_the_wall(round_it, pot):
            return True
    return False


def _along_the_wall(radii: Sequence[float], pot: float) -> bool:
    """Each touches the wall and is turned on until it is clear of every one before it; then the circle must close."""
    if len(radii) == 1:
        return True
    placed: list[tuple[float, float]] = []
    for one in radii:
        angle = max((at + _apart(one, other, pot) for other, at in placed), default=0.0)
        placed.append((one, angle))
    room = 2 * math.pi * (1 + 1e-12)
    return all(later + _apart(one, other, pot) <= room + first
               for (one, first), (other, later) in _pairs(placed))  # fmt: skip


def _pairs(placed: Sequence[tuple[float, float]]) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    return [(one, other) for nth, one in enumerate(placed) for other in placed[nth + 1 :]]


def _apart(one: float, other: float, pot: float) -> float:
    """The angle at the pot's middle between two circles that touch the wall and each other; more than a half turn
    where they can't."""
    first, second = pot - one, pot - other
    if first <= 0 or second <= 0:
        return 2 * math.pi
    cosine = (first**2 + second**2 - (one + other) ** 2) / (2 * first * second)
    if cosine < -1 - 1e-12:
        return 2 * math.pi
    return math.acos(max(-1.0, min(1.0, cosine)))
