"""What a set-point may do to the wood that lies in it: asked about before it is set, never changed silently."""

from collections.abc import Sequence
from datetime import datetime

from studio.craft import moisture
from studio.craft.oven import CHARS_C, CONES_C, DARKENS_C
from studio.equipment.models import LoadPlace, Purpose
from studio.fields.listing import listed
from studio.fields.quantity import show
from studio.people import settings as answers
from studio.work.models import Step, StepCode, StepState, Weighing, Workpiece

STEADY_AT = 3
DRIES_BY_HEAT = (Purpose.DRY, Purpose.WARM, Purpose.SEASON)
GO_ON = "If it is to be so all the same, say so and send again."


def heat_questions(rows: Sequence[Workpiece], purpose: str, heat: int | None, at: datetime) -> str:
    """Return what to ask before these lie at this heat (thousandths of °C), or nothing. Five queries at most."""
    if heat is None:
        return ""
    asked = [_checks_if_hot(rows, purpose, heat, at)]
    if purpose in DRIES_BY_HEAT:
        asked += [_chars(heat), _pitch_runs(rows, heat)]
    found = [words for words in asked if words]
    return " ".join([*found, GO_ON]) if found else ""


def _chars(heat: int) -> str:
    """Common practice, no source: see `craft.oven.set_point`."""
    if heat >= CHARS_C * 1000:
        hot = show(round(CHARS_C * 1000), "temperature")
        return f"From about {hot} wood that lies for days chars, and may catch fire."
    if heat >= DARKENS_C * 1000:
        hot = show(round(DARKENS_C * 1000), "temperature")
        return f"From about {hot} wood darkens, and loses weight that isn’t water."
    return ""


def _pitch_runs(rows: Sequence[Workpiece], heat: int) -> str:
    """Common practice, no source: cones go in at a lower heat, on foil."""
    cones = [row.number for row in rows if row.wood_kind == "cone"]
    if not cones or heat <= CONES_C * 1000:
        return ""
    return (
        f"The pitch of cones runs, and smokes, above {show(round(CONES_C * 1000), 'temperature')}: "
        f"give {listed(cones)} a lower heat, on foil."
    )


def _checks_if_hot(rows: Sequence[Workpiece], purpose: str, heat: int, at: datetime) -> str:
    if purpose != Purpose.DRY:
        return ""
    mild = answers.value("warm_up_most_mdegc", answers.local_date(at))
    if heat <= mild:
        return ""
    wet = _still_wet(rows, at)
    numbers = [row.number for row in rows if row.pk in wet]
    if not numbers:
        return ""
    one = len(numbers) == 1
    it = "it" if one else "them"
    return (
        f"{listed(numbers)} {'is' if one else 'are'} thick, and by the last weight still wet. "
        f"At {show(heat, 'temperature')} the skin shrinks over a wet middle and checks. Season {it} first, or warm "
        f"{it} up slowly, at {show(mild, 'temperature')} or less."
    )


def _still_wet(rows: Sequence[Workpiece], at: datetime) -> set[int]:
    """Keys of those that are thick and were never seen dry, seasoned or warmed. Three queries."""
    seen: dict[int, list[Weighing]] = {row.pk: [] for row in rows}
    known = Weighing.objects.filter(workpiece__in=rows, struck_out=False, at__lte=at)
    for weighing in known.order_by("at", "pk"):
        seen[weighing.workpiece_id].append(weighing)
    on = answers.local_date(at)
    side_um, mass_mg = answers.value("thick_um", on), answers.value("thick_mg", on)
    wet = {row.pk for row in rows if _thick(row, seen[row.pk], side_um, mass_mg) and _wet_by_weight(seen[row.pk])}
    if not wet:
        return wet
    over = [StepState.DONE, StepState.SKIPPED]
    seasoned = Step.objects.filter(workpiece__in=wet, code=StepCode.SEASON, state__in=over)
    wet -= set(seasoned.values_list("workpiece", flat=True))
    warmed = LoadPlace.objects.filter(
        account__workpiece__in=wet, load__purpose__in=(Purpose.WARM, Purpose.SEASON), out_at__isnull=False
    )
    return wet - set(warmed.values_list("account__workpiece", flat=True))


def _thick(row: Workpiece, seen: Sequence[Weighing], thick_um: int, thick_mg: int) -> bool:
    """By its least side where all three are known, else by weight; of what nobody knows the worse is taken."""
    if row.length_um and row.width_um and row.height_um:
        return min(row.length_um, row.width_um, row.height_um) >= thick_um
    return not seen or seen[-1].mass_mg >= thick_mg


def _wet_by_weight(seen: Sequence[Weighing]) -> bool:
    """Whether the last weighing leaves it wet: as it came, or seasoning and not steady yet, or none at all."""
    if not seen or seen[-1].condition == Weighing.Condition.WET:
        return True
    if seen[-1].condition != Weighing.Condition.SEASON:
        return False
    series: dict[datetime, Weighing] = {one.at: one for one in seen if one.condition == Weighing.Condition.SEASON}
    if len(series) < STEADY_AT:
        return True
    hours = [(moment - seen[0].at).total_seconds() / 3600 for moment in series]
    grams = [one.mass_mg / 1000 for one in series.values()]
    judged = moisture.steady(hours, grams, step_g=seen[-1].step_mg / 1000)
    return judged.state != "steady" or judged.agreeing < STEADY_AT
