"""Reading pieces: the shelf, one piece whole, its public page, and what is still to be done."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Exists, F, OuterRef, Prefetch, Q

from studio.craft.waits import Wait
from studio.fields.listing import listed
from studio.people import settings as studio_settings
from studio.people.names import fold
from studio.pictures.models import Picture
from studio.pieces.lineage import Origin, Wood, lineage, origins
from studio.pieces.models import AskingPrice, Grade, Piece, PiecePart, PiecePicture, PieceQuerySet
from studio.pieces.numbers import next_signed_number
from studio.work.models import ClosedAs, Step, StepCode, StepState

__all__ = [
    "Origin",
    "PiecePage",
    "PublicPiece",
    "Wood",
    "by_token",
    "lineage",
    "number_to_offer",
    "origins",
    "page",
    "pages",
    "pieces",
    "ready_shelf",
    "waits",
]

# What a piece's rows carry of costs: never read here, for whoever opens a piece may be one who sees none.
_COSTS = (
    "workpiece__account__value_micro",
    "workpiece__purchase__paid_micro",
    "workpiece__purchase__carriage_micro",
    "workpiece__purchase__market_value_micro",
)
# What a list may be ordered by, and how.
SORTS: dict[str, tuple[Any, ...]] = {
    "number": ("workpiece__sort_key",),
    "newest": (F("finished_at").desc(nulls_last=True), "-pk"),
    "oldest": (F("finished_at").asc(nulls_last=True), "pk"),
    "signed": (F("signed_year").asc(nulls_last=True), F("signed_run").asc(nulls_last=True), "pk"),
    "title": ("workpiece__title", "pk"),
    "dearest": (F("asking_micro").desc(nulls_last=True), "pk"),
    "cheapest": (F("asking_micro").asc(nulls_last=True), "pk"),
}
STATES: dict[str, Q] = {
    "": Q(workpiece__closed_at__isnull=True),
    "ready": Q(workpiece__closed_at__isnull=True, finished_at__isnull=False),
    "finishing": Q(workpiece__closed_at__isnull=True, finished_at__isnull=True),
    "sold": Q(workpiece__closed_as=ClosedAs.SOLD),
    "left": Q(workpiece__closed_as=ClosedAs.LEFT),
    "gone": Q(workpiece__closed_at__isnull=False),
    "all": Q(),
}
DOING: dict[str, tuple[str, str]] = {
    "measured": ("Measure", "measured"),
    "signed": ("Sign", "signed"),
    "photographed": ("Photograph", "photographed"),
    "rested": ("Look at it rested", "rested"),
}


@dataclass(frozen=True)
class PiecePage:
    """What a piece's page shows besides its cost. Prices newest first."""

    piece: Piece
    parts: tuple[PiecePart, ...]
    pictures: tuple[PiecePicture, ...]
    prices: tuple[AskingPrice, ...]
    asking_micro: int | None
    origin: Origin

    @property
    def card_picture(self) -> PiecePicture | None:
        return next((link for link in self.pictures if link.on_card), None)


@dataclass(frozen=True)
class PublicPiece:
    """What anybody with the card may read: no price, no cost, no client, no name of who works here."""

    token: str
    signed_number: str
    title: str
    form: str
    parts: tuple[str, ...]
    origin: Origin
    height_um: int | None
    diameter_um: int | None
    length_um: int | None
    width_um: int | None
    mass_mg: int | None
    signed_on: date | None
    second_why: str
    finish_words: str
    cares: tuple[str, ...]
    cautions: tuple[str, ...]
    story: str
    pictures: tuple[tuple[Picture, str], ...]


def pieces(
    *,
    text: str = "",
    state: str = "",
    form: str = "",
    grade: str = "",
    species_id: int | None = None,
    sort: str = "newest",
) -> PieceQuerySet:
    """Pieces by number, signed number, title, wood or form; by state (`STATES`), form, grade and wood.

    Each row has `asking_micro` and `card_pictures` (none or one). Unknown words of state or sort count as not
    given. Two queries when read.
    """
    on_card = PiecePicture.objects.filter(on_card=True).select_related("picture")
    rows = (
        Piece.objects.with_asking()
        .filter(STATES.get(state, STATES[""]))
        .select_related("workpiece__account", "workpiece__species", "workpiece__owner")
        .defer("workpiece__account__value_micro")
        .prefetch_related(Prefetch("pictures", on_card, to_attr="card_pictures"))
        .order_by(*SORTS.get(sort, SORTS["newest"]))
    )
    for word in text.casefold().split()[:6]:
        rows = rows.filter(Q(workpiece__search_text__contains=word) | Q(number_search__contains=fold(word) or word))
    if form:
        rows = rows.filter(workpiece__form=form)
    if grade in Grade.values:
        rows = rows.filter(grade=grade)
    if species_id:
        rows = rows.filter(workpiece__species=species_id)
    return rows


def ready_shelf(*, text: str = "", sort: str = "newest") -> PieceQuerySet:
    """Finished and still the studio's own, wherever it stands. Two queries when read."""
    return pieces(text=text, state="ready", sort=sort)


def pages(pks: Iterable[int]) -> dict[int, PiecePage]:
    """Pieces whole, by key, for a page or for many cards at once; unknown keys are absent.

    Nine queries and one for each generation back to the lumps, however many pieces.
    """
    rows = (
        Piece.objects.select_related(
            "workpiece__account", "workpiece__species", "workpiece__purchase", "workpiece__owner", "became_by"
        )
        .defer(*_COSTS)
        .prefetch_related(
            Prefetch("parts", PiecePart.objects.select_related("workpiece")),
            Prefetch("pictures", PiecePicture.objects.select_related("picture")),
            Prefetch("asking_prices", AskingPrice.objects.select_related("by").order_by("-pk")),
        )
        .filter(pk__in=list(pks))
    )
    found = origins(row.workpiece_id for row in rows)
    held = {}
    for row in rows:
        prices = tuple(row.asking_prices.all())
        held[row.pk] = PiecePage(
            row,
            tuple(row.parts.all()),
            tuple(row.pictures.all()),
            prices,
            prices[0].amount_micro if prices else None,
            found[row.workpiece_id],
        )
    return held


def page(pk: int) -> PiecePage | None:
    """One piece whole, or None. As many queries as `pages`."""
    return pages([pk]).get(pk)


def by_token(token: str) -> PublicPiece | None:
    """The public page behind an address, or None. It is there once the piece is signed, and stays."""
    pk = (
        Piece.objects.filter(public_token=token, signed_at__isnull=False).values_list("pk", flat=True).first()
        if token
        else None
    )
    whole = page(pk) if pk else None
    if whole is None:
        return None
    row = whole.piece
    return PublicPiece(
        token=row.public_token,
        signed_number=row.signed_number or "",
        title=row.title,
        form=row.form,
        parts=tuple(part.words for part in whole.parts),
        origin=whole.origin,
        height_um=row.height_um,
        diameter_um=row.diameter_um,
        length_um=row.length_um,
        width_um=row.width_um,
        mass_mg=row.mass_mg,
        signed_on=row.signed_on,
        second_why=row.second_why,
        finish_words=row.finish_words,
        cares=row.cares,
        cautions=row.cautions,
        story=row.story,
        pictures=tuple((link.picture, link.caption) for link in whole.pictures),
    )


def number_to_offer(piece: Piece, on: date) -> str:
    """The number its signing will give it on that day, for the field as it is shown. Two queries."""
    return piece.signed_number or next_signed_number(on)[0]


def waits(now: datetime) -> list[Wait]:
    """Pieces with a tick to come (at the finish bench; only the photograph: at the desk), and finished ones
    nothing is asked for yet (at the desk).

    One whose other steps are still to be done waits there, not here. Two queries.
    """
    to_do = Step.objects.filter(
        workpiece=OuterRef("workpiece"), state__in=[StepState.PLANNED, StepState.OPEN]
    ).exclude(code=StepCode.FINISH)
    zone = studio_settings.zone()
    found = []
    rows = (
        Piece.objects.with_asking()
        .in_the_shop()
        .filter(Q(finished_at__isnull=True) | Q(asking_micro__isnull=True, workpiece__hold_ref=""))
        .filter(Q(finished_at__isnull=False) | ~Exists(to_do))
        .select_related("workpiece")
        .order_by("became_at", "pk")
    )
    for row in rows:
        missing = row.ticks_missing
        if missing:
            what = DOING[missing[0]][0]
            place = "desk" if missing == ("photographed",) else "finish bench"
            others = [DOING[tick][1] for tick in missing[1:]]
            reason = f"then it is still to be {listed(others)}" if others else "the last of its four ticks"
        else:
            place, what, reason = "desk", "Price", "finished, and nothing is asked for it yet"
        since = row.finished_at or row.became_at
        found.append(
            Wait(
                place=place,
                what=what,
                subject=row.signed_number or row.workpiece.number,
                kind="since",
                at=since.astimezone(zone),
                reason=reason,
                note=row.title,
                about=("piece", row.pk),
            )
        )
    return found
