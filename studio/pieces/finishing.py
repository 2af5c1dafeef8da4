"""From a turned workpiece to a finished piece: four ticks, and the share of lost pieces it pays for."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Max
from django.utils import timezone

from studio.craft.rounding import divide
from studio.fields.models import Submission
from studio.ledger import operations as ledger
from studio.ledger.accounts import Component, Kind
from studio.ledger.queries import cost_of
from studio.people import settings as studio_settings
from studio.people.models import User
from studio.people.names import fold
from studio.pictures.models import CAPTION_LENGTH, Picture
from studio.pieces import guards, typed
from studio.pieces.curing import asked_about
from studio.pieces.errors import NotAsThingsStand, NotLikeThat, SignedAlready
from studio.pieces.models import (
    NUMBER_LENGTH,
    TICKS,
    WORDS_LENGTH,
    Piece,
    PiecePicture,
)
from studio.pieces.numbers import next_signed_number, read
from studio.work import operations as work
from studio.work.making import held_rows
from studio.work.models import Stage, StepState, Weighing, Workpiece

PPM = 1_000_000
LEFT_OUT = "not noted before the piece was finished"
TRIES = 5


def become_piece(
    *,
    workpiece: Workpiece,
    at: datetime,
    by: User | None = None,
    title: str | None = None,
    form: str | None = None,
    sure: bool = False,
    now: datetime | None = None,
) -> Piece:
    """Will make a piece of a workpiece: same number, same account, four ticks to come.

    Title and form are the workpiece's own, changed where given. Care and cautions begin as the studio's usual
    ones. Raises where it is a piece already, has left the bench, or came into being after `at`. Asks (code "sure")
    where its finish isn't done or still cures.
    """
    with transaction.atomic():
        (row,) = held_rows([workpiece])
        if Piece.objects.filter(workpiece=row).exists():
            raise NotAsThingsStand(f"{row.number} is a piece already.", code="already")
        if at < row.made_at:
            raise NotAsThingsStand(
                f"{row.number} came into being after that. Give the day it became a piece.", field="at"
            )
        _cured([row], at, sure)
        facts: dict[str, Any] = {
            name: typed.words(text, name, most=most)
            for name, text, most in (("title", title, 200), ("form", form, 60))
            if text is not None
        }
        row = work.describe(workpiece=row, **facts)
        row.stage = Stage.PIECE
        row.save(update_fields=["stage"])
        piece = Piece(
            workpiece=row,
            became_at=at,
            became_by=by,
            care_words="\n".join(studio_settings.value("care_words")),
            caution_words="\n".join(studio_settings.value("caution_words")),
        )
        typed.check_time(piece, at, now)
        piece.save(force_insert=True)
        return piece


def _cured(workpieces: Sequence[Workpiece], at: datetime, sure: bool) -> None:
    if not sure and (asked := asked_about(workpieces, at)):
        raise NotAsThingsStand(asked, code="sure")


def measure(
    *,
    piece: Piece,
    at: datetime,
    mass_mg: int,
    height_um: int | None = None,
    diameter_um: int | None = None,
    length_um: int | None = None,
    width_um: int | None = None,
    step_mg: int | None = None,
    sure: bool = False,
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Piece:
    """Will note size and weight, and tick *measured*. Measured again, the new figures replace the old.

    One measure at least, in micrometres, and the weight in milligrams. A weight far from the last one is
    asked about unless `sure`. May finish the piece.
    """
    found = typed.sizes(
        {"height_um": height_um, "diameter_um": diameter_um, "length_um": length_um, "width_um": width_um}
    )
    mass = typed.mass(mass_mg)
    with transaction.atomic():
        row = typed.held(piece)
        typed.check_time(row, at, now)
        work.weigh(
            workpiece=row.workpiece,
            mass_mg=mass,
            at=at,
            condition=Weighing.Condition.FINISHED,
            step_mg=step_mg or studio_settings.value("scale_step_mg"),
            by=by,
            now=now or timezone.now(),
            sure=sure,
        )
        for name, value in found.items():
            setattr(row, name, value)
        row.mass_mg = mass
        row.measured_at = row.measured_at or at
        row.save()
        return _finish_if_ready(row, at, by, submission, now)


def sign(
    *,
    piece: Piece,
    at: datetime,
    with_what: str = "",
    number: str = "",
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Piece:
    """Will give the piece its signed number and tick *signed*. `with_what`: "burned with a wire".

    No number typed: the next by the studio's pattern, taken now and not before. May finish the piece.
    Raises `SignedAlready` for a number another piece carries.
    """
    tool = typed.words(with_what, "with_what", most=WORDS_LENGTH)
    given = typed.words(number, "number", most=NUMBER_LENGTH)
    with transaction.atomic():
        row = typed.held(piece)
        typed.check_time(row, at, now)
        if row.signed_at is not None:
            raise SignedAlready(f"It is signed already: {row.signed_number}.", code="signed")
        on = studio_settings.local_date(at)
        row.signed_at, row.signed_on, row.signed_with = at, on, tool
        if given and given != row.signed_number:
            _take_number(row, given)
        elif not row.signed_number:
            _take_next_number(row)
        row.save()
        return _finish_if_ready(row, at, by, submission, now)


def _take_number(row: Piece, number: str) -> None:
    assert row.signed_on is not None
    other = Piece.objects.filter(signed_number=number).exclude(pk=row.pk).select_related("workpiece").first()
    if other is not None:
        raise SignedAlready(
            f"{number} is signed on another piece ({other.workpiece.number}). Give another number, "
            "or leave the field as it was offered.",
            field="number",
        )
    _put_number(row, number, *read(number, row.signed_on))


def _take_next_number(row: Piece) -> None:
    """Two who sign in the same moment are told different numbers: the second looks again."""
    assert row.signed_on is not None
    for _ in range(TRIES):
        _put_number(row, *next_signed_number(row.signed_on))
        try:
            with transaction.atomic():
                row.save()
                return
        except IntegrityError:
            continue
    raise SignedAlready("Others are signing pieces in this moment. Send it again.", field="number")


def _put_number(row: Piece, number: str, run: int | None, year: int | None) -> None:
    row.signed_number, row.signed_run, row.signed_year = number, run, year
    row.number_search = fold(number)[: NUMBER_LENGTH * 2]


def photograph(
    *,
    piece: Piece,
    picture: Picture,
    at: datetime,
    by: User,
    caption: str = "",
    on_card: bool = False,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> PiecePicture:
    """Will put a picture to the piece and tick *photographed*. The first one stands on the card.

    `picture` comes from `pictures.operations.take`. A piece that has left may still get one; that ticks
    nothing. May finish the piece.
    """
    kept = typed.words(caption, "caption", most=CAPTION_LENGTH)
    with transaction.atomic():
        row = typed.locked(piece)
        here = row.workpiece.closed_at is None
        if here:
            row = typed.held(piece)
            typed.check_time(row, at, now)
        link = row.pictures.filter(picture=picture).first() or _put_picture(row, picture, kept, on_card, at, by)
        if here:
            row.photographed_at = row.photographed_at or at
            row.save()
            _finish_if_ready(row, at, by, submission, now)
        return link


def _put_picture(row: Piece, picture: Picture, caption: str, on_card: bool, at: datetime, by: User) -> PiecePicture:
    last = row.pictures.aggregate(n=Max("position"))["n"]
    first = not row.pictures.filter(on_card=True).exists()
    if on_card:
        row.pictures.update(on_card=False)
    return PiecePicture.objects.create(
        piece=row,
        picture=picture,
        position=0 if last is None else last + 1,
        caption=caption,
        on_card=on_card or first,
        at=at,
        by=by,
    )


def rest(
    *,
    piece: Piece,
    at: datetime,
    sure: bool = False,
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Piece:
    """Will tick *rested*: the finish has had its days and the piece was looked at once more. May finish it.

    Asks (code "sure") where its finish isn't done or still cures.
    """
    with transaction.atomic():
        row = typed.held(piece)
        typed.check_time(row, at, now)
        _cured([row.workpiece], at, sure)
        if row.rested_at is None:
            row.rested_at = at
            row.save()
        return _finish_if_ready(row, at, by, submission, now)


def untick(
    *,
    piece: Piece,
    tick: str,
    at: datetime,
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Piece:
    """Will take one of the four ticks back. A finished piece is unfinished again, and the share of lost pieces
    it was charged is taken back with it.

    A signed number that is the last one given is free again; an earlier one stays with its piece, so that no
    gap is left. *Photographed* is taken back only where no picture is left. Rooms above may refuse too
    (`guards`): a finished piece that stands at a gallery comes back first.
    """
    if tick not in TICKS:
        raise NotLikeThat("Choose one of the four ticks.", field="tick")
    with transaction.atomic():
        row = typed.held(piece)
        typed.check_time(row, at, now)
        if getattr(row, f"{tick}_at") is None:
            return row
        if row.finished_at is not None:
            for check in guards.unticking:
                check(row)
        if tick == "photographed" and row.pictures.exists():
            raise NotAsThingsStand("There are pictures of it. Take them off first.", field="tick")
        if tick == "signed":
            _free_number(row)
        setattr(row, f"{tick}_at", None)
        _unfinish(row, at, by, submission, now)
        row.save()
        return row


def _free_number(row: Piece) -> None:
    later = Piece.objects.filter(signed_year=row.signed_year, signed_run__gt=row.signed_run or 0)
    if row.signed_run is None or not later.exists():
        row.signed_number, row.signed_run, row.signed_year, row.number_search = None, None, None, ""


def _finish_if_ready(
    row: Piece, at: datetime, by: User | None, submission: Submission | None, now: datetime | None
) -> Piece:
    """Four ticks make it finished: the share of lost pieces is charged once, and nothing is left to be done."""
    if row.finished_at is not None or row.ticks_missing:
        return row
    done_at = max(at, *(getattr(row, f"{tick}_at") for tick in TICKS))
    row.finished_at = done_at
    row.workpiece.account = ledger.lock([row.workpiece.account])[row.workpiece.account_id]
    ppm = studio_settings.value("loss_allowance_ppm", studio_settings.local_date(done_at))
    cost = cost_of(row.workpiece.account)
    owed = allowance_still_owed(cost.all_in, cost.parts.get(Component.ALLOWANCE, 0), ppm)
    if owed:
        row.allowance_entry_id = ledger.charge(  # type: ignore[attr-defined]
            account=row.workpiece.account,
            values={Component.ALLOWANCE: owed},
            against={Component.ALLOWANCE: Kind.ALLOWANCE},
            kind="allowance",
            at=done_at,
            by=by,
            submission=submission,
            now=now,
        ).entry_id
    row.save()
    _end_steps(row.workpiece, done_at, by)
    return row


def allowance_still_owed(all_in_micro: int, paid_micro: int, ppm: int) -> int:
    """What a piece still pays for those that were lost: a share of its own cost, less what its parts paid.

    `paid_micro` is the part of `all_in_micro` that is such a share already. Millionths, half up. Source:
    *common practice, no source*; the share is the studio's own figure.
    """
    return max(0, divide((all_in_micro - paid_micro) * ppm, PPM) - paid_micro)


def _end_steps(workpiece: Workpiece, at: datetime, by: User | None) -> None:
    for step in workpiece.steps.filter(state=StepState.OPEN):
        work.end_step(workpiece=workpiece, code=step.code, at=at, person=by)
    for step in workpiece.steps.filter(state=StepState.PLANNED):
        work.leave_out_step(workpiece=workpiece, code=step.code, why=LEFT_OUT)


def _unfinish(row: Piece, at: datetime, by: User | None, submission: Submission | None, now: datetime | None) -> None:
    if row.finished_at is None:
        return
    if row.allowance_entry_id:  # type: ignore[attr-defined]
        ledger.reverse(
            entry_id=row.allowance_entry_id,  # type: ignore[attr-defined]
            at=max(at, row.finished_at),
            by=by,
            submission=submission,
            now=now,
        )
    row.finished_at, row.allowance_entry = None, None
