"""What an oven's setting means: above boiling or not, where dry is defined, and where wood suffers."""

from dataclasses import dataclass
from typing import Literal

from .dryness import OVEN_DRY_C, OVEN_DRY_GIVE_C
from .moisture import boiling_point_c

DARKENS_C, CHARS_C = 120.0, 150.0
CONES_C = 95.0
SOAKING_WET_PERCENT, WET_MOST_C = 30.0, 60.0
NoteCode = Literal["over_limit", "chars", "darkens", "cones_hot", "below_boiling", "hot_for_dry", "wet_into_heat"]


@dataclass(frozen=True)
class OvenNote:
    """Something to say about a setting: which, the temperature it turns on (°C), and whether to stop for it."""

    code: NoteCode
    at_c: float
    stops: bool = False


@dataclass(frozen=True)
class SetPoint:
    """An oven's setting beside what is known: boiling here, how far above, and whether dry can be told by it."""

    set_c: float
    boiling_c: float
    tells_oven_dry: bool
    notes: tuple[OvenNote, ...]

    @property
    def above_boiling_c(self) -> float:
        return self.set_c - self.boiling_c


def set_point(
    set_c: float,
    altitude_m: float,
    *,
    highest_c: float | None = None,
    cones: bool = False,
    moisture_percent: float | None = None,
) -> SetPoint:
    """Return what to know about an oven's setting (°C) at an altitude (m), most pressing first.

    Boiling is a fact of the altitude (`moisture.boiling_point_c`); 220 °F, the figure most shops name, is 8 °F
    over it at sea level. Oven-dry is defined at 103 ± 2 °C (ASTM D4442; EN 13183-1). `highest_c` is the limit on
    the oven's plate: past it stops. Wood darkens from about 120 °C and chars from about 150 °C when it lies for
    days; cones go on foil at 95 °C or less, for pitch runs; a wet lump (30 % and more) sent straight into
    heat above 60 °C checks: these four are *common practice, no source*.
    Raises ValueError for a setting outside 0 to 400 °C, or as `boiling_point_c` does.
    """
    if not 0 <= set_c <= 400:
        raise ValueError("An oven is set between 0 and 400 °C.")
    boiling = boiling_point_c(altitude_m)
    notes: list[OvenNote] = []
    if highest_c is not None and set_c > highest_c:
        notes.append(OvenNote("over_limit", highest_c, stops=True))
    if set_c >= CHARS_C:
        notes.append(OvenNote("chars", CHARS_C, stops=True))
    elif set_c >= DARKENS_C:
        notes.append(OvenNote("darkens", DARKENS_C))
    if cones and set_c > CONES_C:
        notes.append(OvenNote("cones_hot", CONES_C))
    if moisture_percent is not None and moisture_percent >= SOAKING_WET_PERCENT and set_c > WET_MOST_C:
        notes.append(OvenNote("wet_into_heat", WET_MOST_C, stops=True))
    if set_c < boiling:
        notes.append(OvenNote("below_boiling", boiling))
    elif OVEN_DRY_C + OVEN_DRY_GIVE_C < set_c < DARKENS_C:
        notes.append(OvenNote("hot_for_dry", OVEN_DRY_C + OVEN_DRY_GIVE_C))
    tells = abs(set_c - OVEN_DRY_C) <= OVEN_DRY_GIVE_C + 1e-9
    return SetPoint(set_c, boiling, tells, tuple(notes))
