"""How a finish is told: its lines as one writes them, what comes next, and what a coat takes and why."""

from dataclasses import dataclass
from datetime import datetime

from django.urls import reverse

from studio.craft.finishing import shape_of
from studio.fields.quantity import show
from studio.stores.errors import amount_words
from studio.web.saying import in_words, when
from studio.work import queries
from studio.work.models import FinishDone, FinishLine, FinishRun, LineKind, Workpiece
from studio.work.operations.finish import coat_amount, surface_of, where_it_stands

DAY_S = 86_400
SHAPES = {
    "bowl": "reckoned as a bowl, inside and out",
    "open": "reckoned as an open drum, inside and out",
    "closed": "reckoned as a closed form, outside only",
    "solid": "reckoned as a solid drum",
}


def lower(words: str) -> str:
    return words[:1].lower() + words[1:]


def span(seconds: int) -> str:
    """`7 days` where it is whole days, `a day`, else `20 h 30`."""
    days, rest = divmod(seconds, DAY_S)
    if days and not rest:
        return "a day" if days == 1 else f"{in_words(days)} days"
    return show(seconds, "duration")


def line_words(line: FinishLine) -> str:
    """`Coat with Hard oil, 60 g on a square metre; then wait a day, go on within two days`."""
    if line.kind == LineKind.CURE:
        return f"Cure {span(line.wait_s)} before packing"
    said = line.words
    if line.spread_mgm2:
        said += f", {show(line.spread_mgm2, 'mass', unit='g')} on a square metre"
    then = [f"wait {span(line.wait_s)}"] if line.wait_s else []
    if line.latest_s:
        then.append(f"go on within {span(line.latest_s)}")
    said += f"; then {', '.join(then)}" if then else ""
    return f"{said}. Not on resin" if line.not_on_resin else said


def coat_words(piece: Workpiece, line: FinishLine) -> str:
    """What a coat takes and why, or why that isn't known; "" for what is no coat."""
    if line.kind != LineKind.COAT or line.material is None:
        return ""
    amount, surface = coat_amount(piece, line), surface_of(piece)
    if amount is not None and surface is not None and line.spread_mgm2:
        sizes = " × ".join(show(um or 0, "length") for um in (piece.length_um, piece.width_um, piece.height_um))
        return (
            f"About {amount_words(line.material, amount)}: {sizes}, {SHAPES[shape_of(piece.form)]}, "
            f"{show(line.spread_mgm2, 'mass', unit='g')} on a square metre"
        )
    if line.material.counted:
        return "Say how many go on it"
    missing = (
        "its size isn’t measured" if surface is None else "its finish doesn’t say how much goes on a square metre"
    )
    return f"Type the grams: {missing}"


@dataclass(frozen=True)
class Said:
    """What comes next of a finish: words, how its clock reads, the moment, and until when."""

    words: str
    kind: str = ""
    at: datetime | None = None
    by: datetime | None = None
    late: bool = False


def next_words(run: FinishRun, now: datetime) -> Said:
    """The next line with its clock; of a finish that is done, the cure. No query where lines and taps are there."""
    if run.taken_off:
        return Said("Taken off this finish")
    lines, stands = where_it_stands(run)
    if stands.following is None:
        cures = stands.at > now
        return Said("Cures" if cures else "All done", "until" if cures else "", stands.at if cures else None)
    early = stands.at > now
    late = stands.by is not None and stands.by < now
    return Said(lines[stands.following].words, "not before" if early else "", stands.at if early else None,
                stands.by, late)  # fmt: skip


@dataclass(frozen=True)
class OnPage:
    """The finish of a workpiece as its page tells it."""

    run: FinishRun
    said: Said
    lines: tuple[str, ...]


def on_its_finish(piece: Workpiece, now: datetime) -> tuple[OnPage | None, list[tuple[str, str]]]:
    """The finish it is on or had last, and (word, address) of what one may do about it. Three queries."""
    run = queries.last_finish(piece.pk)
    acts = [("Put it on a finish", f"{reverse('finish_put_on')}?workpiece={piece.pk}")]
    if run is None:
        return None, acts
    tapped = {done.line_id: done for done in run.done.all() if done.taken_back_at is None}
    lines = tuple(
        f"{line.words}, {when(tapped[line.pk].at, now)}{_took(tapped[line.pk], line)}"
        for line in run.schedule.lines.all()
        if line.pk in tapped
    )
    return OnPage(run, next_words(run, now), lines), acts if run.ended_at is not None else []


def _took(done: FinishDone, line: FinishLine) -> str:
    return f", {amount_words(line.material, done.amount)}" if done.amount and line.material else ""


@dataclass(frozen=True)
class Shown:
    """A line of a piece's finish as the page draws it."""

    line: FinishLine
    words: str
    next: bool = False
    done: FinishDone | None = None
    took: str = ""
    note: str = ""
    url: str = ""
    back: str = ""
    amount: str = ""


def lines_of(run: FinishRun, now: datetime, *, bench: bool) -> list[Shown]:
    """Every line: done, next or to come. The last one done can be taken back. No query where they were fetched."""
    lines, stands = where_it_stands(run)
    tapped = {done.line_id: done for done in run.done.all() if done.taken_back_at is None}
    last = next((tapped[line.pk] for line in reversed(lines) if line.pk in tapped), None)
    going = run.ended_at is None
    shown = []
    for place, line in enumerate(lines):
        done = tapped.get(line.pk)
        ahead = going and place == stands.following
        coat = line.kind == LineKind.COAT and line.material is not None
        took = _took(done, line).removeprefix(", ") if done else ""
        reckoned = coat_amount(run.workpiece, line) if ahead and coat else None
        shown.append(
            Shown(
                line, line_words(line), ahead, done, took,
                note=coat_words(run.workpiece, line) if ahead else _cure_note(line, run, now),
                url=reverse("finish_line", args=[run.pk, line.pk]) if bench and ahead else "",
                back=reverse("finish_back", args=[done.pk])
                if bench and done is not None and done is last and not run.taken_off
                else "",
                amount=amount_words(line.material, reckoned) if reckoned and line.material else "",
            )
        )  # fmt: skip
    return shown


def _cure_note(line: FinishLine, run: FinishRun, now: datetime) -> str:
    if line.kind != LineKind.CURE or run.cured_at is None or run.taken_off:
        return ""
    return f"until {when(run.cured_at, now)}" if run.cured_at > now else f"cured since {when(run.cured_at, now)}"
