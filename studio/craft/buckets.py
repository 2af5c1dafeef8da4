"""One mix in several cups, where the scale or the resin's sheet doesn't take it at once."""

from collections.abc import Sequence

from .costing import split
from .mix import Part, split_by_weight

MOST_BUCKETS = 99


def buckets(
    total_mg: int, most_mg: int, parts: Sequence[Part], step_mg: int, *, least_mg: int | None = None
) -> tuple[tuple[int, ...], ...]:
    """Return the milligrams of each part, cup by cup: as few cups as go, none above `most_mg`, all much alike.

    The cups add up to exactly what one mix of `total_mg` would be. Source: arithmetic.
    Raises ValueError where cups so small fall below `least_mg`, the sheet's smallest batch, or the scale's step is
    too coarse; the words say what would fit.
    """
    if min(total_mg, most_mg, step_mg) <= 0:
        raise ValueError("The total, the most for a cup and the scale's step must be above zero.")
    whole = [int(share) for share in split_by_weight(total_mg, parts, step_mg)]
    count = -(-sum(whole) // most_mg)
    for cups in range(count, min(count + 2, MOST_BUCKETS) + 1):
        shared = [[steps * step_mg for steps in split(part // step_mg, [1] * cups)] for part in whole]
        found = tuple(zip(*shared, strict=True))
        if max(sum(cup) for cup in found) <= most_mg:
            break
    else:
        raise ValueError("That is more cups than anybody pours. Mix less, or use a bigger scale.")
    if any(0 in cup for cup in found):
        raise ValueError("The scale's step is too coarse for cups so small. Use a finer one.")
    if least_mg and min(sum(cup) for cup in found) < least_mg:
        fits = max(least_mg * len(found), most_mg)
        raise ValueError(
            f"In {len(found)} cups each would be below the smallest batch. "
            f"{most_mg / 1000:g} g in one cup would go, or {fits / 1000:g} g and more in {len(found)}."
        )
    return found
