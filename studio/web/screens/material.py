"""One material: its batches, what was done to it, buying, counting, using and changing it."""

from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone

from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.ledger import queries as ledger
from studio.people import queries as people
from studio.people import roles
from studio.people import settings as answers
from studio.people.models import Supplier
from studio.stores import operations, queries
from studio.stores.errors import amount_words
from studio.stores.happenings import happenings
from studio.stores.models import Batch, Material
from studio.web.deeds import Deed, Reading
from studio.web.forms import StudioForm, Typed
from studio.web.paging import paged
from studio.web.screens.stores import MaterialForm, to_mind
from studio.web.screens.stores_change import ChangeDeed
from studio.web.screens.stores_short import OffersCount
from studio.work.queries.tags import by_account


def the_material(pk: int) -> Material:
    found = queries.material(pk)
    if found is None:
        raise Http404
    return found


def dimension(material: Material) -> str:
    return "count" if material.counted else "mass"


class MaterialPage(Reading):
    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        costs = roles.allowed(request.user, "see_costs")
        row = queries.material_row(pk, answers.local_date(timezone.now()), costs=costs)
        if row is None:
            raise Http404
        emptied = bool(request.GET.get("emptied"))
        on = answers.local_date(timezone.now())
        context = {
            "row": row,
            "material": row.material,
            "mind": to_mind(row),
            "batches": queries.batches(row.material, on, emptied=True, costs=costs) if emptied else row.batches,
            "emptied": emptied,
            "happenings": happenings(row.material, costs=costs)[:50],
            **came_and_went(request, row.material, costs),
            "costs": costs,
            "may": _may(request),
            "section": "stores",
        }
        return render(request, "stores/material.html", context)


def came_and_went(request: HttpRequest, material: Material, costs: bool) -> dict[str, Any]:
    """Every purchase, draw and count of it, newest first, each with the workpieces it went into."""
    page = paged(request, ledger.movements(material.commodity_id, costs=costs), "moved")
    rows = ledger.as_movements(page.object_list, material.commodity_id)
    pieces = by_account({account for row in rows for account in row.towards})
    return {
        "moved": page,
        "movements": [(row, [pieces[account] for account in row.towards if account in pieces]) for row in rows],
    }


def _may(request: HttpRequest) -> dict[str, bool]:
    return {right: roles.allowed(request.user, right) for right in ("stores", "count")}


class MaterialDeed(Deed):
    right, section = "stores", "stores"
    material: Material

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        self.material = the_material(pk)
        self.back = reverse("material", args=[pk])
        self.heading = self.headed()

    def headed(self) -> str:
        return self.material.name

    def form_kwargs(self) -> dict[str, Any]:
        return {"material": self.material}


class AmountForm(StudioForm):
    """A form whose amounts are grams, or pieces where the material is counted."""

    amounts: tuple[str, ...] = ("amount",)

    def __init__(self, *args: Any, material: Material, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.amounts:
            field = self.fields[name]
            assert isinstance(field, QuantityField)
            field.dimension = dimension(material)


class BuyForm(AmountForm):
    amount = QuantityField(
        dimension="mass", widget=Typed(), label="How much came?", help_text="What is in the bottles, without them."
    )
    paid = QuantityField(
        dimension="money", widget=Typed(), label="What was paid for it?", help_text="Without carriage."
    )
    carriage = QuantityField(
        dimension="money", required=False, widget=Typed(), label="And for carriage",
        help_text="A bill that comes later can be added to the batch.",
    )  # fmt: skip
    use_by = forms.DateField(
        required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        label="Use by, as printed on it",
    )  # fmt: skip
    supplier = forms.ModelChoiceField(
        queryset=Supplier.objects.none(), required=False, label="From whom?", empty_label="Nobody named"
    )
    maker_mark = forms.CharField(max_length=60, required=False, label="Number or mark on the bottle")
    at = MomentField(label="When did it come?")
    note = forms.CharField(max_length=1000, required=False, label="A note")
    fieldsets = (
        ("", ("amount", "paid", "carriage", "use_by")),
        ("More, if you have it", ("supplier", "maker_mark", "at", "note")),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["supplier"].queryset = people.suppliers()  # type: ignore[attr-defined]


class MaterialBuy(MaterialDeed):
    form_class, button, template_name = BuyForm, "It came in", "stores/buy.html"

    def headed(self) -> str:
        return f"Bought: {self.material.name}"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        super().find(pk, **kwargs)
        on = answers.local_date(self.now)
        rows = queries.batches(self.material, on, emptied=True)
        newest = max((row.batch for row in rows), key=lambda one: (one.received_on, one.pk), default=None)
        self.last: Batch | None = newest

    def initial(self) -> dict[str, Any]:
        if self.last is None or not self.request.GET.get("again"):
            return {}
        return {
            "amount": self.last.bought_amount,
            "paid": self.last.paid_micro,
            "carriage": self.last.carriage_micro or None,
            "supplier": self.last.supplier_id,
        }

    def context(self, form: StudioForm) -> dict[str, Any]:
        last = self.last
        if last is None or self.request.GET.get("again"):
            return {}
        words = f"{amount_words(self.material, last.bought_amount)} for {show(last.paid_micro, 'money')}"
        if last.carriage_micro:
            words += f" and {show(last.carriage_micro, 'money')} carriage"
        if last.supplier:
            words += f", from {last.supplier}"
        return {"last_words": words}

    def do(self, data: dict[str, Any]) -> str:
        row = operations.buy(
            material=self.material,
            amount=data["amount"],
            paid_micro=data["paid"],
            carriage_micro=data["carriage"] or 0,
            use_by=data["use_by"],
            supplier=data["supplier"],
            maker_mark=data["maker_mark"],
            note=data["note"],
            at=moment_or_now(data["at"], self.now),
            **self.stamp,
        )
        self.say(
            f"{amount_words(self.material, row.bought_amount)} of {self.material.name} are in the stores as batch "
            f"{row.number}. Write {row.number} on the bottle."
        )
        return reverse("material", args=[self.material.pk])


class CountForm(AmountForm):
    amounts = ("really_there",)
    really_there = QuantityField(
        dimension="mass", widget=Typed(), least=0, label="What is really there?",
        help_text="Nothing is an answer: 0.",
    )  # fmt: skip
    at = MomentField(label="When was it counted?")


class MaterialCount(MaterialDeed):
    right, form_class, button = "count", CountForm, "That is what is there"

    def headed(self) -> str:
        return f"Count {self.material.name}"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        super().find(pk, **kwargs)
        rows = queries.batches(self.material, answers.local_date(self.now), costs=False)
        self.was = sum(row.left for row in rows)

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": f"All bottles of it together. The books say {said(self.material, self.was)}."}

    def do(self, data: dict[str, Any]) -> str:
        row = operations.count(
            material=self.material,
            really_there=data["really_there"],
            at=moment_or_now(data["at"], self.now),
            **self.stamp,
        )
        self.say(count_words(self.material, row.was_amount, row.counted_amount))
        return reverse("material", args=[self.material.pk])


def said(material: Material, amount: int) -> str:
    return amount_words(material, amount) if amount else "there is none"


def count_words(material: Material, was: int, now: int) -> str:
    """What a count did, in one sentence."""
    if now == was:
        return f"{material.name}: {said(material, now)}, as the books say."
    much = amount_words(material, abs(now - was))
    if now > was:
        return f"{material.name}: {said(material, now)}, {much} more than the books said, at the last cost."
    return f"{material.name}: {said(material, now)}. {much} are gone and were written to shrinkage."


class UseForm(AmountForm):
    amount = QuantityField(
        dimension="mass", widget=Typed(), label="How much was used?",
        help_text="For the shop as a whole: gloves, cups, a trial. What goes into a piece is entered there.",
    )  # fmt: skip
    at = MomentField(label="When was that?")


class MaterialUse(OffersCount, MaterialDeed):
    form_class, button = UseForm, "It is used"

    def headed(self) -> str:
        return f"Used in the shop: {self.material.name}"

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": "It counts among what the shop costs, and on no one piece."}

    def do(self, data: dict[str, Any]) -> str:
        at = moment_or_now(data["at"], self.now)
        taken = operations.use_in_shop(
            material=self.material, amount=data["amount"], at=at, **self.said_of_stores(data), **self.stamp
        )
        self.say(f"{self.material.name}: {takes_words(self.material, taken.takes)}.")
        return reverse("material", args=[self.material.pk])


def takes_words(material: Material, takes: Any) -> str:
    """From which batches it came: `40 g out of batch 7, 12 g out of batch 9 (past its day)`."""
    return ", ".join(
        f"{amount_words(material, take.amount)} out of batch {take.batch.number}"
        f"{' (past its day)' if take.past else ''}"
        for take in takes
    )


class MaterialChangeForm(MaterialForm):
    archived = forms.BooleanField(
        required=False, label="Put it away", help_text="There is none left and no more will come."
    )
    fieldsets = (*MaterialForm.fieldsets, ("No longer used", ("archived",)))


class MaterialChange(MaterialDeed, ChangeDeed):
    form_class, button, template_name = MaterialChangeForm, "Keep it so", "stores/change.html"

    def headed(self) -> str:
        return f"Change {self.material.name}"

    def form_kwargs(self) -> dict[str, Any]:
        return {"counted": self.material.counted}

    def initial(self) -> dict[str, Any]:
        names = [name for name in MaterialChangeForm.base_fields if name != "counted"]
        return {name: getattr(self.material, name) for name in names}

    def do(self, data: dict[str, Any]) -> str:
        row = operations.change_material(material=self.material, at=self.now, by=self.by, **data)
        self.say(f"{row.name} was put away." if row.archived else f"{row.name} is kept as you wrote.")
        return reverse("stores") if row.archived else reverse("material", args=[row.pk])


urlpatterns = [
    path("stores/<int:pk>/", MaterialPage.as_view(), name="material"),
    path("stores/<int:pk>/buy/", MaterialBuy.as_view(), name="material_buy"),
    path("stores/<int:pk>/count/", MaterialCount.as_view(), name="material_count"),
    path("stores/<int:pk>/use/", MaterialUse.as_view(), name="material_use"),
    path("stores/<int:pk>/change/", MaterialChange.as_view(), name="material_change"),
]
