"""Leaving pieces with a gallery and taking them back. Where a thing is is not money: nothing is posted."""

from collections.abc import Sequence
from datetime import datetime

from django.db import IntegrityError, transaction

from studio.fields.listing import listed
from studio.people import settings as studio_settings
from studio.people.models import User
from studio.people.roles import require
from studio.pieces.curing import asked_about
from studio.pieces.models import Piece
from studio.selling import typed
from studio.selling.errors import CannotLeave, GalleryClosed, NotLikeThat, NotThere
from studio.selling.models import WHY_LENGTH, Gallery, Placement
from studio.selling.operations.galleries import held_gallery
from studio.work.models import Workpiece

MOST_AT_ONCE = 200


def leave_with(
    *,
    pieces: Sequence[Piece],
    gallery: Gallery,
    at: datetime,
    by: User,
    sure: bool = False,
    now: datetime | None = None,
) -> list[Placement]:
    """Will note that pieces are with a gallery from `at` on: all of them, or none.

    Each must be finished, priced, on the shelf and kept for nobody. Raises `CannotLeave` with a sentence for
    each that isn't; asks (code "sure") where a finish still cures.
    """
    require(by, "sell")
    typed.past(at, now)
    if not pieces:
        raise NotLikeThat("Choose the pieces that go along.", field="pieces")
    if len(pieces) > MOST_AT_ONCE:
        raise NotLikeThat(f"At most {MOST_AT_ONCE} pieces in one go. Leave the rest in a second go.", field="pieces")
    with transaction.atomic():
        gallery = held_gallery(gallery)
        if gallery.closed_on is not None:
            raise GalleryClosed(f"You no longer work with {gallery}. Open it again before leaving anything there.")
        rows = held_pieces(pieces)
        reasons = [reason for row in rows if (reason := _why_not(row, at))]
        if reasons:
            raise CannotLeave(reasons)
        if not sure and (asked := asked_about([row.workpiece for row in rows], at)):
            raise CannotLeave([asked], code="sure")
        on = studio_settings.local_date(at)
        new = [Placement(piece=row, gallery=gallery, left_at=at, left_on=on, left_by=by) for row in rows]
        try:
            with transaction.atomic():
                return Placement.objects.bulk_create(new)
        except IntegrityError as error:
            raise CannotLeave(
                ["One of these pieces was left somewhere in the same moment. Open the page again."]
            ) from error


def take_back(*, placement: Placement, why: str, at: datetime, by: User, now: datetime | None = None) -> Placement:
    """Will note that a piece is back on the shelf, and in a word why."""
    require(by, "sell")
    typed.past(at, now)
    words = typed.words(why, "why", most=WHY_LENGTH, missing="Say in a word why it comes back.")
    with transaction.atomic():
        placement = Placement.objects.select_related("gallery", "piece__workpiece").get(pk=placement.pk)
        held_pieces([placement.piece])
        placement.refresh_from_db(fields=["back_at"])
        if placement.back_at is not None:
            raise NotThere(
                f"{placement.piece} left {placement.gallery} on {placement.back_at:%d %B %Y} already. "
                "Nothing was changed."
            )
        end(placement, why=words, at=at, by=by)
        return placement


def end(placement: Placement, *, why: str, at: datetime, by: User | None) -> None:
    """End an open placement, or refuse a time before it began."""
    if at < placement.left_at:
        raise NotThere(
            f"{placement.piece} came to {placement.gallery} on {placement.left_at:%d %B %Y, %H:%M}, "
            "later than that. Give a later time.",
            field="at",
        )
    placement.back_at, placement.back_on = at, studio_settings.local_date(at)
    placement.back_why, placement.back_by = why, by
    placement.save(update_fields=["back_at", "back_on", "back_why", "back_by"])


def held_pieces(pieces: Sequence[Piece]) -> list[Piece]:
    """Fresh rows in the order asked for, their workpieces held in key order until the transaction ends.

    `asking_micro` and the placements stand on each. Unlike the bench this doesn't refuse what has left it.
    """
    keys = list({piece.pk: None for piece in pieces})
    owners = Piece.objects.filter(pk__in=keys).values("workpiece")
    list(Workpiece.objects.select_for_update().filter(pk__in=owners).order_by("pk").values_list("pk"))
    rows = (
        Piece.objects.with_asking()
        .select_related("workpiece__account")
        .prefetch_related("placements__gallery")
        .in_bulk(keys)
    )
    return [rows[pk] for pk in keys]


def open_placement(piece: Piece) -> Placement | None:
    return next((row for row in piece.placements.all() if row.back_at is None), None)


def left_the_shop(piece: Piece) -> str:
    """A sentence where the piece is sold, lost or given away; "" while it is ours."""
    work = piece.workpiece
    if work.closed_at is None:
        return ""
    return f"{piece} is no longer here: it was {work.get_closed_as_display()} on {work.closed_at:%d %B %Y}."


def _why_not(piece: Piece, at: datetime) -> str:
    """Why this piece can't go to a gallery, or "". `asking_micro` comes with `held_pieces`."""
    gone = left_the_shop(piece)
    if gone:
        return gone
    work, stands = piece.workpiece, open_placement(piece)
    if stands:
        return f"{piece} is with {stands.gallery} since {stands.left_at:%d %B %Y}. Take it back first."
    if work.client_owned:
        return f"{piece} is the client's own wood; it goes back to its owner."
    if work.held:
        return f"{piece} is kept: {work.hold_reason}. Let go of it there first."
    if piece.finished_at is None:
        return f"{piece} isn't finished: it is still to be {listed(piece.ticks_missing)}."
    if piece.asking_micro is None:  # type: ignore[attr-defined]
        return f"{piece} has no asking price. Set one first."
    if at < piece.finished_at:
        return f"{piece} was finished on {piece.finished_at:%d %B %Y, %H:%M} only. Give a later time."
    later = max((row.back_at for row in piece.placements.all() if row.back_at), default=None)
    if later and at < later:
        return f"{piece} was elsewhere until {later:%d %B %Y, %H:%M}. Give a later time."
    return ""
