"""Selling a piece, from the studio or from a gallery; every sale with what it brought."""

from datetime import date
from typing import Any

import django_tables2 as tables
from django import forms
from django.db.models import F, Sum
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django_tables2 import RequestConfig

from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.people import settings as answers
from studio.people.roles import allowed
from studio.pieces import queries as pieces
from studio.pieces.asking import Way, way
from studio.selling import operations, queries
from studio.selling.models import Gallery, Sale
from studio.selling.terms import terms_on
from studio.web import links
from studio.web.deeds import Deed, Reading
from studio.web.forms import StudioForm, Typed
from studio.web.saying import when
from studio.web.screens.contacts_base import ClientFields, client_of
from studio.web.screens.pieces_base import SEARCH_LENGTH, AtPiece, named
from studio.web.templatetags.studio import money

NUMBERS = {"td": {"class": "n"}, "th": {"class": "n"}}
PAID = (("cash", "It is paid"), ("card", "Paid by card"), ("later", "They pay later"))


class SellForm(StudioForm):
    """What the gallery took, or what was paid here."""

    price = QuantityField(dimension="money", label="What is it sold for?", widget=Typed())
    at = MomentField(label="When was it sold?")
    note = forms.CharField(max_length=1000, required=False, label="A note")

    def __init__(self, *args: Any, says: Way, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["price"].help_text = says.words


class StudioSellForm(ClientFields, SellForm):
    paid = forms.ChoiceField(choices=PAID, initial="cash", label="How is it paid?", widget=forms.RadioSelect)
    tax = QuantityField(
        dimension="money",
        required=False,
        label="Sales tax",
        widget=Typed(),
        help_text="Left empty, as you have settled it.",
    )
    other_cost = QuantityField(
        dimension="money", required=False, label="What did selling it cost?", widget=Typed(),
        help_text="Carriage you pay, a stand at the fair. Left empty, nothing.",
    )  # fmt: skip
    fieldsets = (
        ("", ("price", "paid")),
        ("Who takes it?", ("client", "new_client")),
        ("If it matters", ("tax", "other_cost", "at", "note")),
    )


class Sell(AtPiece):
    """From where the piece stands: out of its gallery, or from the shelf."""

    right, heading, button = "sell", "Sell it", "It is sold"
    template_name = "galleries/sell.html"

    def find(self, pk: int, **_: Any) -> None:
        super().find(pk)
        self.place = queries.where_is([pk])[pk]
        self.gallery: Gallery | None = self.place.gallery if self.place.kind == "gallery" else None
        self.form_class = SellForm if self.gallery else StudioSellForm
        if self.gallery:
            self.heading = f"Sold through {self.gallery}"
        page = pieces.page(pk)
        self.says = way(answers.local_date(self.now))
        asking = page.asking_micro if page else None
        self.asking_micro = self.says.shown(asking) if asking else asking

    def form_kwargs(self) -> dict[str, Any]:
        return {"says": self.says} if self.gallery else {"says": self.says, "user": self.by}

    def initial(self) -> dict[str, Any]:
        owner = self.piece.workpiece.owner_id
        return {"price": self.asking_micro, "paid": "cash", **({"client": owner} if owner else {})}

    def context(self, form: StudioForm) -> dict[str, Any]:
        on = answers.local_date(self.now)
        found = {**super().context(form), "place": self.place, "gallery": self.gallery}
        if self.gallery and (self.gallery.terms.exists() or answers.known("gallery_share_ppm", on) is not None):
            found["terms"] = terms_on(self.gallery, on)
        return found

    def do(self, data: dict[str, Any]) -> str:
        paid, at = data.get("paid"), moment_or_now(data["at"], self.now)
        price, tax = self._without_tax(data["price"], data.get("tax"), answers.local_date(at))
        sale = operations.sell(
            piece=self.piece,
            price_micro=price,
            at=at,
            gallery=self.gallery,
            client=None if self.gallery else client_of(data, by=self.by, at=self.now),
            card=paid == "card",
            paid_now=paid != "later",
            tax_micro=tax,
            other_cost_micro=data.get("other_cost") or 0,
            note=data["note"],
            **self.stamp,
        )
        where = f" through {self.gallery}, which owes {show(sale.owed_micro, 'money')} for it" if self.gallery else ""
        self.say(f"{self.piece} is sold for {show(data['price'], 'money', with_unit=True)}{where}.")
        return reverse("sale", args=[sale.pk]) if allowed(self.by, "see_money") else self.home

    def _without_tax(self, said: int, tax: int | None, on: date) -> tuple[int, int | None]:
        """Price before tax and the tax, as the operation takes them, of a price said in the studio's way."""
        says = way(on, must_know=True)
        if not says.with_tax:
            return said, tax
        if tax is not None:
            return said - tax, tax
        price = says.in_coins(said)
        hands_it_on = self.gallery is not None and terms_on(self.gallery, on).collects_tax
        return price, None if hands_it_on else said - price


def sale_or_404(pk: int) -> Sale:
    rows = Sale.objects.select_related("piece__workpiece", "gallery", "client", "by", "placement", "commission")
    found = rows.filter(pk=pk).first()
    if found is None:
        raise Http404("There is no such sale.")
    return found


class SaleScreen(Reading):
    """What came in, what went off it, and what is left over what it had cost."""

    right = "see_money"

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        sale = sale_or_404(pk)
        context = {
            "section": "pieces",
            "sale": sale,
            "left_micro": sale.net_micro - sale.cost_micro,
            "left_paid_micro": sale.net_micro - sale.paid_out_micro,
            "commission": getattr(sale, "commission", None),
            "may_sell": allowed(request.user, "sell") and sale.taken_back_at is None and not sale.ref,
            "entry_url": links.to("entry", sale.entry_id),
        }
        return render(request, "galleries/sale.html", context)


class TakeBackForm(StudioForm):
    why = forms.CharField(max_length=200, label="Why is it taken back?")
    still_there = forms.BooleanField(required=False, label="The gallery still has it")
    at = MomentField()


class SaleTakeBack(Deed):
    right, section, form_class = "sell", "pieces", TakeBackForm
    heading, button = "Take the sale back", "It is ours again"

    def find(self, pk: int) -> None:
        self.sale = sale_or_404(pk)
        self.back = reverse("sale", args=[pk])

    def form_kwargs(self) -> dict[str, Any]:
        return {}

    def context(self, form: StudioForm) -> dict[str, Any]:
        if self.sale.placement is None and "still_there" in form.fields:
            del form.fields["still_there"]
        return {"sub": f"{named(self.sale.piece)}. The sale and its taking back both stay in the books."}

    def do(self, data: dict[str, Any]) -> str:
        operations.take_back_sale(
            sale=self.sale,
            why=data["why"],
            still_there=bool(data.get("still_there")),
            at=moment_or_now(data["at"], self.now),
            **self.stamp,
        )
        self.say(f"The sale of {self.sale.piece} is taken back. It is yours again, at what it had cost.")
        return reverse("piece", args=[self.sale.piece_id])


class SaleTable(tables.Table):
    sold_at = tables.Column("When", order_by=("sold_at", "pk"))
    piece = tables.Column(
        "Piece", accessor="piece__workpiece__title", order_by=("piece__workpiece__title", "pk"), empty_values=()
    )
    through = tables.Column("Sold", accessor="pk", orderable=False)
    price = tables.Column("Price", accessor="price_micro", order_by=("price_micro", "pk"), attrs=NUMBERS)
    net = tables.Column("Brought", accessor="net_micro", orderable=False, attrs=NUMBERS)
    left = tables.Column("Over its cost", accessor="cost_micro", orderable=False, attrs=NUMBERS)

    class Meta:
        template_name = "parts/table.html"

    def render_sold_at(self, record: Sale) -> SafeString:
        return format_html(
            '<a href="{}">{}</a>', reverse("sale", args=[record.pk]), when(record.sold_at, timezone.now())
        )

    def render_piece(self, record: Sale) -> SafeString:
        return format_html('<a href="{}">{}</a>', reverse("piece", args=[record.piece_id]), named(record.piece))

    def render_through(self, record: Sale) -> str:
        if record.gallery:
            return f"through {record.gallery}"
        return f"to {record.client}" if record.client else "from the studio"

    def render_price(self, value: int) -> str:
        return money(value)

    def render_net(self, record: Sale) -> str:
        return money(record.net_micro)

    def render_left(self, record: Sale) -> str:
        return money(record.net_micro - record.cost_micro)


class Sales(Reading):
    right = "see_money"

    def get(self, request: HttpRequest) -> HttpResponse:
        search = request.GET.get("search", "").strip()[:SEARCH_LENGTH]
        asked = request.GET.get("gallery", "")
        gallery = int(asked) if asked.isdecimal() and len(asked) < 16 else None
        rows = queries.sold(text=search, gallery_id=gallery)
        table = SaleTable(rows)
        RequestConfig(request, paginate={"per_page": 25, "silent": True}).configure(table)
        sums = rows.order_by().aggregate(
            price=Sum("price_micro"),
            net=Sum(F("price_micro") - F("share_micro") - F("card_fee_micro") - F("other_cost_micro")),
        )
        context = {
            "section": "galleries",
            "table": table if table.page.paginator.count else None,
            "count": table.page.paginator.count,
            "search": search,
            "gallery": gallery,
            "galleries": Gallery.objects.order_by("name_search"),
            "sums": sums,
        }
        return render(request, "galleries/sales.html", context)


urlpatterns = [
    path("pieces/<int:pk>/sell/", Sell.as_view(), name="piece_sell"),
    path("sales/", Sales.as_view(), name="sales"),
    path("sales/<int:pk>/", SaleScreen.as_view(), name="sale"),
    path("sales/<int:pk>/take-back/", SaleTakeBack.as_view(), name="sale_take_back"),
]
