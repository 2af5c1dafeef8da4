"""Cups taken out of a planned mix after the two parts met, with colours of their own."""

from collections.abc import Sequence

from studio.craft.rounding import divide
from studio.craft.swirl import Window, swirl_window
from studio.fields.quantity import show
from studio.stores.models import ResinSystem
from studio.work.queries.pour_parts import Clock, SwirlPlan, SwirlWanted

PPM = 1_000_000


def find_swirls(
    system: ResinSystem,
    wanted: Sequence[SwirlWanted],
    total_mg: int,
    colour_mg: int,
    steps_mg: tuple[int, int],
    refusals: list[str],
) -> tuple[SwirlPlan, ...]:
    """The grams of each cup and of its colours, on the steps of both scales; what the sheet doesn't allow is refused.

    `colour_mg` is in all of the mix before. Nothing where nothing is mixed.
    """
    if not total_mg:
        return ()
    if sum(one.share_ppm for one in wanted) > PPM:
        refusals.append("The cups for swirls together take more than the whole mix. Give each a smaller share.")
        return ()
    step, colour_step = steps_mg
    found = []
    for number, one in enumerate(wanted, start=1):
        taken = divide(total_mg * one.share_ppm, PPM * step) * step
        colours = tuple((of, divide(taken * ppm, PPM * colour_step) * colour_step) for of, ppm in one.colours)
        if not taken or not all(mg for _, mg in colours):
            refusals.append(
                f"Swirl cup {number} is too small for your scales: {show(colour_step, 'mass')} is the least of a "
                "colour. Take a bigger share of the mix, or more colour."
            )
            continue
        most = system.colorant_limit_ppm
        holds = sum(mg for _, mg in colours) + divide(colour_mg * taken, total_mg)
        if most and holds * PPM > taken * most:
            refusals.append(
                f"Swirl cup {number} would hold {show(divide(holds * PPM, taken), 'share')} of colour; the data "
                f"sheet's most is {show(most, 'share')}. Take less of its colours, or less colour in the whole mix."
            )
        found.append(SwirlPlan(one, taken, colours))
    return tuple(found)


def find_window(clock: Clock | None) -> Window | None:
    """When the cups go in, from when the parts met; None where the work time isn't known for so much resin."""
    if clock is None or not clock.time.seconds:
        return None
    return swirl_window(clock.time.seconds, clock.fill_s or 0)


def swirl_cautions(swirls: Sequence[SwirlPlan], window: Window | None) -> list[str]:
    if not swirls or window is None or window.open:
        return []
    return [
        "The lid must be shut before the resin is thick enough to keep swirls apart: they will run into each other. "
        "Pour this one without the pot, or take a resin with a longer work time."
    ]
