"""After a pour: how its castings look, and what they and the cup weigh."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from django.db import transaction

from studio.fields.listing import listed
from studio.fields.quantity import show
from studio.people import settings as studio_settings
from studio.people.models import User
from studio.work.errors import PourTrouble
from studio.work.models import Outcome, Pour, PourFill
from studio.work.operations.pour import demould
from studio.work.queries.outcomes import WeighedOut, weighed_out

WORDS = 200
GOOD = Outcome.What.GOOD


def come_out(
    *,
    pour: Pour,
    at: datetime,
    weights: Mapping[int, int] | None = None,
    cup_mg: int | None = None,
    seen: Mapping[int, Sequence[str]] | None = None,
    sure: bool = False,
    by: User | None = None,
) -> Pour:
    """Will take a pour out of its moulds, with what the castings weigh, what was left in the cup, and how each looks.

    `weights` and `seen` go by the casting's key, weights in milligrams. What comes too early by the sheet,
    and weights that don't agree with what was mixed, are asked about together (code "sure").
    """
    with transaction.atomic():
        _refuse_bad_cup(pour, cup_mg)
        doubt = _doubt(weighed_out(pour, cup_mg=cup_mg, weights=weights))
        try:
            row = demould(pour=pour, at=at, by=by, early=sure, weights=dict(weights or {}))
        except PourTrouble as stop:
            if stop.code == "sure" and doubt:  # one tick answers both: both have to be read first
                raise PourTrouble(f"{stop.message} {doubt}", code="sure") from stop
            raise
        if doubt and not sure:
            raise PourTrouble(doubt, field="cup", code="sure")
        if cup_mg is not None:
            row.cup_mg = cup_mg
            row.save(update_fields=["cup_mg"])
        for one in row.fills.order_by("pk"):
            for what in (seen or {}).get(one.casting_id, ()):
                note_outcome(fill=one, what=what, at=at, by=by)
        return row


def note_cup(*, pour: Pour, cup_mg: int, sure: bool = False) -> Pour:
    """Will keep what was left in the cup, its own weight taken off; weighed again, the last counts.

    More than was mixed is refused, more than the castings leave room for is asked about (code "sure").
    """
    with transaction.atomic():
        row = Pour.objects.select_for_update().get(pk=pour.pk)
        _refuse_bad_cup(row, cup_mg)
        doubt = _doubt(weighed_out(row, cup_mg=cup_mg))
        if doubt and not sure:
            raise PourTrouble(doubt, field="cup", code="sure")
        row.cup_mg = cup_mg
        row.save(update_fields=["cup_mg"])
        return row


def _refuse_bad_cup(pour: Pour, cup_mg: int | None) -> None:
    if cup_mg is None:
        return
    if type(cup_mg) is not int or cup_mg < 0:
        raise PourTrouble("What was left in the cup weighs nothing or more.", field="cup")
    mixed = weighed_out(pour).mixed_mg
    if cup_mg > mixed:
        raise PourTrouble(
            f"That is more than was mixed, {show(mixed, 'mass')}. Take the weight of the empty cup off.", field="cup"
        )


def _doubt(found: WeighedOut) -> str:
    """What to ask where the weights don't agree with one another by more than the scale's step, or nothing."""
    step = studio_settings.value("scale_step_mg") * max(1, len(found.castings))
    light = [one.fill.casting.number for one in found.castings if one.took_mg is not None and one.took_mg < -step]
    if light:
        weighs = "weighs" if len(light) == 1 else "weigh"
        words = f"{listed(light)} {weighs} less than before the resin came to it."
    else:
        over = found.stayed_mg if found.cup_mg is None else found.floor_mg
        if over is None or over >= -step:
            return ""
        cup = "" if found.cup_mg is None else " and the cup"
        words = f"By these weights the castings{cup} hold {show(-over, 'mass')} more than was mixed."
    return f"{words} One of them is off, or the wood was moister than when it was weighed. If they are right, say so."


def note_outcome(*, fill: PourFill, what: str, at: datetime, words: str = "", by: User | None = None) -> Outcome:
    """Will keep one thing seen of a casting. A fault takes the place of *looks good*; said again it is as before,
    with the words that came last.

    Refused: *looks good* beside a fault that stands, or while the casting is in its mould; a time before its pour.
    """
    if what not in Outcome.What.values:
        raise PourTrouble("Choose how it looks.", field="what")
    words = words.strip()
    if len(words) > WORDS:
        raise PourTrouble(f"At most {WORDS} letters.", field="words")
    with transaction.atomic():
        held = PourFill.objects.select_for_update(of=("self",)).select_related("pour").get(pk=fill.pk)
        if at < held.pour.at:
            raise PourTrouble("That is before it was poured. Give the time it was seen.", field="at")
        there = {row.what: row for row in held.outcomes.all()}
        if what == GOOD:
            _refuse_good(held, there)
        else:
            held.outcomes.filter(what=GOOD).delete()
        row = there.get(what) or Outcome(fill=held, what=what, at=at, by=by)
        row.words = words or row.words
        row.save()
        return row


def _refuse_good(held: PourFill, there: Mapping[str, Outcome]) -> None:
    faults = [str(row.get_what_display()) for what, row in there.items() if what != GOOD]
    if faults:
        raise PourTrouble(f"It says {listed(faults)}. Tap that away first if it isn’t so.", field="what")
    if held.pour.demoulded_at is None:
        raise PourTrouble("It is still in its mould. Say that it looks good when it is out.", field="what")


def take_back_outcome(*, fill: PourFill, what: str) -> None:
    """Will take back one thing seen. What isn't there is taken back already."""
    Outcome.objects.filter(fill=fill, what=what).delete()
