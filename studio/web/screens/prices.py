"""Prices of everything not sold: what each must bring, what is asked for it, and what an hour then earns."""

from typing import Any

import django_tables2 as tables
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django_tables2 import RequestConfig

from studio.fields.quantity import show
from studio.people import settings as answers
from studio.people.questions import REGISTRY
from studio.people.roles import allowed
from studio.pieces import queries as pieces
from studio.pieces.asking import way
from studio.pricing import queries as pricing
from studio.pricing.offers import Offer, Terms
from studio.web.deeds import Reading
from studio.web.screens.pieces_base import SEARCH_LENGTH, whose_hand
from studio.web.templatetags.studio import asked, money, tag

NUMBERS = {"td": {"class": "n"}, "th": {"class": "n"}}
SHOWN = {"": "All", "open": "No price yet", "below": "Below the lowest ask", "unfinished": "Not finished"}


class PriceTable(tables.Table):
    number = tables.Column("Number", accessor="workpiece__sort_key")
    title = tables.Column("Piece", accessor="workpiece__title", empty_values=())
    all_in = tables.Column("All in when finished", accessor="all_in_micro", attrs=NUMBERS)
    lowest = tables.Column("Lowest ask", accessor="lowest_ask_micro", attrs=NUMBERS)
    asking = tables.Column("Asking", accessor="asking_micro", attrs=NUMBERS)
    hour = tables.Column("An hour earns", accessor="wage_micro", attrs=NUMBERS)
    like = tables.Column("Like ones sold for", accessor="like", orderable=False, empty_values=(), attrs=NUMBERS)

    class Meta:
        template_name = "parts/table.html"

    def before_render(self, request: HttpRequest) -> None:
        """What like ones fetched, of the pieces on this page."""
        shown_here = [row.record.piece for row in self.paginated_rows if row.record.piece]
        self.alike = pricing.likes(shown_here, timezone.now())

    def render_number(self, record: Offer) -> SafeString:
        url = reverse("piece", args=[record.piece.pk]) if record.piece else ""
        return tag(str(record.piece or record.workpiece.number), url, label="piece")

    def render_title(self, record: Offer) -> SafeString:
        row = record.workpiece
        return format_html("{} <small>{}</small>", row.title or "no title yet", row.form)

    def render_all_in(self, record: Offer) -> SafeString | str:
        if record.to_come.unknown:
            return format_html("{}<small>at least</small>", money(record.all_in_micro))
        return money(record.all_in_micro)

    def render_lowest(self, value: int) -> str:
        return asked(value)

    def render_asking(self, record: Offer) -> SafeString | str:
        if record.below_lowest:
            return format_html("{}<small>below the lowest</small>", asked(record.asking_micro))
        return asked(record.asking_micro)

    def render_hour(self, value: int) -> str:
        return money(value)

    def render_like(self, record: Offer) -> SafeString:
        like = self.alike.get(record.piece.pk) if record.piece else None
        if like is None:
            return format_html("{}", "")
        fetched = like.prices
        return format_html("{}<small>{} sold</small>", asked(fetched.middle), fetched.count)


class Prices(Reading):
    right = "see_costs"

    def get(self, request: HttpRequest) -> HttpResponse:
        now = timezone.now()
        on = answers.local_date(now)
        search = request.GET.get("search", "").strip()[:SEARCH_LENGTH]
        chosen = request.GET.get("show", "")
        chosen = chosen if chosen in SHOWN else ""
        terms = pricing.terms_on(on)
        rows = pieces.pieces(text=search, sort="number").filter(workpiece__client_owned=False).prefetch_related(None)
        person = whose_hand(request.user)
        offers = pricing.offers(rows, on=on, now=now, person=person, terms=terms, compared=False)
        kept = [offer for offer in offers if shown(offer, chosen)]
        table = PriceTable(kept)
        RequestConfig(request, paginate={"per_page": 25, "silent": True}).configure(table)
        context = {
            "section": "prices",
            "table": table if kept else None,
            "nothing": not offers and not search,
            "search": search,
            "states": [
                {
                    "key": key,
                    "words": words,
                    "count": sum(shown(one, key) for one in offers),
                    "current": key == chosen,
                }
                for key, words in SHOWN.items()
            ],
            "chosen": chosen,
            "terms": terms,
            "says": way(on),
            "missing": [(key, REGISTRY[key].asks) for key in terms.missing],
            "whose": whose_figures(terms),
            "may_settings": allowed(request.user, "settings"),
            "yields": yield_rows(pricing.measured()),
        }
        return render(request, "prices/prices.html", context)


def shown(offer: Offer, chosen: str) -> bool:
    if chosen == "open":
        return offer.asking_micro is None
    if chosen == "below":
        return offer.below_lowest
    if chosen == "unfinished":
        return offer.piece is None or not offer.piece.is_finished
    return True


def whose_figures(terms: Terms) -> list[tuple[str, str, str]]:
    """What comes off a price or is put on it: the question's key, in words, the figure."""
    said: dict[str, tuple[str, int | None, str]] = {
        "gallery_share_ppm": ("a gallery keeps", terms.share_ppm, "share"),
        "card_fee_ppm": ("a card payment costs", terms.card_ppm, "share"),
        "cost_to_sell_micro": ("selling one costs", terms.cost_to_sell_micro, "money"),
        "loss_allowance_ppm": ("for those that break each pays", terms.allowance_ppm, "share"),
    }
    return [
        (key, words, show(figure, dimension))
        for key, (words, figure, dimension) in said.items()
        if figure is not None
    ]


def yield_rows(found: pricing.Yields) -> dict[str, Any]:
    """How many come through each step, in words one says."""
    return {
        "any": found.anything,
        "rolled": show(found.rolled_ppm, "share", digits=0),
        "rows": [
            {
                "words": row.words,
                "good": row.good,
                "tried": row.tried,
                "share": show(row.share_ppm, "share", digits=0),
                "low": show(row.low_ppm, "share", digits=0),
                "high": show(row.high_ppm, "share", digits=0),
            }
            for row in found.steps
        ],
    }


urlpatterns = [path("prices/", Prices.as_view(), name="prices")]
