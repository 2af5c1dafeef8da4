"""A finish as lines with clocks: what comes next, not before when, by when; and what a coat takes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import pi
from typing import Literal, get_args

from .rounding import divide

MM2_IN_M2 = 1_000_000
Shape = Literal["bowl", "open", "closed", "solid"]
# Words in the name of a form, and which solid stands in for it.
_SHAPES: tuple[tuple[Shape, tuple[str, ...]], ...] = (
    ("bowl", ("bowl", "dish", "platter", "plate", "tray")),
    ("open", ("box", "cup", "goblet", "mug", "jar", "tumbler", "pot", "canister")),
    ("closed", ("hollow", "vase", "urn", "vessel", "bottle")),
)


@dataclass(frozen=True)
class Line:
    """`timed`: nothing is done, it passes by itself (a cure). Seconds."""

    wait_s: int = 0
    latest_s: int | None = None
    timed: bool = False


@dataclass(frozen=True)
class Standing:
    """The next line (None: all are done), when it may begin, by when it should; `at` is when the last wait ends."""

    following: int | None
    at: datetime
    by: datetime | None


def standing(lines: Sequence[Line], done: Mapping[int, datetime], began: datetime) -> Standing:
    """Say where a finish stands. `done` has the moment of each line tapped, by its place in `lines`.

    A wait begins when its line was done; a timed line adds to it. *By* counts from the line before. The figures
    are the schedule's own, from the tin or this studio's habit.
    """
    at, by = began, None
    for place, line in enumerate(lines):
        if line.timed:
            at, by = at + timedelta(seconds=line.wait_s), None
            continue
        if place not in done:
            return Standing(place, at, by)
        at = done[place] + timedelta(seconds=line.wait_s)
        by = None if line.latest_s is None else done[place] + timedelta(seconds=line.latest_s)
    return Standing(None, at, None)


def shape_of(form: str) -> Shape:
    """Which solid stands in for a form, by its name: a `lidded box` is open inside, a `finial` is solid."""
    words = form.casefold().replace("-", " ").split()
    found = (shape for shape, names in _SHAPES for word in words if word.startswith(names))
    return next(found, "solid")


def surface_mm2(shape: Shape, length_um: int, width_um: int, height_um: int) -> int:
    """Return about how many mm² take finish; across is the mean of length and width.

    *bowl*: a segment of a sphere, inside and out, 2·pi·(r² + h²). *open*: a drum without its top, inside and out,
    2·(pi·d·h + pi·r²). *closed*: outside only, as a sphere and the drum about it have the same round surface,
    pi·d·h. *solid*: a whole drum, pi·d·h + 2·pi·r². Source: Archimedes, On the Sphere and Cylinder I, 13 (drum),
    33 (sphere), 42-43 (segment). Raises ValueError below one micrometre, or for no such shape.
    """
    if shape not in get_args(Shape):
        raise ValueError(f"There is no shape {shape!r}.")
    if min(length_um, width_um, height_um) < 1:
        raise ValueError("A surface wants a length, a width and a height above nothing.")
    across, high = (length_um + width_um) / 2000, height_um / 1000
    side, end = pi * across * high, pi * across**2 / 4
    found = {"bowl": 2 * (end + pi * high**2), "open": 2 * (side + end), "closed": side, "solid": side + 2 * end}
    return max(1, round(found[shape]))


def coat_mg(mm2: int, spread_mgm2: int) -> int:
    """Return the milligrams of one coat: surface times what goes on a square metre, half up, at least one."""
    if mm2 < 1 or spread_mgm2 < 1:
        raise ValueError("A coat wants a surface and a spread above nothing.")
    return max(1, divide(mm2 * spread_mgm2, MM2_IN_M2))
