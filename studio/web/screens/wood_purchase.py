"""One purchase of wood: what is known of it, the rest to fill in, later bills, photographs."""

from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import path, reverse

from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.people import operations as people
from studio.people import queries as people_queries
from studio.people import roles
from studio.people.places import countries
from studio.web.deeds import Deed
from studio.web.forms import StudioForm, Typed
from studio.web.screens.bench_base import Chips, SoldDryField
from studio.web.screens.photographs import PhotographForm
from studio.wood import operations as wood
from studio.wood import queries
from studio.wood.kinds import WoodKind
from studio.wood.models import Certainty, Purchase, Waxed
from studio.work import operations as work
from studio.work import queries as work_queries

FILLED_IN = (
    "species_certainty", "kind", "where_it_stood", "country", "waxed", "sold_dry", "document_note", "note",
    "that_is_all",
)  # fmt: skip


class RestForm(StudioForm):
    species = forms.ChoiceField(required=False, label="Which wood?")
    species_certainty = forms.ChoiceField(
        required=False, choices=[("", "not said"), *Certainty.choices], label="How sure of that?", widget=Chips
    )
    kind = forms.ChoiceField(
        required=False, choices=[("", "not said"), *WoodKind.choices], label="Burr, root or what it is"
    )
    where_it_stood = forms.CharField(
        required=False, max_length=200, label="Where it stood", help_text="As the card should say it."
    )
    country = forms.ChoiceField(required=False, label="In which country")
    supplier = forms.ChoiceField(required=False, label="Who it came from")
    new_supplier = forms.CharField(required=False, max_length=120, label="Or somebody new")
    waxed = forms.ChoiceField(choices=Waxed.choices, label="Waxed?", widget=Chips)
    sold_dry = SoldDryField()
    document_note = forms.CharField(
        required=False, max_length=1000, label="Papers that came with it", widget=forms.Textarea
    )
    note = forms.CharField(required=False, max_length=1000, label="Anything else", widget=forms.Textarea)
    that_is_all = forms.BooleanField(required=False, label="That is all that will ever be known")

    def __init__(self, *args: Any, woods: list[Any], suppliers: list[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["species"].choices = [("", "not known yet"), *((str(row.pk), str(row)) for row in woods)]  # type: ignore[attr-defined]
        self.fields["supplier"].choices = [("", "not said"), *((str(row.pk), str(row)) for row in suppliers)]  # type: ignore[attr-defined]
        self.fields["country"].choices = [("", "not said"), *countries().items()]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("supplier") and data.get("new_supplier"):
            self.add_error("supplier", "Choose one of them or write somebody new, not both.")
        return data


class AtPurchase(Deed):
    right, section = "wood", "wood"
    purchase: Purchase

    def find(self, pk: int) -> None:
        found = queries.purchase(pk, costs=roles.allowed(self.request.user, "see_costs"))
        if found is None:
            raise Http404("There is no such purchase.")
        self.purchase = found
        self.back = reverse("purchase", args=[pk])

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": f"{str(self.purchase).capitalize()}."}


class PurchasePage(AtPurchase):
    """Read by everybody; the form for the rest only by those who may buy wood."""

    right = "read"
    form_class = RestForm
    template_name = "wood/purchase.html"
    button = "Fill it in"

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        roles.require(request.user, "wood")
        return super().post(request, **kwargs)

    def form_kwargs(self) -> dict[str, Any]:
        return {"woods": queries.species_list(), "suppliers": list(people_queries.suppliers())}

    def initial(self) -> dict[str, Any]:
        row = self.purchase
        return {
            "species": str(row.species_id or ""),
            "supplier": str(row.supplier_id or ""),
            **{name: getattr(row, name) for name in FILLED_IN},
        }

    def context(self, form: StudioForm) -> dict[str, Any]:
        user = self.request.user
        return {
            "purchase": self.purchase,
            "lumps": work_queries.lumps_of(self.purchase),
            "pictures": list(self.purchase.pictures.all()),
            "country": countries().get(self.purchase.country, ""),
            "waits": self.purchase.still_to_fill_in,
            "may_wood": roles.allowed(user, "wood"),
            "may_costs": roles.allowed(user, "see_costs"),
            "may_money": roles.allowed(user, "see_money"),
            "may_contacts": roles.allowed(user, "contacts"),
            "back": "",
        }

    def do(self, data: dict[str, Any]) -> str:
        supplier = next((row for row in people_queries.suppliers() if str(row.pk) == data["supplier"]), None)
        if data["new_supplier"]:
            supplier = people.add_supplier(by=self.by, at=self.now, name=data["new_supplier"])
        row = wood.describe_purchase(
            purchase=self.purchase,
            species=next((one for one in queries.species_list() if str(one.pk) == data["species"]), None),
            supplier=supplier,
            at=self.now,
            by=self.by,
            **{name: data[name] for name in FILLED_IN},
        )
        work.tell_of_wood(purchase=row, was=self.purchase.species, was_kind=self.purchase.kind)
        waits = row.still_to_fill_in
        self.say("Nothing of it is open any more." if not waits else "Kept. Still open: " + ", ".join(waits) + ".")
        return reverse("purchase", args=[row.pk])


class BillForm(StudioForm):
    what = forms.CharField(max_length=200, label="What for?", help_text="Carriage, sawing, a certificate.")
    amount = QuantityField(
        dimension="money",
        negative=True,
        label="How much?",
        help_text="With a minus in front for money that came back.",
        widget=Typed(),
    )
    at = MomentField(label="Day of the bill")


class Bill(AtPurchase):
    form_class = BillForm
    heading, button = "A later bill for this wood", "Share it out"

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": "It is shared between what is left of the wood and what was made of it, as the cuts were."}

    def do(self, data: dict[str, Any]) -> str:
        bill = work.add_wood_bill(
            purchase=self.purchase,
            amount_micro=data["amount"],
            what=data["what"],
            at=moment_or_now(data["at"], self.now),
            **self.stamp,
        )
        self.say(f"“{bill.what}” is shared between all that came of this wood.")
        return self.back


class PictureForm(PhotographForm):
    photo_required = True
    caption = forms.CharField(required=False, max_length=200, label="What it shows")


class Picture(AtPurchase):
    form_class = PictureForm
    heading, button = "Photograph the wood", "Keep it"

    def form_kwargs(self) -> dict[str, Any]:
        return {"by": self.by}

    def do(self, data: dict[str, Any]) -> str:
        wood.add_picture(
            purchase=self.purchase, picture=data["photo"], caption=data["caption"], at=self.now, by=self.by
        )
        self.say("The photograph is kept.")
        return self.back


urlpatterns = [
    path("wood/purchase/<int:pk>/", PurchasePage.as_view(), name="purchase"),
    path("wood/purchase/<int:pk>/bill/", Bill.as_view(), name="purchase_bill"),
    path("wood/purchase/<int:pk>/photograph/", Picture.as_view(), name="purchase_picture"),
]
