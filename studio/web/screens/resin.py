"""A casting resin: its two parts, the ratio, and what its data sheet says."""

from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone

from studio.fields.forms import QuantityField
from studio.people import roles
from studio.people import settings as answers
from studio.stores import operations, queries
from studio.stores.models import ColourInto, Material, MaterialKind, ResinSystem
from studio.web.deeds import Deed, Reading
from studio.web.forms import StudioForm, Typed
from studio.web.screens.stores_change import ChangeDeed

# (column, what the page calls it, dimension, unit, what follows where the sheet gives nothing)
SHEET: tuple[tuple[str, str, str, str | None, str], ...] = (
    ("mixed_density_kgm3", "Density, mixed", "density", None, "reckoned from the two parts where both are known"),
    ("work_time_s", "Work time", "duration", None, "no clock at the pour"),
    ("work_time_at_mdegc", "at a warmth of", "temperature", None, "the clock is not put right for a warm shop"),
    ("work_time_mass_mg", "in a cup of", "mass", None, "not known for how much"),
    ("second_time_s", "Work time in a bigger cup", "duration", None, "unknown for more than that"),
    ("second_mass_mg", "that cup holds", "mass", None, ""),
    ("demould_s", "Out of the mould after", "duration", None, "nothing is said about when"),
    ("full_cure_s", "Fully cured after", "duration", None, "the lathe doesn't wait"),
    ("recoat_from_s", "A second pour bonds from", "duration", None, "as soon as the first has set"),
    ("recoat_to_s", "and until", "duration", None, "nothing is said about scuffing"),
    ("post_cure_s", "Cured in the warm for", "duration", None, "no heat is asked for"),
    ("post_cure_mdegc", "at", "temperature", None, ""),
    ("smallest_mg", "Smallest batch", "mass", None, "not checked"),
    ("largest_mg", "Largest batch", "mass", None, "not checked"),
    ("max_depth_um", "Deepest pour", "length", None, "not checked"),
    ("colorant_limit_ppm", "Most colour, of the mix", "share", None, "not checked"),
    ("ratio_tolerance_ppm", "The ratio may be off by", "share", None, "not checked"),
    ("shrink_ppm", "Shrinks in curing, by volume", "share", None, "not reckoned with"),
)


def the_resin(pk: int) -> ResinSystem:
    found = queries.resin_system(pk)
    if found is None:
        raise Http404
    return found


def sheet_rows(system: ResinSystem) -> list[dict[str, Any]]:
    """Each figure with whose it is: the data sheet's, or nobody's and what that means."""
    return [
        {"words": words, "value": getattr(system, name), "dimension": kind, "without": without}
        for name, words, kind, _, without in SHEET
    ]


class ResinPage(Reading):
    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        system = the_resin(pk)
        context = {
            "system": system,
            "mix": queries.mix(system, answers.local_date(timezone.now())),
            "sheet": sheet_rows(system),
            "may": {right: roles.allowed(request.user, right) for right in ("stores", "bench")},
            "section": "stores",
        }
        return render(request, "stores/resin.html", context)


def _sheet(name: str, label: str, help_text: str = "", unit: str | None = None) -> QuantityField:
    dimension = next(kind for column, _, kind, _, _ in SHEET if column == name)
    return QuantityField(
        dimension=dimension, unit=unit, required=False, label=label, help_text=help_text,
        widget=Typed(letters=dimension in ("density", "duration")),
    )  # fmt: skip


class ResinForm(StudioForm):
    """Everything of the data sheet may be left open; what is open is not checked."""

    name = forms.CharField(max_length=120, label="What is it called?")
    part_a = forms.ModelChoiceField(queryset=Material.objects.none(), label="Part A", empty_label=None)
    part_b = forms.ModelChoiceField(queryset=Material.objects.none(), label="Part B", empty_label=None)
    parts_a = QuantityField(
        dimension="number", widget=Typed(), label="Parts of A, by weight",
        help_text="By weight, as the sheet has it: 100 to 83. Not the ratio by volume: the denser part fills less.",
    )  # fmt: skip
    parts_b = QuantityField(dimension="number", widget=Typed(), label="Parts of B, by weight")
    ratio_tolerance_ppm = _sheet("ratio_tolerance_ppm", "How far may the ratio be off?", "Percent, from its sheet.")
    mixed_density_kgm3 = _sheet("mixed_density_kgm3", "How dense is it mixed?", "Such as 1.08 g/ml.")
    work_time_s = _sheet("work_time_s", "How long can it be worked?", "Minutes unless you write hours.")
    work_time_at_mdegc = _sheet("work_time_at_mdegc", "At which warmth is that?")
    work_time_mass_mg = _sheet("work_time_mass_mg", "In a cup of how much?")
    second_time_s = _sheet("second_time_s", "And in a bigger cup?", "Where the sheet gives a second figure.")
    second_mass_mg = _sheet("second_mass_mg", "How much is in that cup?")
    demould_s = _sheet("demould_s", "When may it come out of the mould?", "Hours unless you write days.", "h")
    full_cure_s = _sheet("full_cure_s", "When is it fully cured?", "Hours unless you write days.", "h")
    recoat_from_s = _sheet("recoat_from_s", "When may more be poured onto it?", "Hours after it was poured.", "h")
    recoat_to_s = _sheet("recoat_to_s", "Until when does more bond by itself?", "After that it is scuffed.", "h")
    post_cure_s = _sheet("post_cure_s", "Cured in the warm: how long?", "Hours, out of the mould. Empty: no.", "h")
    post_cure_mdegc = _sheet("post_cure_mdegc", "Cured in the warm: how hot?")
    smallest_mg = _sheet("smallest_mg", "Smallest batch", "Less may not have the heat to cure.")
    largest_mg = _sheet("largest_mg", "Largest batch", "More may run hot in the cup.")
    max_depth_um = _sheet("max_depth_um", "Deepest in one pour")
    colorant_limit_ppm = _sheet("colorant_limit_ppm", "Most colour", "Percent of the mix.")
    shrink_ppm = _sheet("shrink_ppm", "How much does it shrink in curing?", "Percent of its volume.")
    colour_into = forms.ChoiceField(
        choices=ColourInto.choices, widget=forms.RadioSelect, initial=ColourInto.EITHER, label="Colour goes into"
    )
    source = forms.CharField(
        max_length=200, required=False, label="Which data sheet is this from?",
        help_text="Its title and date, so that whose figures these are can be seen.",
    )  # fmt: skip
    note = forms.CharField(max_length=1000, required=False, widget=forms.Textarea(attrs={"rows": 3}), label="A note")
    fieldsets: tuple[tuple[str, tuple[str, ...]], ...] = (
        ("", ("name", "part_a", "part_b", "parts_a", "parts_b")),
        ("Its data sheet", (
            "source", "mixed_density_kgm3", "work_time_s", "work_time_at_mdegc", "work_time_mass_mg", "second_time_s",
            "second_mass_mg", "demould_s", "full_cure_s", "recoat_from_s", "recoat_to_s", "post_cure_s",
            "post_cure_mdegc", "shrink_ppm",
        )),
        ("What it allows", (
            "smallest_mg", "largest_mg", "max_depth_um", "ratio_tolerance_ppm", "colorant_limit_ppm", "colour_into",
        )),
        ("If you like", ("note",)),
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, kind in (("part_a", MaterialKind.RESIN_A), ("part_b", MaterialKind.RESIN_B)):
            field = self.fields[name]
            assert isinstance(field, forms.ModelChoiceField)
            field.queryset = Material.objects.in_use().filter(kind=kind)


class ResinAdd(Deed):
    right, section, heading = "stores", "stores", "A new casting resin"
    form_class, button, template_name = ResinForm, "Keep it", "stores/resin_add.html"

    def find(self, **kwargs: Any) -> None:
        self.back = reverse("stores")
        kinds = (MaterialKind.RESIN_A, MaterialKind.RESIN_B)
        there = {row.kind for row in queries.materials(kinds=kinds)}
        self.missing = next((kind for kind in kinds if kind not in there), None)

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"missing": self.missing, "printed": "Part A" if self.missing == MaterialKind.RESIN_A else "Part B"}

    def do(self, data: dict[str, Any]) -> str:
        row = operations.add_resin_system(at=self.now, by=self.by, **data)
        self.say(f"{row.name} can be poured. What its sheet leaves open is not checked.")
        return reverse("resin", args=[row.pk])


class ResinChangeForm(ResinForm):
    archived = forms.BooleanField(required=False, label="Put it away: it is no longer poured")
    fieldsets = (*ResinForm.fieldsets, ("No longer used", ("archived",)))


class ResinChange(ChangeDeed):
    right, section, form_class, button = "stores", "stores", ResinChangeForm, "Keep it so"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        self.system = the_resin(pk)
        self.heading, self.back = f"Change {self.system.name}", reverse("resin", args=[pk])

    def initial(self) -> dict[str, Any]:
        found = {name: getattr(self.system, name) for name in ResinChangeForm.base_fields}
        return {**found, "part_a": self.system.part_a_id, "part_b": self.system.part_b_id}

    def do(self, data: dict[str, Any]) -> str:
        row = operations.change_resin_system(system=self.system, at=self.now, by=self.by, **data)
        self.say(f"{row.name} was put away." if row.archived else f"{row.name} is as you wrote. Past pours stay.")
        return reverse("stores") if row.archived else self.back


urlpatterns = [
    path("stores/resin/new/", ResinAdd.as_view(), name="resin_add"),
    path("stores/resin/<int:pk>/", ResinPage.as_view(), name="resin"),
    path("stores/resin/<int:pk>/change/", ResinChange.as_view(), name="resin_change"),
]
