"""Reading galleries, places, sales and debts, each with a fixed number of queries."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import F, OuterRef, Prefetch, QuerySet, Subquery
from django.db.models.functions import Coalesce, Greatest

from studio.craft.waits import Wait
from studio.fields.quantity import show
from studio.ledger.queries import balances
from studio.people import settings as studio_settings
from studio.people.models import Client
from studio.people.names import fold
from studio.pieces.models import AskingPrice, Piece
from studio.selling.models import ClientAccount, Gallery, GalleryTerms, Payment, Placement, PlacementQuerySet, Sale
from studio.selling.terms import Terms, terms_on

__all__ = [
    "Debt",
    "GalleryPage",
    "GalleryRow",
    "Terms",
    "Where",
    "clients_owing",
    "galleries",
    "gallery_page",
    "held_by",
    "owed_by",
    "sold",
    "sold_like",
    "terms_on",
    "unsold_like",
    "waits",
    "where_is",
]

_SIDES = tuple(Coalesce(F(f"{side}_um"), 0) for side in ("height", "diameter", "length", "width"))
_SIDES_OF_PIECE = tuple(Coalesce(F(f"piece__{side}_um"), 0) for side in ("height", "diameter", "length", "width"))


@dataclass(frozen=True)
class Debt:
    """What somebody owes (below nothing: what stands to their credit), and since when the oldest part is unpaid."""

    owed_micro: int = 0
    oldest_on: date | None = None
    due_on: date | None = None

    def days(self, on: date) -> int | None:
        """How many days the oldest unpaid sale has been waiting."""
        return (on - self.oldest_on).days if self.oldest_on else None

    def overdue(self, on: date) -> bool:
        return self.due_on is not None and on > self.due_on


@dataclass(frozen=True)
class GalleryRow:
    """A gallery on the list: how many pieces it holds, what is asked for each, what it owes."""

    gallery: Gallery
    held: int
    asked: tuple[int, ...]
    debt: Debt

    @property
    def asking_micro(self) -> int:
        """Before tax, all together."""
        return sum(self.asked)


@dataclass(frozen=True)
class GalleryPage:
    gallery: Gallery
    terms: tuple[GalleryTerms, ...]
    held: tuple[Placement, ...]
    sales: tuple[Sale, ...]
    payments: tuple[Payment, ...]
    debt: Debt

    @property
    def asking_micro(self) -> int:
        return sum(int(getattr(row, "asking_micro", None) or 0) for row in self.held)


@dataclass(frozen=True)
class Where:
    """Where a piece is: "shelf", "gallery", "sold", or "gone" (lost, given away, given back, joined)."""

    kind: str
    words: str
    since: datetime | None
    gallery: Gallery | None = None
    placement: Placement | None = None
    sale: Sale | None = None


def galleries(*, search: str = "", closed: bool = False) -> list[GalleryRow]:
    """Galleries we work with (all with `closed`), by name, with what they hold and owe. Four queries."""
    found = Gallery.objects.matching(search)
    rows = list(found if closed else found.open())
    held: dict[int, list[int | None]] = defaultdict(list)
    for row in _held(Placement.objects.open()).only("gallery"):
        held[row.gallery_id].append(row.asking_micro)  # type: ignore[attr-defined]
    debts = _debts_of_galleries(rows)
    return [
        GalleryRow(
            row, len(held[row.pk]), tuple(asking for asking in held[row.pk] if asking is not None), debts[row.pk]
        )
        for row in rows
    ]


def gallery_page(pk: int) -> GalleryPage | None:
    """One gallery with its terms, what it holds and since when, its sales and payments, newest first. Six
    queries; None if there is none."""
    gallery = (
        Gallery.objects.select_related("account")
        .prefetch_related(
            Prefetch("terms", GalleryTerms.objects.order_by("-from_on", "-revision")),
            Prefetch("sales", Sale.objects.select_related("piece__workpiece").order_by("-sold_at", "-pk")),
            Prefetch("payments", Payment.objects.order_by("-at", "-pk")),
        )
        .filter(pk=pk)
        .first()
    )
    if gallery is None:
        return None
    sales = tuple(gallery.sales.all())
    owed = balances([gallery.account_id]).get(gallery.account_id, 0)
    unpaid = [(s.sold_on, s.due_on, s.owed_micro) for s in sales if s.taken_back_at is None and s.owed_micro]
    return GalleryPage(
        gallery,
        tuple(gallery.terms.all()),
        tuple(held_by(gallery)),
        sales,
        tuple(gallery.payments.all()),
        _debt(owed, unpaid),
    )


def held_by(gallery: Gallery) -> PlacementQuerySet:
    """What a gallery holds, longest there first; each row has `asking_micro`. One query."""
    return (
        _held(Placement.objects.open().filter(gallery=gallery))
        .select_related("piece__workpiece__species", "gallery")
        .order_by("left_at", "piece__workpiece__sort_key")
    )


def where_is(piece_ids: Iterable[int]) -> dict[int, Where]:
    """Where each piece is, by key. Three queries."""
    keys = list(piece_ids)
    pieces = (
        Piece.objects.filter(pk__in=keys)
        .select_related("workpiece")
        .prefetch_related(
            Prefetch("placements", Placement.objects.open().select_related("gallery"), to_attr="stands"),
            Prefetch("sales", Sale.objects.live().select_related("gallery"), to_attr="sold"),
        )
    )
    return {piece.pk: _where(piece) for piece in pieces}


def sold(
    *,
    text: str = "",
    gallery_id: int | None = None,
    client_id: int | None = None,
    since: date | None = None,
    until: date | None = None,
    taken_back: bool = False,
) -> QuerySet[Sale]:
    """Sales that stand, newest first (those taken back too, where wanted). One query when read."""
    rows = Sale.objects.all() if taken_back else Sale.objects.live()
    rows = rows.select_related("piece__workpiece__species", "gallery", "client").order_by("-sold_at", "-pk")
    for word in fold(text).split()[:6]:
        rows = rows.filter(piece__workpiece__search_text__contains=word)
    if gallery_id:
        rows = rows.filter(gallery=gallery_id)
    if client_id:
        rows = rows.filter(client=client_id)
    if since:
        rows = rows.filter(sold_on__gte=since)
    if until:
        rows = rows.filter(sold_on__lte=until)
    return rows


def sold_like(form: str, low_um: int | None = None, high_um: int | None = None) -> list[tuple[int, int]]:
    """(price before tax, days from finished to sold) of like pieces sold, oldest sale first. One query.

    Like: the same form, the longest side between `low_um` and `high_um` where those are given.
    """
    rows = Sale.objects.live().filter(piece__workpiece__form=form).annotate(side=Greatest(*_SIDES_OF_PIECE))
    if low_um is not None:
        rows = rows.filter(side__gte=low_um)
    if high_um is not None:
        rows = rows.filter(side__lte=high_um)
    found = rows.order_by("sold_at", "pk").values_list("price_micro", "sold_at", "piece__finished_at")
    return [(price, max(0, (at - finished).days) if finished else 0) for price, at, finished in found]


def unsold_like(form: str, low_um: int | None = None, high_um: int | None = None) -> int:
    """How many like pieces are finished and still ours, on the shelf or at a gallery. One query."""
    rows = Piece.objects.in_the_shop().finished().filter(workpiece__form=form)
    rows = rows.annotate(side=Greatest(*_SIDES))
    if low_um is not None:
        rows = rows.filter(side__gte=low_um)
    if high_um is not None:
        rows = rows.filter(side__lte=high_um)
    return rows.count()


def owed_by(client: Client) -> int:
    """What a client owes; below nothing, what stands to their credit. Two queries."""
    account = ClientAccount.objects.filter(client=client).values_list("account", flat=True).first()
    return balances([account]).get(account, 0) if account else 0


def clients_owing() -> list[tuple[Client, Debt]]:
    """Clients between whom and us money is owed, longest waiting first. Three queries."""
    rows = list(ClientAccount.objects.select_related("client"))
    sums = balances([row.account_id for row in rows])
    unpaid = _unpaid("client", [row.client_id for row in rows if sums.get(row.account_id, 0) > 0])
    found = [
        (row.client, _debt(sums[row.account_id], unpaid.get(row.client_id, ())))
        for row in rows
        if sums.get(row.account_id, 0)
    ]
    return sorted(found, key=lambda pair: (pair[1].oldest_on or date.max, pair[0].name_search))


def waits(now: datetime) -> list[Wait]:
    """Galleries that are late with what they owe, at the desk: for those who may see money. Three queries, and
    those of the settings."""
    zone = studio_settings.zone()
    on = now.astimezone(zone).date()
    rows = list(Gallery.objects.all())
    formats = studio_settings.formats()
    debts = _debts_of_galleries(rows)
    found = []
    for row in rows:
        debt = debts[row.pk]
        if not debt.overdue(on):
            continue
        assert debt.due_on is not None
        found.append(
            Wait(
                "desk",
                "ask to be paid by",
                row.name,
                "by",
                datetime.combine(debt.due_on + timedelta(days=1), time.min, zone),
                f"owes {show(debt.owed_micro, 'money', formats=formats)}, unpaid for {debt.days(on)} days",
                about=("selling.gallery", row.pk),
            )
        )
    return found


def _held(rows: PlacementQuerySet) -> PlacementQuerySet:
    """Open placements of pieces still whole and ours, each with `asking_micro`."""
    newest = AskingPrice.objects.filter(piece=OuterRef("piece")).order_by("-pk")
    return rows.filter(piece__workpiece__closed_at__isnull=True).annotate(
        asking_micro=Subquery(newest.values("amount_micro")[:1])
    )


def _debts_of_galleries(rows: list[Gallery]) -> dict[int, Debt]:
    """What each gallery owes. Two queries."""
    sums = balances([row.account_id for row in rows])
    unpaid = _unpaid("gallery", [row.pk for row in rows if sums.get(row.account_id, 0) > 0])
    return {row.pk: _debt(sums.get(row.account_id, 0), unpaid.get(row.pk, ())) for row in rows}


Unpaid = tuple[date, date | None, int]


def _unpaid(who: str, keys: list[int]) -> dict[int, list[Unpaid]]:
    """Sales that left a debt, newest first, by who owes. One query."""
    found: dict[int, list[Unpaid]] = {}
    rows = Sale.objects.live().filter(owed_micro__gt=0, **{f"{who}__in": keys})
    if who == "client":
        rows = rows.filter(gallery__isnull=True)
    for key, *rest in rows.order_by("-sold_at", "-pk").values_list(who, "sold_on", "due_on", "owed_micro"):
        found.setdefault(key, []).append((rest[0], rest[1], rest[2]))
    return found


def _debt(owed: int, newest_first: Iterable[Unpaid]) -> Debt:
    """Payments settle the oldest sale first: what is still owed lies on the newest ones, back to this one."""
    if owed <= 0:
        return Debt(owed)
    left, oldest, due = owed, None, None
    for sold_on, due_on, amount in newest_first:
        oldest, due = sold_on, due_on
        left -= amount
        if left <= 0:
            break
    return Debt(owed, oldest, due)


def _where(piece: Piece) -> Where:
    work = piece.workpiece
    sale = next(iter(piece.sold), None)  # type: ignore[attr-defined]
    if sale is not None:
        words = f"sold through {sale.gallery}" if sale.gallery else "sold from the studio"
        return Where("sold", words, sale.sold_at, gallery=sale.gallery, sale=sale)
    if work.closed_at is not None:
        return Where("gone", str(work.get_closed_as_display()), work.closed_at)
    stands = next(iter(piece.stands), None)  # type: ignore[attr-defined]
    if stands is not None:
        return Where("gallery", f"with {stands.gallery}", stands.left_at, stands.gallery, stands)
    return Where("shelf", "here" if piece.finished_at is None else "on the ready shelf", piece.finished_at)
