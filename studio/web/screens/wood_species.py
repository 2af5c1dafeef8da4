"""Kinds of wood: figures with what they stand on and where they are from, dust, protection, habits."""

from typing import Any

import django_tables2 as tables
from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.html import format_html
from django_tables2 import RequestConfig

from studio.fields.forms import QuantityField
from studio.fields.quantity import show
from studio.people.roles import allowed
from studio.web.deeds import Deed, Reading
from studio.web.forms import StudioForm, Typed
from studio.web.screens.bench import PER_PAGE, TEXT_LIMIT
from studio.web.screens.bench_base import Chips
from studio.web.templatetags.studio import NOTHING
from studio.wood import operations as wood
from studio.wood import queries
from studio.wood.kinds import Stabilizing
from studio.wood.models import DensityBasis, Species

FIGURES = (
    "common_name", "botanical_name", "density_kgm3", "density_basis", "density_source", "shrinkage_ppm",
    "shrinkage_source",
)  # fmt: skip
HABITS = ("other_names", "stabilizing", "oily", "protected_note", "dust_note", "practice_note")
RIGHT = {"th": {"class": "n"}, "td": {"class": "n"}}


class SpeciesTable(tables.Table):
    common_name = tables.Column(verbose_name="Wood", order_by="name_search")
    density_kgm3 = tables.Column(verbose_name="Density", attrs=RIGHT)
    density_basis = tables.Column(verbose_name="which is", orderable=False, default=NOTHING)
    shrinkage_ppm = tables.Column(verbose_name="Shrinks", attrs=RIGHT)
    stabilizing = tables.Column(verbose_name="Stabilized", orderable=False)

    class Meta:
        template_name = "parts/table.html"
        empty_text = ""

    def render_common_name(self, record: Species) -> str:
        url = reverse("species", args=[record.pk])
        return format_html('<a href="{}">{}</a> <i class="quiet">{}</i>', url, record, record.botanical_name)

    def render_density_kgm3(self, value: int) -> str:
        return show(value, "density")

    def render_density_basis(self, record: Species) -> str:
        return str(record.get_density_basis_display())

    def render_shrinkage_ppm(self, value: int) -> str:
        return show(value, "share")

    def render_stabilizing(self, record: Species) -> str:
        return str(record.get_stabilizing_display())


class SpeciesList(Reading):
    def get(self, request: HttpRequest) -> HttpResponse:
        text = request.GET.get("q", "")[:TEXT_LIMIT]
        table = SpeciesTable(Species.objects.matching(text))
        RequestConfig(request, paginate={"per_page": PER_PAGE, "silent": True}).configure(table)
        context = {"section": "wood", "table": table, "q": text, "may_wood": allowed(request.user, "wood")}
        return render(request, "wood/species_list.html", context)


def _species(pk: int) -> Species:
    found = queries.species(pk)
    if found is None:
        raise Http404("There is no such wood here.")
    return found


class SpeciesPage(Reading):
    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        context = {"section": "wood", "row": _species(pk), "may_wood": allowed(request.user, "wood")}
        return render(request, "wood/species.html", context)


class SpeciesForm(StudioForm):
    fieldsets = (
        ("Its figures", ("density_kgm3", "density_basis", "density_source", "shrinkage_ppm", "shrinkage_source")),
        ("How it is handled", ("stabilizing", "oily", "practice_note")),
        ("What to mind", ("dust_note", "protected_note")),
    )
    common_name = forms.CharField(max_length=120, label="What is it called?")
    botanical_name = forms.CharField(required=False, max_length=120, label="Botanical name")
    other_names = forms.CharField(required=False, max_length=300, label="Other names")
    density_kgm3 = QuantityField(
        dimension="density", required=False, label="Density", help_text="With its unit.", widget=Typed(letters=True)
    )
    density_basis = forms.ChoiceField(
        required=False, choices=[("", "not said"), *DensityBasis.choices], label="Which density is that?"
    )
    density_source = forms.CharField(required=False, max_length=300, label="Where the figure is from")
    shrinkage_ppm = QuantityField(
        dimension="share", required=False, label="Its volume shrinks, green to oven-dry, in percent", widget=Typed()
    )
    shrinkage_source = forms.CharField(required=False, max_length=300, label="Where that figure is from")
    stabilizing = forms.ChoiceField(choices=Stabilizing.choices, label="Stabilized?", widget=Chips)
    oily = forms.BooleanField(required=False, label="Oily: resin and glue hold badly")
    practice_note = forms.CharField(required=False, max_length=1000, label="How we handle it", widget=forms.Textarea)
    dust_note = forms.CharField(required=False, max_length=1000, label="Its dust", widget=forms.Textarea)
    protected_note = forms.CharField(
        required=False, max_length=1000, label="Protected? Which lists to look into", widget=forms.Textarea
    )


class ChangeForm(SpeciesForm):
    def __init__(self, *args: Any, shipped: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if shipped:
            for name in FIGURES:
                del self.fields[name]


class SpeciesAdd(Deed):
    right, section = "wood", "wood"
    form_class = SpeciesForm
    heading, button = "A wood of your own", "Add it"

    def find(self) -> None:
        self.back = reverse("species_list")

    def initial(self) -> dict[str, Any]:
        return {"stabilizing": Stabilizing.CONDITION}

    def do(self, data: dict[str, Any]) -> str:
        data.pop("sure", None)
        row = wood.add_species(at=self.now, by=self.by, **data)
        self.say(f"{row} is among the woods.")
        return reverse("species", args=[row.pk])


class SpeciesChange(Deed):
    """Of a wood that came with the program only names beside its own, habits and notes change."""

    right, section = "wood", "wood"
    form_class = ChangeForm
    button = "Keep it so"

    def find(self, pk: int) -> None:
        self.row = _species(pk)
        self.back = reverse("species", args=[pk])
        self.heading = f"What is known of {self.row}"

    def initial(self) -> dict[str, Any]:
        return {name: getattr(self.row, name) for name in (*FIGURES, *HABITS)}

    def form_kwargs(self) -> dict[str, Any]:
        return {"shipped": not self.row.own}

    def do(self, data: dict[str, Any]) -> str:
        data.pop("sure", None)
        row = wood.change_species(species=self.row, at=self.now, by=self.by, **data)
        self.say(f"{row} is changed.")
        return self.back


urlpatterns = [
    path("wood/species/", SpeciesList.as_view(), name="species_list"),
    path("wood/species/add/", SpeciesAdd.as_view(), name="species_add"),
    path("wood/species/<int:pk>/", SpeciesPage.as_view(), name="species"),
    path("wood/species/<int:pk>/change/", SpeciesChange.as_view(), name="species_change"),
]
