"""Setting workpieces aside for a commission: a hold that lies on them, which every other room respects."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from studio.commissions.errors import NotLikeThat, NotNow
from studio.commissions.models import Commission, State, What
from studio.commissions.trail import held, note_down, past
from studio.people.models import User
from studio.people.roles import require
from studio.selling.errors import NotThere
from studio.selling.models import Placement
from studio.work import operations as work
from studio.work.models import Workpiece


def reserve(
    *,
    commission: Commission,
    workpieces: Sequence[Workpiece],
    at: datetime,
    by: User,
    now: datetime | None = None,
) -> Commission:
    """Will set workpieces aside: all of them or none. What is cut from them or joined with them is held too.

    Raises where one has left the bench, is held for something else, or stands at a gallery.
    """
    require(by, "commissions")
    past(at, now)
    if not workpieces:
        raise NotLikeThat("Choose what is set aside.", field="workpieces")
    with transaction.atomic():
        row = held(commission)
        if not row.is_open:
            raise NotNow(
                f"Commission {row.number} is {row.get_state_display()}; nothing is set aside for it any more."
            )
        chosen = sorted({piece.pk: piece for piece in workpieces}.values(), key=lambda piece: piece.pk)
        numbers = [
            work.hold(workpiece=piece, reason=f"for commission {row.number}", ref=row.ref).number for piece in chosen
        ]
        away = (
            Placement.objects.open()
            .filter(piece__workpiece__in=[piece.pk for piece in chosen])
            .select_related("gallery", "piece__workpiece")
            .first()
        )
        if away:
            raise NotThere(
                f"{away.piece} is with {away.gallery}. Take it back before it is set aside.", field="workpieces"
            )
        note_down(row, What.RESERVED, at=at, by=by, words=", ".join(numbers))
        return row


def let_go_workpiece(
    *, commission: Commission, workpiece: Workpiece, at: datetime, by: User, now: datetime | None = None
) -> Commission:
    """Will let one workpiece go that was set aside."""
    require(by, "commissions")
    past(at, now)
    with transaction.atomic():
        row = held(commission, State.ASKED, State.AGREED)
        if not work.release(ref=row.ref, workpiece=workpiece):
            raise NotNow(f"{workpiece.number} isn't set aside for commission {row.number}. Nothing was changed.")
        note_down(row, What.LET_GO, at=at, by=by, words=workpiece.number)
        return row
