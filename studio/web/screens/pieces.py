"""Made things: the ready shelf, what is still in finish, what is away and what is sold."""

from typing import Any

import django_tables2 as tables
from django.db.models import Count, Exists, OuterRef, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django_tables2 import RequestConfig

from studio.people import settings as answers
from studio.people.roles import allowed
from studio.pieces import queries
from studio.pieces.curing import not_cured
from studio.pieces.models import Grade, Piece, PieceQuerySet
from studio.selling import queries as selling
from studio.selling.models import Placement
from studio.web.deeds import Reading
from studio.web.screens.pieces_base import SEARCH_LENGTH, wood_words
from studio.web.templatetags.studio import asked, tag, when
from studio.work.models import ClosedAs

# word of the filter: (what it is called, how it is asked of the pieces, away from the shelf?)
SHOWN: dict[str, tuple[str, str, bool | None]] = {
    "": ("Ready shelf", "ready", False),
    "finishing": ("Still in finish", "finishing", None),
    "away": ("At galleries", "", True),
    "sold": ("Sold", "sold", None),
    "left": ("Given or kept", "left", None),
    "all": ("All", "all", None),
}
TICK_WORDS = {"measured": "measure", "signed": "sign", "photographed": "photograph", "rested": "rest"}
NUMBERS = {"td": {"class": "n"}, "th": {"class": "n"}}
SHORT = {"td": {"class": "short"}}


class PieceTable(tables.Table):
    """Pieces; on a phone each row is a block."""

    number = tables.Column("Number", accessor="pk", order_by=("workpiece__sort_key", "pk"))
    photo = tables.Column("", accessor="pk", orderable=False)
    title = tables.Column("Piece", accessor="workpiece__title", order_by=("workpiece__title", "pk"), empty_values=())
    where = tables.Column("Where", accessor="pk", orderable=False, attrs=SHORT)
    finished = tables.Column(
        "Finished", accessor="finished_at", order_by=("finished_at", "pk"), empty_values=(), attrs=SHORT
    )
    asking = tables.Column("Asking", accessor="asking_micro", order_by=("asking_micro", "pk"), attrs=NUMBERS)

    class Meta:
        template_name = "parts/table.html"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.places: dict[int, selling.Where] = {}
        self.curing: dict[int, str] = {}

    def look_where(self) -> None:
        """Ask once where all pieces of this page are, and which finishes still cure."""
        rows = [row.record for row in self.paginated_rows]
        self.places = selling.where_is([row.pk for row in rows])
        self.curing = not_cured([row.workpiece for row in rows], timezone.now())

    def render_number(self, record: Piece) -> SafeString:
        return tag(str(record), reverse("piece", args=[record.pk]), label="piece")

    def render_photo(self, record: Piece) -> SafeString | str:
        link = next(iter(record.card_pictures), None)  # type: ignore[attr-defined]
        if link is None:
            return ""
        return format_html(
            '<img class="thumb" src="{}" alt="" loading="lazy" width="56" height="56">',
            reverse("picture", args=[link.picture.name, "small"]),
        )

    def render_title(self, record: Piece) -> SafeString:
        words = ", ".join(word for word in (record.form, wood_words(record.workpiece)) if word)
        second = " A second." if record.grade == Grade.SECOND else ""
        return format_html(
            '<a href="{}">{}</a> <small>{}{}</small>',
            reverse("piece", args=[record.pk]),
            record.title or "no title yet",
            words[:1].upper() + words[1:],
            f".{second}" if second and words else second,
        )

    def render_where(self, record: Piece) -> SafeString | str:
        place = self.places.get(record.pk)
        cures = self.curing.get(record.workpiece_id)
        words = place.words if place else ""
        return format_html("{} <small>{}</small>", words, cures) if cures else words

    def render_finished(self, record: Piece) -> SafeString | str:
        if record.finished_at is not None:
            return when(record.finished_at)
        return "to " + ", ".join(TICK_WORDS[tick] for tick in record.ticks_missing)

    def render_asking(self, record: Piece) -> str:
        return asked(record.asking_micro)  # type: ignore[attr-defined]


class Pieces(Reading):
    """The list. Filters `show`, `form`, `grade` and `search`, and the sort, have addresses."""

    def get(self, request: HttpRequest) -> HttpResponse:
        costs = allowed(request.user, "see_costs")
        rows, chosen = chosen_pieces(request)
        table = PieceTable(rows, order_by=None, exclude=() if costs else ("asking",))
        RequestConfig(request, paginate={"per_page": 25, "silent": True}).configure(table)
        table.look_where()
        found = bool(table.page.paginator.count)
        counts = count_states()
        context = {
            "section": "pieces",
            "table": table if found else None,
            "nothing": not counts["all"],
            "states": [
                {"key": key, "words": words, "count": counts[key or "shelf"], "current": key == chosen["show"]}
                for key, (words, _, _) in SHOWN.items()
            ],
            "forms": answers.value("forms"),
            "chosen": chosen,
            "found": table.page.paginator.count,
            "may_print": allowed(request.user, "print"),
            "may_leave": allowed(request.user, "sell"),
        }
        return render(request, "pieces/list.html", context)


def chosen_pieces(request: HttpRequest) -> tuple[PieceQuerySet, dict[str, str]]:
    """The pieces an address asks for, and what it asked; words nobody knows count as not given."""
    asked = {name: request.GET.get(name, "").strip()[:SEARCH_LENGTH] for name in ("show", "form", "grade", "search")}
    asked["show"] = asked["show"] if asked["show"] in SHOWN else ""
    _, state, away = SHOWN[asked["show"]]
    rows = queries.pieces(text=asked["search"], state=state, form=asked["form"], grade=asked["grade"])
    if away is not None:
        rows = rows.filter(is_away() if away else ~is_away())
    return rows, asked


def is_away() -> Exists:
    return Exists(Placement.objects.open().filter(piece=OuterRef("pk")))


def count_states() -> dict[str, int]:
    """How many pieces each filter would show. One query."""
    here = Q(workpiece__closed_at__isnull=True)
    ready = here & Q(finished_at__isnull=False)
    return Piece.objects.annotate(is_away=is_away()).aggregate(
        shelf=Count("pk", filter=ready & Q(is_away=False)),
        finishing=Count("pk", filter=here & Q(finished_at__isnull=True)),
        away=Count("pk", filter=here & Q(is_away=True)),
        sold=Count("pk", filter=Q(workpiece__closed_as=ClosedAs.SOLD)),
        left=Count("pk", filter=Q(workpiece__closed_as=ClosedAs.LEFT)),
        all=Count("pk"),
    )


urlpatterns = [path("pieces/", Pieces.as_view(), name="pieces")]
