"""What a figure of a machine or a mould may be, and the sentence when it can't."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from studio.equipment.models import NAME_LENGTH, NOTE_LENGTH, Known
from studio.fields.errors import Refused
from studio.people.text import tidy

HOUR_S = 3600
METRE_UM = 1_000_000


@dataclass(frozen=True)
class Bounds:
    low: int
    high: int
    says: str


_INSIDE = Bounds(1000, 5 * METRE_UM, "Give an inside measure between 1 mm and 5 m.")
_OUTSIDE = Bounds(1000, 5 * METRE_UM, "Give an outside measure between 1 mm and 5 m.")
_PRESSURE = Bounds(
    10_000,
    5_000_000,
    "Give the pressure stamped on it, between 0.1 bar (1.5 psi) and 50 bar (725 psi). Look at the unit again.",
)
MACHINE_BOUNDS: dict[str, Bounds] = {
    "inside_width_um": _INSIDE,
    "inside_depth_um": _INSIDE,
    "inside_height_um": _INSIDE,
    "inside_diameter_um": _INSIDE,
    "highest_mdegc": Bounds(20_000, 1_300_000, "Give the highest set-point, between 20 °C and 1,300 °C."),
    "power_w": Bounds(0, 100_000, "Give the rated power on the nameplate, up to 100,000 W."),
    "duty_ppm": Bounds(0, 1_000_000, "Give the share of its power it draws, from 0 % to 100 %."),
    "certified_pa": _PRESSURE,
    "relief_pa": _PRESSURE,
    "price_micro": Bounds(0, 10**13, "Give what it cost, nothing or more, up to ten million."),
    "life_s": Bounds(
        HOUR_S, 500_000 * HOUR_S, "Give the hours it will last, from 1 to 500,000: a guess is good enough."
    ),
    "highest_rpm": Bounds(10, 20_000, "Give the most revolutions a minute on its plate, between 10 and 20,000."),
    "delivery_mm3_s": Bounds(
        100_000, 200_000_000, "Give the free air it delivers, between 6 and 12,000 litres in a minute."
    ),
    "step_mg": Bounds(1, 1_000_000, "Give the scale's smallest step, from 0.001 g to 1,000 g."),
}
MOULD_BOUNDS: dict[str, Bounds] = {
    **dict.fromkeys(("length_um", "width_um", "height_um", "diameter_um", "top_diameter_um"), _INSIDE),
    **dict.fromkeys(
        ("outside_length_um", "outside_width_um", "outside_diameter_um", "outside_height_um"), _OUTSIDE
    ),
    "fill_mm3": Bounds(100, 10**9, "Give what it held, between 0.1 ml and 1,000 litres."),
}


def checked(figures: Mapping[str, Any], bounds: Mapping[str, Bounds], refused: type[Refused]) -> dict[str, Any]:
    """Return the figures given, each inside its bounds (None: not known). Raises `refused` beside the
    field."""
    for name, value in figures.items():
        allowed = bounds[name]
        if value is None:
            continue
        if type(value) is not int or not allowed.low <= value <= allowed.high:
            raise refused(allowed.says, field=name)
    return dict(figures)


def name_of(text: str, refused: type[Refused]) -> str:
    """Return a name as it will be kept. Raises `refused` for none, for one too long or unprintable."""
    try:
        name = tidy(text, most=NAME_LENGTH)
    except ValueError as error:
        raise refused(str(error), field="name") from error
    if not name:
        raise refused("Give it a name you would call it by, such as “the small pot”.", field="name")
    return name


def words(text: str, field: str, refused: type[Refused], *, most: int = NOTE_LENGTH) -> str:
    """Return free text as it will be kept. Raises `refused` beside the field when it can't be."""
    try:
        return tidy(text, most=most, lines=True)
    except ValueError as error:
        raise refused(str(error), field=field) from error


def known(value: str, field: str, refused: type[Refused]) -> str:
    if value not in Known.values:
        raise refused("Answer yes, no, or don't know.", field=field)
    return value


def not_after(day: date | None, today: date, field: str, refused: type[Refused]) -> date | None:
    """Return a day that has been; raises `refused` for one still to come."""
    if day is not None and day > today:
        raise refused(f"{day:%d %B %Y} is still to come. Give the day it was done.", field=field)
    return day
