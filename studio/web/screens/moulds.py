"""Moulds: their shape and inside, and how much they hold."""

from typing import Any

from django import forms
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse

from studio.equipment import operations, queries
from studio.equipment.models import Mould, Shape
from studio.fields.forms import QuantityField
from studio.fields.quantity import show
from studio.people import roles
from studio.people import settings as answers
from studio.people.names import fold
from studio.web.deeds import Deed, Reading
from studio.web.forms import StudioForm, Typed
from studio.web.screens.equipment import RetireForm
from studio.web.screens.stores_change import ChangeDeed
from studio.work import queries as work

SIDES: dict[str, tuple[str, ...]] = {
    Shape.BOX: ("length_um", "width_um", "height_um"),
    Shape.ROUND: ("diameter_um", "height_um"),
    Shape.TUBE: ("diameter_um", "height_um"),
    Shape.TAPERED: ("diameter_um", "top_diameter_um", "height_um"),
    Shape.MEASURED: (),
}
OUTSIDE: dict[str, tuple[str, ...]] = {
    Shape.BOX: ("outside_length_um", "outside_width_um", "outside_height_um"),
    Shape.ROUND: ("outside_diameter_um", "outside_height_um"),
    Shape.TUBE: ("outside_diameter_um", "outside_height_um"),
    Shape.TAPERED: ("outside_diameter_um", "outside_height_um"),
    Shape.MEASURED: ("outside_length_um", "outside_width_um", "outside_diameter_um", "outside_height_um"),
}
SEARCH_LENGTH = 100


class Moulds(Reading):
    def get(self, request: HttpRequest) -> HttpResponse:
        retired = bool(request.GET.get("retired"))
        search = request.GET.get("search", "").strip()[:SEARCH_LENGTH]
        rows = queries.moulds(retired=retired)
        if search:
            rows = rows.filter(name_search__contains=fold(search))
        page = Paginator(rows, 25).get_page(request.GET.get("page"))
        context = {
            "page": page,
            "moulds": [
                {"mould": mould, "holds": queries.mould_mm3(mould), "inside": inside_words(mould)}
                for mould in page.object_list
            ],
            "search": search,
            "retired": retired,
            "may_change": roles.allowed(request.user, "equipment"),
            "section": "stores",
        }
        return render(request, "equipment/moulds.html", context)


def inside_words(mould: Mould) -> str:
    """The inside as one would read it off: `250 mm × 120 mm × 60 mm`."""

    def words(um: int | None) -> str:
        return show(um, "length") if um else "?"

    if mould.shape == Shape.BOX:
        return f"{words(mould.length_um)} × {words(mould.width_um)} × {words(mould.height_um)}"
    if mould.shape in (Shape.ROUND, Shape.TUBE):
        return f"{words(mould.diameter_um)} across, {words(mould.height_um)} high"
    if mould.shape == Shape.TAPERED:
        sides = f"{words(mould.diameter_um)} across below, {words(mould.top_diameter_um)} at the rim"
        return f"{sides}, {words(mould.height_um)} high"
    return "filled and measured"


def _length(label: str, help_text: str = "") -> QuantityField:
    return QuantityField(dimension="length", widget=Typed(letters=True), label=label, help_text=help_text)


def _outside(label: str, help_text: str = "") -> QuantityField:
    return QuantityField(
        dimension="length", required=False, widget=Typed(letters=True), label=label, help_text=help_text
    )


class MouldForm(StudioForm):
    name = forms.CharField(max_length=120, label="What do you call it?", help_text="Such as the 8-inch pail.")
    length_um = _length("How long is it inside?")
    width_um = _length("How wide is it inside?")
    diameter_um = _length("How wide across inside?", "At the bottom, where it tapers.")
    top_diameter_um = _length("And across at the rim?")
    height_um = _length("How high is it inside?")
    fill_mm3 = QuantityField(
        dimension="volume", widget=Typed(letters=True), label="How much does it hold?",
        help_text="Fill it with water to the rim and weigh that: a gram is a millilitre.",
    )  # fmt: skip
    outside_length_um = _outside("How long is it outside?")
    outside_width_um = _outside("How wide is it outside?")
    outside_diameter_um = _outside("How wide across outside?", "At its widest, rim and handles too.")
    outside_height_um = _outside("How high is it outside?", "With what stands on it. It says whether a pot takes it.")
    note = forms.CharField(max_length=2000, required=False, label="A note")

    def __init__(self, *args: Any, shape: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        asked = {"name", "fill_mm3", "note", *SIDES[shape], *OUTSIDE[shape]}
        for name in [name for name in self.fields if name not in asked]:
            del self.fields[name]
        if shape != Shape.MEASURED:
            self.fields["fill_mm3"].required = False
            self.fields["fill_mm3"].help_text = "Only if you filled it and measured: that counts before the sides."


class MouldAdd(Deed):
    """First the shape (`?shape=`), then its sides."""

    right, section, form_class, button = "equipment", "stores", MouldForm, "Keep it"
    template_name = "equipment/mould_add.html"

    def find(self, **kwargs: Any) -> None:
        asked = self.request.GET.get("shape", "")
        self.shape = Shape(asked) if asked in Shape.values else None
        self.back = reverse("mould_add") if self.shape else reverse("moulds")
        self.heading = f"A new mould, {self.shape.label}" if self.shape else "What shape is the mould?"

    def form_kwargs(self) -> dict[str, Any]:
        return {"shape": self.shape or Shape.MEASURED}

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"shape": self.shape, "shapes": [] if self.shape else Shape.choices}

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        return super().post(request, **kwargs) if self.shape else self.get(request, **kwargs)

    def do(self, data: dict[str, Any]) -> str:
        assert self.shape is not None
        row = operations.add_mould(shape=self.shape, by=self.by, at=self.now, **data)
        self.say(f"{row.name} holds {show(queries.mould_mm3(row), 'volume')}.")
        return reverse("moulds")


class MouldDeed(Deed):
    right, section = "equipment", "stores"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        found = Mould.objects.filter(pk=pk).first()
        if found is None:
            raise Http404
        self.mould, self.back = found, reverse("moulds")


class MouldChange(MouldDeed, ChangeDeed):
    form_class, button = MouldForm, "Keep it so"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        super().find(pk, **kwargs)
        self.heading = f"Change {self.mould.name}"

    def form_kwargs(self) -> dict[str, Any]:
        return {"shape": self.mould.shape}

    def initial(self) -> dict[str, Any]:
        shape = self.mould.shape
        names = ("name", "fill_mm3", "note", *SIDES[shape], *OUTSIDE[shape])
        return {name: getattr(self.mould, name) for name in names}

    def do(self, data: dict[str, Any]) -> str:
        row = operations.change_mould(mould=self.mould, by=self.by, **data)
        holds = show(queries.mould_mm3(row), "volume")
        self.say(f"{row.name} holds {holds}. What was poured before keeps its grams.")
        return self.back


class MouldPoured(Reading):
    """What was planned for this mould and what it took, the last pours first."""

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        mould = Mould.objects.filter(pk=pk).first()
        if mould is None:
            raise Http404
        context = {
            "mould": mould,
            "inside": inside_words(mould),
            "outside": outside_words(mould),
            "holds": queries.mould_mm3(mould),
            "pours": work.mould_pours(mould),
            "may_change": roles.allowed(request.user, "equipment"),
            "section": "stores",
        }
        return render(request, "equipment/mould.html", context)


def outside_words(mould: Mould) -> str:
    """The outside as far as it was measured; nothing where it wasn't."""

    def words(um: int | None) -> str:
        return show(um, "length") if um else "?"

    sides = [mould.outside_length_um, mould.outside_width_um]
    found = [" × ".join(words(um) for um in sides)] if any(sides) else []
    if mould.outside_diameter_um:
        found.append(f"{words(mould.outside_diameter_um)} across")
    if mould.outside_height_um:
        found.append(f"{words(mould.outside_height_um)} high")
    return ", ".join(found)


class MouldRetire(MouldDeed):
    form_class, button = RetireForm, "It is out of use"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        super().find(pk, **kwargs)
        self.heading = f"Throw out {self.mould.name}"

    def do(self, data: dict[str, Any]) -> str:
        on = data["on"] or answers.local_date(self.now)
        operations.retire_mould(mould=self.mould, on=on, by=self.by, at=self.now)
        self.say(f"{self.mould.name} is out of use.")
        return self.back


urlpatterns = [
    path("moulds/", Moulds.as_view(), name="moulds"),
    path("moulds/new/", MouldAdd.as_view(), name="mould_add"),
    path("moulds/<int:pk>/", MouldChange.as_view(), name="mould_change"),
    path("moulds/<int:pk>/poured/", MouldPoured.as_view(), name="mould_poured"),
    path("moulds/<int:pk>/retire/", MouldRetire.as_view(), name="mould_retire"),
]
