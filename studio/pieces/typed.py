"""Checks of what the operations are given, each with a sentence beside its field; and the row they work on."""

from collections.abc import Mapping
from datetime import datetime

from django.utils import timezone

from studio.fields.whole import LIMIT
from studio.ledger.errors import InTheFuture
from studio.people import settings as studio_settings
from studio.people.text import tidy
from studio.pieces.asking import Way
from studio.pieces.errors import NotAsThingsStand, NotLikeThat
from studio.pieces.models import SIZES, Piece
from studio.work.making import held_rows
from studio.work.models import Workpiece

MM = 1000
LARGEST_UM = 3000 * MM
LIGHTEST_MG = 100
HEAVIEST_MG = 300_000_000
LINES = 8
LINE_LENGTH = 200


def held(piece: Piece) -> Piece:
    """The piece afresh, it and its workpiece locked in that order, still in the shop. Raises when it has left."""
    (workpiece,) = held_rows([Workpiece(pk=piece.workpiece_id)])
    row = Piece.objects.select_for_update(of=("self",)).get(pk=piece.pk)
    row.workpiece = workpiece
    return row


def locked(piece: Piece) -> Piece:
    """The piece afresh and locked, wherever it is by now."""
    return Piece.objects.select_for_update(of=("self",)).select_related("workpiece__account").get(pk=piece.pk)


def check_time(piece: Piece, at: datetime, now: datetime | None) -> None:
    """Refuse a moment still to come, and one before the wood became a piece."""
    if at > (now or timezone.now()):
        raise InTheFuture(at)
    if at < piece.became_at:
        on = studio_settings.local_date(piece.became_at)
        raise NotAsThingsStand(f"It became a piece on {on:%d %B %Y}. Give that day or a later one.", field="at")


def words(text: str, field: str, *, most: int, missing: str = "") -> str:
    """Return one line, tidied; refuse what can't be printed, is too long or, with `missing`, isn't there."""
    try:
        kept = tidy(text, most=most)
    except ValueError as error:
        raise NotLikeThat(str(error), field=field) from error
    if missing and not kept:
        raise NotLikeThat(missing, field=field)
    return kept


def story(text: str, field: str, *, most: int) -> str:
    """Return text of several lines as it will be kept."""
    try:
        return tidy(text, most=most, lines=True)
    except ValueError as error:
        raise NotLikeThat(str(error), field=field) from error


def sentences(text: str, field: str) -> str:
    """Return one sentence to a line, empty lines left out: at most eight, each short enough for a card."""
    kept = story(text, field, most=LINES * (LINE_LENGTH + 2))
    lines = [line.strip() for line in kept.splitlines() if line.strip()]
    if len(lines) > LINES:
        raise NotLikeThat(f"That is {len(lines)} lines; a card has room for {LINES}.", field=field)
    for line in lines:
        if len(line) > LINE_LENGTH:
            raise NotLikeThat(f"A line has at most {LINE_LENGTH} letters. Break it in two.", field=field)
    return "\n".join(lines)


def sizes(given: Mapping[str, int | None]) -> dict[str, int | None]:
    """Return the measures given, each between 1 mm and 3 m; at least one is wanted."""
    unknown = set(given) - set(SIZES)
    if unknown:
        raise TypeError(f"A piece has no {', '.join(sorted(unknown))}.")
    for name, value in given.items():
        if value is not None and not (type(value) is int and MM <= value <= LARGEST_UM):
            raise NotLikeThat("Give a measure between 1 mm and 3 m. Look at the unit again.", field=name)
    if not any(given.values()):
        raise NotLikeThat("Give at least one measure: how high it is, or how wide.", field=SIZES[0])
    return dict(given)


def mass(value: int | None) -> int:
    """Return a weight between a tenth of a gram and 300 kg, or refuse it."""
    if type(value) is not int or not LIGHTEST_MG <= value <= HEAVIEST_MG:
        raise NotLikeThat("Give what the scale shows, between 0.1 g and 300 kg.", field="mass")
    return value


def price(value: int, said: Way) -> int:
    """Return an asking price above nothing, kept before tax: in whole coins, or what stands for such a price with
    tax where that is how prices are `said`. Else refuse it."""
    if type(value) is not int or not 0 < value <= LIMIT:
        raise NotLikeThat("Give a price above nothing, or take the piece off sale.", field="amount")
    stands_for = said.with_tax and said.before(said.shown(value)) == value
    if value % said.coin_micro and not stands_for:
        raise NotLikeThat("That is a part of the smallest coin. Round it to whole coins.", field="amount")
    return value
