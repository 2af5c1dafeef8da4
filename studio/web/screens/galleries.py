"""Galleries: what each holds and what it owes."""

from collections.abc import Iterable
from typing import Any

import django_tables2 as tables
from django.db.models import Count, Q, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django_tables2 import RequestConfig

from studio.fields.quantity import show
from studio.people import settings as answers
from studio.people.roles import allowed
from studio.pieces.asking import way
from studio.selling import queries
from studio.selling.models import Gallery
from studio.selling.queries import Debt, GalleryRow
from studio.web.deeds import Reading
from studio.web.paging import paged
from studio.web.saying import when
from studio.web.screens.pieces_base import SEARCH_LENGTH

NUMBERS = {"td": {"class": "n"}, "th": {"class": "n"}}
SHOWN = 25


class GalleryTable(tables.Table):
    name = tables.Column("Gallery", accessor="gallery__name_search", order_by="gallery__name_search")
    town = tables.Column("Town", accessor="gallery__town", orderable=False)
    held = tables.Column("Holds", accessor="held", attrs=NUMBERS)
    asking = tables.Column("Asking", accessor="asked", order_by="asking_micro", attrs=NUMBERS)
    owes = tables.Column("Owes", accessor="debt__owed_micro", attrs=NUMBERS)
    since = tables.Column("Unpaid since", accessor="debt__oldest_on", orderable=False, empty_values=())

    class Meta:
        template_name = "parts/table.html"

    def render_name(self, record: GalleryRow) -> SafeString:
        gone = " (put away)" if record.gallery.closed_on else ""
        return format_html(
            '<a href="{}">{}</a>{}', reverse("gallery", args=[record.gallery.pk]), record.gallery.name, gone
        )

    def render_held(self, value: int) -> str:
        return f"{value} piece" if value == 1 else f"{value} pieces"

    def render_asking(self, value: tuple[int, ...]) -> str:
        return show(asked_in_all(value), "money") if value else ""

    def render_owes(self, value: int) -> str:
        return owed_words(value)

    def render_since(self, record: GalleryRow) -> str:
        return since_words(record.debt)


def asked_in_all(prices: Iterable[int]) -> int:
    """What is asked for all of these, each price as the studio says it."""
    says = way(answers.local_date(timezone.now()))
    return sum(says.shown(price) for price in prices)


def owed_words(owed_micro: int) -> str:
    if owed_micro < 0:
        return f"{show(-owed_micro, 'money')} to its credit"
    return show(owed_micro, "money") if owed_micro else ""


def since_words(debt: Debt) -> str:
    """`Tue 24 Nov, late since 24 December`: how long the oldest sale has not been paid."""
    now = timezone.now()
    if debt.oldest_on is None:
        return ""
    words = when(debt.oldest_on, now)
    if debt.due_on is None:
        return words
    late = debt.overdue(answers.local_date(now))
    return f"{words}, {'was due' if late else 'due'} {when(debt.due_on, now)}{': late' if late else ''}"


class Galleries(Reading):
    def get(self, request: HttpRequest) -> HttpResponse:
        user = request.user
        search = request.GET.get("search", "").strip()[:SEARCH_LENGTH]
        closed = bool(request.GET.get("closed"))
        money, costs = allowed(user, "see_money"), allowed(user, "see_costs")
        rows = queries.galleries(search=search, closed=closed) if money else without_debts(search, closed)
        hidden = [name for name, seen in (("asking", costs), ("owes", money), ("since", money)) if not seen]
        table = GalleryTable(rows, exclude=hidden)
        RequestConfig(request, paginate={"per_page": 25, "silent": True}).configure(table)
        context = {
            "section": "galleries",
            "table": table if rows else None,
            "nothing": not rows and not search,
            "search": search,
            "closed": closed,
            "may_sell": allowed(user, "sell"),
            "held": sum(row.held for row in rows),
            "asking_micro": asked_in_all(price for row in rows for price in row.asked) if costs else None,
            "owed_micro": sum(max(row.debt.owed_micro, 0) for row in rows) if money else None,
            "clients": queries.clients_owing() if money else [],
            "costs": costs,
        }
        return render(request, "galleries/list.html", context)


def without_debts(search: str, closed: bool) -> list[GalleryRow]:
    """The list for those who don't see money: names and how many pieces stand there. One query."""
    here = Q(placements__back_at__isnull=True, placements__piece__workpiece__closed_at__isnull=True)
    rows: QuerySet[Gallery] = Gallery.objects.matching(search)
    if not closed:
        rows = rows.filter(closed_on__isnull=True)
    held = rows.annotate(held=Count("placements", filter=here & Q(placements__isnull=False)))
    return [GalleryRow(row, row.held, (), Debt()) for row in held]  # type: ignore[attr-defined]


class GalleryScreen(Reading):
    """What stands there and since when; for those who see money, what it sold, owes and paid."""

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        user = request.user
        context: dict[str, Any] = {
            "section": "galleries",
            "costs": allowed(user, "see_costs"),
            "money": allowed(user, "see_money"),
            "may_sell": allowed(user, "sell"),
            "contacts": allowed(user, "contacts"),
            "shown": SHOWN,
        }
        if allowed(user, "see_money"):
            page = queries.gallery_page(pk)
            if page is None:
                raise Http404("There is no such gallery.")
            sales = [sale for sale in page.sales if sale.taken_back_at is None]
            context |= {
                "gallery": page.gallery,
                "held": page.held,
                "asking_micro": asked_in_all(
                    row.asking_micro for row in page.held if row.asking_micro is not None  # type: ignore[attr-defined]
                ),
                "debt": page.debt,
                "since": since_words(page.debt),
                "late": page.debt.overdue(answers.local_date(timezone.now())),
                "credit_micro": -page.debt.owed_micro,
                "terms": page.terms,
                "sales": sales[:SHOWN],
                "sold": len(sales),
                "payments": page.payments[:SHOWN],
            }
        else:
            gallery = gallery_or_404(pk)
            context |= {"gallery": gallery, "held": list(queries.held_by(gallery))}
        context["here"] = paged(request, context["held"], "page")
        return render(request, "galleries/gallery.html", context)


def gallery_or_404(pk: int) -> Gallery:
    found = Gallery.objects.select_related("account").defer("account__value_micro").filter(pk=pk).first()
    if found is None:
        raise Http404("There is no such gallery.")
    return found


urlpatterns = [
    path("galleries/", Galleries.as_view(), name="galleries"),
    path("galleries/<int:pk>/", GalleryScreen.as_view(), name="gallery"),
]
