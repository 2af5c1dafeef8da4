"""What a workpiece's weights say, in sentences: dry or not and by which test, about when, and how long it may lie."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from studio.craft.dryness import Criterion, Expectation, Verdict
from studio.fields.quantity import show
from studio.web.saying import in_words, when
from studio.work import queries as work
from studio.work.models import Stage, Weighing
from studio.work.queries import Drying, Page
from studio.work.queries.regaining import Regain
from studio.work.queries.verdicts import percent
from studio.work.queries.verdicts import verdict_words as in_short

DAY = timedelta(days=1)
UNRELIABLE = {"oily": "It is an oily wood", "waxed": "It is waxed", "resinous": "It is a resinous wood"}
MET = {True: "Met", False: "Not met", None: "Not known yet"}


@dataclass(frozen=True)
class Test:
    """One thing asked of dry wood: met, not met or not known yet, and the sentence with its figure."""

    met: str
    words: str
    code: str


def weights(found: Page, now: datetime) -> dict[str, Any]:
    """What the page shows of the weights: the verdict, the tests, the curve, and the clocks once it is out."""
    kept = [row for row in found.weighings if not row.struck_out]
    told = work.drying(found, now)
    # One weight of wood that lies out again says nothing of its drying: the weights before it are another series.
    told_by = len(told.series.readings) if told.series else 0
    dried = told.verdict is not None and told.under_way and len(kept) > 1 and (told.inside or told_by > 1)
    words = _verdict(told) if dried else ""
    return {
        "weighings": list(reversed(found.weighings)),
        "last": kept[-1] if kept else None,
        "drying_words": words,
        "more_words": [*(_more(told, now) if dried else []), *_sold_dry(found, told)],
        "tests": tests(told) if dried and told.condition == "oven" else [],
        "out": told.regain,
        "clocks": clocks(told.regain, now) if told.regain else [],
        "curve_points": _points(told, kept),
        "curve_how": _drawing(told),
    }


def _verdict(told: Drying) -> str:
    """Oven-dry. Still losing 0.3 % an hour. Steady at two of three weighings."""
    verdict = told.verdict
    assert verdict is not None
    words = in_short(verdict, told.condition)
    said = f"{words[:1].upper()}{words[1:]}."
    if verdict.state == "dry" and not verdict.oven_dry:
        said += f" Oven-dry is only told at {show(103_000, 'temperature')}, give or take 2."
    return said


def _more(told: Drying, now: datetime) -> list[str]:
    """Moisture now, about when it is dry, and what the reckoning can't know."""
    said = []
    if told.unreliable:
        why = UNRELIABLE[told.unreliable]
        said.append(f"{why}: more than water leaves it, and moisture by weight is not reliable here.")
    if told.moisture is not None:
        middle, low, high = told.moisture
        between = f", {low:.0f} to {high:.0f} nine times in ten" if round(high) - round(low) >= 1 else ""
        whence = ", by what it was cut from" if told.carried else ""
        much = f"About {middle:.0f} %" if middle >= 1 or between else "Less than 1 %"
        said.append(f"{much} moisture left{between}{whence}.")
    ready = told.ready
    if ready is not None and not (told.verdict and told.verdict.oven_dry):
        said.append(_ready(*ready, told.expected, now))
    elif told.condition == Weighing.Condition.SEASON:
        said.append("Seasoning follows the weather, so no day is promised: three monthly weights that agree tell.")
    if told.disturbed_at is not None:
        moment = when(told.disturbed_at, now, clock=True)
        said.append(f"Something wet was put in beside it {moment}: only weights since then count as steady.")
    return said


def _sold_dry(found: Page, told: Drying) -> list[str]:
    """Whose dry that is, as long as its own weights don't tell more."""
    piece = found.workpiece
    if piece.stage not in (Stage.LUMP, Stage.BLANK) or not (piece.purchase and piece.purchase.sold_dry):
        return []
    if told.moisture is not None or (told.verdict and told.verdict.oven_dry):
        return []
    return [
        "It was sold as dry. A yard’s dry wood holds 8 to 12 % of water (common practice) and still wants the oven."
    ]


def _ready(at: datetime, give: timedelta, expected: Expectation | None, now: datetime) -> str:
    span = _span(give)
    if at <= now:
        said = "By now it should be dry" if expected is None else "Dry any time now"
        return f"{said}, give or take {span}: weigh it again."
    said = f"Dry about {when(at, now)}, give or take {span}"
    if expected is None:
        return said + "."
    if expected.whose == "like blanks":
        return f"{said}: so long {in_words(expected.count)} like it took here. Its own weights are too few to tell."
    return f"{said}: common practice for its size, as its own weights are too few to tell."


def _span(give: timedelta) -> str:
    if give >= 2 * DAY:
        return f"{round(give / DAY)} days"
    hours = max(round(give.total_seconds() / 3600), 1)
    return "an hour" if hours == 1 else f"{hours} hours"


def tests(told: Drying) -> list[Test]:
    """The endpoint, the scale and what is left: each met or not, with its figure."""
    verdict = told.verdict
    assert verdict is not None
    return [_endpoint(verdict), _scale(verdict), _rest(told, verdict)]


def _endpoint(verdict: Verdict) -> Test:
    astm, en = verdict.criterion("astm"), verdict.criterion("en")
    over = f"{en.over_h:.0f} h" if en.over_h == astm.over_h else ""
    if astm.met:
        grams, most = _grams(astm.figure or 0), _grams(astm.limit)
        words = f"It lost {grams} in {astm.over_h:.0f} h or more, and {most} is allowed (ASTM D4442)."
        return Test(MET[True], words, "met")
    if en.figure is None:
        span = over or f"{en.over_h:.0f} to {astm.over_h:.0f} h"
        return Test(MET[None], f"Its end is told by two weights {span} apart.", "unknown")
    words = f"It changed {percent(abs(en.figure))} in {en.over_h:.0f} h or more"
    if en.met:
        return Test(MET[True], f"{words}, less than {percent(en.limit)} (EN 13183-1).", "met")
    return Test(MET[False], f"{words}; less than {percent(en.limit)} is wanted (EN 13183-1).", "not")


def _grams(grams: float) -> str:
    return show(round(max(grams, 0) * 1000), "mass", unit="g")


def _scale(verdict: Verdict) -> Test:
    one = verdict.criterion("step")
    figure, limit = percent(one.figure or 0), percent(one.limit)
    if figure == limit and not one.met:
        figure = percent(one.figure or 0, figures=2)
    if one.met:
        return Test(MET[True], f"The scale is fine enough: a step is {figure} of the weight.", "met")
    return Test(MET[False], f"The scale is too coarse: a step is {figure} of the weight, more than {limit}.", "not")


def _rest(told: Drying, verdict: Verdict) -> Test:
    limit = show(told.rest_ppm, "share")
    one: Criterion = verdict.criterion("rest")
    if told.unreliable:
        return Test(MET[None], "What is left can’t be told by weight in this wood.", "unknown")
    if told.drawing is None or verdict.remaining is None or one.figure is None:
        return Test(
            MET[None], f"What is left is told by its curve, once it is sure. Our limit is {limit}.", "unknown"
        )
    left = verdict.remaining
    words = f"By its curve {percent(left.percent)} is left, {percent(left.low)} to {percent(left.high)}"
    return Test(MET[bool(one.met)], f"{words}. Our limit is {limit}.", "met" if one.met else "not")


def clocks(out: Regain, now: datetime) -> list[tuple[str, str, bool]]:
    """The two clocks of dry wood that lies out: word, sentence, past its limit."""
    skin = out.skin
    since, limit = (show(round(h * 60) * 60, "duration") for h in (skin.open_h, skin.limit_h))
    if skin.open_h >= 48:
        since = f"{round(skin.open_h / 24)} days"
    words = f"Out {since}, our limit is {limit}." if out.bagged_at is None else f"Open {since}, our limit is {limit}."
    if out.skin_over:
        words += " A damp skin foams a casting: about an hour back in drives it off."
    elif skin.over and out.skin_weighed_at is not None:
        words += f" But it weighed as dry as it came out, {when(out.skin_weighed_at, now, clock=True)}."
    rows = [("Skin", words, out.skin_over)]
    if not out.dry_known:
        return rows
    if out.core is None:
        words = "Say in the settings how warm and damp the shop is, and it is told how moist the inside is by now."
        return [*rows, ("Core", words, False)]
    how = "as weighed" if out.weighed and not out.air_known else "about"
    most = show(out.limit_ppm, "share")
    words = f"{how.capitalize()} {max(out.core, 0):.0f} % moisture by now, our limit is {most}."
    if out.over:
        words += " Dry it again before it is soaked or cast."
    elif out.until is not None:
        words += f" It passes that about {when(out.until, now, clock=(out.until - now) < 2 * DAY)}."
    elif out.settles is not None:
        words += " In this air it stays below."
    if out.pace is not None:
        count = out.pace.count
        words += (
            f" Its pace is from {in_words(count)} weighed again here." if count else " Its pace is common practice."
        )
        words += "" if out.thickness_known else " Its thickness is guessed from its weight."
    return [*rows, ("Core", words, out.over)]


def _points(told: Drying, kept: list[Weighing]) -> list[tuple[datetime, int]]:
    """The series under way, or everything it ever weighed where that is no series to look at."""
    series = told.series
    if series is None or not told.under_way or len(series.readings) < 3:
        return [(row.at, row.mass_mg) for row in kept]
    return [(told.moment(one.at_h), round(one.grams * 1000)) for one in series.readings]


def _drawing(told: Drying) -> dict[str, Any]:
    drawing = told.drawing
    if drawing is None or not told.under_way:
        return {}
    rows = zip(drawing.hours, drawing.middle, drawing.low, drawing.high, strict=True)
    dry_mg = round(drawing.fit.dry_g * 1000 * (1 + told.rest_ppm / 1e6))
    fit = drawing.fit
    last = drawing.hours[-1]
    how: dict[str, Any] = {
        "course": [(told.moment(h), *(round(g * 1000) for g in (m, low, high))) for h, m, low, high in rows],
        "expected": dry_mg,
        "expected_words": f"dry below {show(dry_mg // 1000 * 1000, 'mass', unit='g')}",
    }
    if told.verdict and told.verdict.state != "dry" and fit.ready_low_h < last:
        how["ready"] = (told.moment(fit.ready_low_h), told.moment(min(fit.ready_high_h, last)))
    return how
