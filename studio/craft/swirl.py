"""When cups taken out of a mix keep their colours apart: thick enough, and still in time for the pot."""

from dataclasses import dataclass

# From this share of the work time on, resin is thick enough that colours don't run into each other.
# *Common practice, no source*.
THICK_FROM = 0.5


@dataclass(frozen=True)
class Window:
    """Seconds from when the two parts met. `until_s` is not above `from_s` where the pot must be shut before."""

    from_s: int
    until_s: int

    @property
    def open(self) -> bool:
        return self.until_s > self.from_s


def swirl_window(work_s: int, fill_s: int = 0) -> Window:
    """Return when swirl cups go into the mould: from half the work time until it ends, or until the lid must be shut.

    `fill_s` is what a pot takes to come to pressure. Raises ValueError for a work time that isn't above nothing.
    """
    if work_s <= 0 or fill_s < 0:
        raise ValueError("The work time must be above nothing.")
    return Window(round(work_s * THICK_FROM), max(0, work_s - fill_s))
