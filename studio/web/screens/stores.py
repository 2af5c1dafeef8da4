"""The stores: what there is, how much resin it makes, what ages or runs short; and a new material."""

from collections.abc import Sequence
from typing import Any

import django_tables2 as tables
from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django_tables2 import RequestConfig

from studio.fields.forms import QuantityField
from studio.people import roles
from studio.people import settings as answers
from studio.stores import operations, queries
from studio.stores.errors import amount_words
from studio.stores.models import MaterialKind
from studio.stores.queries import MaterialRow, StoresPage
from studio.web import saying
from studio.web.deeds import Deed, Reading
from studio.web.forms import StudioForm, Typed
from studio.web.templatetags.studio import money

SEARCH_LENGTH = 100
KINDS: dict[str, tuple[str, tuple[str, ...]]] = {
    "resin": ("Casting resin", (MaterialKind.RESIN_A, MaterialKind.RESIN_B)),
    "stabilizing": ("Stabilizing", (MaterialKind.STABILIZING,)),
    "colorant": ("Colour", (MaterialKind.COLORANT,)),
    "finish": ("Finish", (MaterialKind.FINISH,)),
    "bench": ("Bench", (MaterialKind.CONSUMABLE, MaterialKind.FITTING)),
}
ORDER = {kind: place for place, kind in enumerate(MaterialKind.values)}


class MaterialTable(tables.Table):
    """Materials in use; on a phone each row is a block."""

    name = tables.Column("Material", accessor="material__name_search")
    kind = tables.Column("Kept as", accessor="material__kind")
    left = tables.Column("Fit for use", orderable=False, attrs={"td": {"class": "n"}, "th": {"class": "n"}})
    mind = tables.Column("To know", accessor="batches", orderable=False, empty_values=())
    value_micro = tables.Column("Cost", attrs={"td": {"class": "n"}, "th": {"class": "n"}})
    do = tables.Column("", accessor="material__pk", orderable=False, empty_values=())

    class Meta:
        orderable = True
        template_name = "parts/table.html"

    def __init__(self, *args: Any, may_buy: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.may_buy = may_buy

    def render_name(self, record: MaterialRow) -> SafeString:
        material = record.material
        return format_html('<a href="{}">{}</a>', reverse("material", args=[material.pk]), material.name)

    def render_kind(self, record: MaterialRow) -> str:
        return str(record.material.get_kind_display())

    def render_left(self, record: MaterialRow) -> str:
        return amount_words(record.material, record.left) if record.left else "none"

    def render_mind(self, record: MaterialRow) -> SafeString:
        return format_html_join(" ", "<span>{}</span>", ((words,) for words in to_mind(record)))

    def render_value_micro(self, record: MaterialRow) -> str:
        return money(record.value_micro)

    def render_do(self, record: MaterialRow) -> SafeString | str:
        if not self.may_buy:
            return ""
        return format_html(
            '<a class="plain" href="{}">Buy <span class="vh">{}</span></a>',
            reverse("material_buy", args=[record.material.pk]),
            record.material.name,
        )


def to_mind(row: MaterialRow) -> list[str]:
    """What a material asks for, each a short sentence."""
    material, now, found = row.material, timezone.now(), []
    if row.below_reorder and material.reorder_level:
        found.append(f"Below {amount_words(material, material.reorder_level)}: order.")
    if row.past:
        found.append(f"{amount_words(material, row.past)} past its day.")
    for batch in row.batches:
        if batch.ageing and batch.use_by:
            found.append(f"Batch {batch.batch.number}: use up by {saying.when(batch.use_by, now)}.")
    opened = [batch for batch in row.opened if not batch.ageing and not batch.past]
    if opened and opened[0].batch.opened_on:
        until = f", good until {saying.when(opened[0].use_by, now)}" if opened[0].use_by else ""
        found.append(f"Open since {saying.when(opened[0].batch.opened_on, now)}{until}.")
    return found


class Stores(Reading):
    """The stores page. Filters `kind`, `mind` and `search`, and the sort, have addresses."""

    def get(self, request: HttpRequest) -> HttpResponse:
        costs = roles.allowed(request.user, "see_costs")
        search = request.GET.get("search", "").strip()[:SEARCH_LENGTH]
        page = queries.stores_page(answers.local_date(timezone.now()), search=search, costs=costs)
        kind = request.GET.get("kind", "")
        mind = bool(request.GET.get("mind"))
        rows = _filtered(page.materials, kind, mind)
        table = MaterialTable(
            rows,
            may_buy=roles.allowed(request.user, "stores"),
            exclude=() if costs else ("value_micro",),
        )
        RequestConfig(request, paginate={"per_page": 25}).configure(table)
        context = {
            "page": page,
            "table": table if rows else None,
            "nothing": not page.materials and not search,
            "search": search,
            "kinds": _kind_links(page, kind, mind),
            "to_mind": sum(1 for row in page.materials if row.below_reorder or row.past or row.ageing),
            "costs": costs,
            "may_add": roles.allowed(request.user, "stores"),
            "may_pour": roles.allowed(request.user, "bench"),
        }
        return render(request, "stores/stores.html", context)


def _filtered(rows: Sequence[MaterialRow], kind: str, mind: bool) -> list[MaterialRow]:
    wanted = KINDS[kind][1] if kind in KINDS else None
    kept = [row for row in rows if wanted is None or row.material.kind in wanted]
    if mind:
        kept = [row for row in kept if row.below_reorder or row.past or row.ageing]
    return sorted(kept, key=lambda row: ORDER[row.material.kind])


def _kind_links(page: StoresPage, kind: str, mind: bool) -> list[dict[str, Any]]:
    """The filters as links with how many each holds; the one that holds now is current."""
    counted: dict[str, int] = dict.fromkeys(KINDS, 0)
    for row in page.materials:
        for key, (_, kinds) in KINDS.items():
            counted[key] += row.material.kind in kinds
    everything = {"key": "", "words": "All", "count": len(page.materials), "current": kind not in KINDS and not mind}
    return [everything] + [
        {"key": key, "words": words, "count": counted[key], "current": key == kind}
        for key, (words, _) in KINDS.items()
        if counted[key]
    ]


class MaterialForm(StudioForm):
    """What is asked of a material. `counted` decides in what the reorder level is read."""

    name = forms.CharField(
        max_length=120, label="What is it called?", help_text="As printed on the bottle, so that you find it again."
    )
    kind = forms.ChoiceField(choices=MaterialKind.choices, label="What is it kept as?")
    counted = forms.BooleanField(
        required=False, label="It is counted in pieces, not weighed", help_text="Inserts, discs, brushes, gloves."
    )
    reorder_level = QuantityField(
        dimension="mass", required=False, widget=Typed(), label="Order when less than this is left",
        help_text="Grams, or pieces where it is counted.",
    )  # fmt: skip
    use_by_after_open_s = QuantityField(
        dimension="duration", unit="days", required=False, widget=Typed(letters=True),
        label="How long is it good once opened?", help_text="Days unless you write weeks. From its data sheet.",
    )  # fmt: skip
    shelf_life_s = QuantityField(
        dimension="duration", unit="days", required=False, widget=Typed(letters=True),
        label="How long is it good unopened?",
        help_text="From the day it comes, where no date stands on the bottle. Days unless you write weeks.",
    )  # fmt: skip
    density_kgm3 = QuantityField(
        dimension="density", required=False, widget=Typed(letters=True), label="How dense is it?",
        help_text="Such as 1.05 g/ml, from its data sheet. Only resin needs it.",
    )  # fmt: skip
    note = forms.CharField(
        max_length=1000, required=False, widget=forms.Textarea(attrs={"rows": 3}), label="A note"
    )
    fieldsets: tuple[tuple[str, tuple[str, ...]], ...] = (
        ("", ("name", "kind", "counted")),
        ("When to order, how long it lasts", ("reorder_level", "use_by_after_open_s", "shelf_life_s")),
        ("If you know it", ("density_kgm3", "note")),
    )

    def __init__(self, *args: Any, counted: bool | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if counted is None:
            counted = bool(self.data.get("counted")) if self.is_bound else False
        else:
            del self.fields["counted"]
        if counted:
            self.fields["reorder_level"] = QuantityField(
                dimension="count", required=False, widget=Typed(), label="Order when less than this is left"
            )


class MaterialAdd(Deed):
    right, section, heading = "stores", "stores", "A new material"
    form_class, button = MaterialForm, "Keep it"

    def find(self, **kwargs: Any) -> None:
        self.back = reverse("stores")

    def initial(self) -> dict[str, Any]:
        kind = self.request.GET.get("kind", "")
        return {"kind": kind} if kind in MaterialKind.values else {}

    def do(self, data: dict[str, Any]) -> str:
        row = operations.add_material(at=self.now, by=self.by, **data)
        self.say(f"{row.name} has a place in the stores. There is none of it yet: enter what you bought.")
        return reverse("material", args=[row.pk])


urlpatterns = [
    path("stores/", Stores.as_view(), name="stores"),
    path("stores/new/", MaterialAdd.as_view(), name="material_add"),
]
