"""One batch: opened, counted, written off, a bill that came later, a price put right."""

from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone

from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.ledger import queries as ledger
from studio.people import roles
from studio.people import settings as answers
from studio.stores import operations, queries
from studio.stores.errors import amount_words
from studio.stores.models import Batch, WhyGone
from studio.web.deeds import Deed, Reading
from studio.web.forms import StudioForm, Typed
from studio.web.screens.material import AmountForm, CountForm, count_words, said


def the_batch(pk: int, *, costs: bool = True) -> Batch:
    found = queries.batch(pk, costs=costs)
    if found is None:
        raise Http404
    return found


class BatchPage(Reading):
    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        costs = roles.allowed(request.user, "see_costs")
        batch = the_batch(pk, costs=costs)
        on = answers.local_date(timezone.now())
        context = {
            "batch": batch,
            "material": batch.material,
            "left": batch.account.amount,
            "past": batch.past(on),
            "costs": costs,
            "lines": ledger.history(batch.account) if costs else (),
            "may": {right: roles.allowed(request.user, right) for right in ("stores", "count", "contacts")},
            "section": "stores",
        }
        return render(request, "stores/batch.html", context)


class BatchDeed(Deed):
    right, section = "stores", "stores"
    batch: Batch
    asks = ""

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        self.batch = the_batch(pk)
        self.back = reverse("batch", args=[pk])
        self.heading = f"{self.asks} batch {self.batch.number}"

    def context(self, form: StudioForm) -> dict[str, Any]:
        left = said(self.batch.material, self.batch.account.amount)
        return {"sub": f"{self.batch.material.name}. The books say {left}."}

    def form_kwargs(self) -> dict[str, Any]:
        return {"material": self.batch.material} if issubclass(self.form_class, AmountForm) else {}


class OpenForm(StudioForm):
    opened_on = forms.DateField(
        required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        label="Which day was it opened?", help_text="Leave it empty for today.",
    )  # fmt: skip


class BatchOpen(BatchDeed):
    asks, form_class, button = "Opened:", OpenForm, "It is open"

    def initial(self) -> dict[str, Any]:
        return {"opened_on": self.batch.opened_on}

    def do(self, data: dict[str, Any]) -> str:
        row = operations.open_batch(batch=self.batch, opened_on=data["opened_on"], at=self.now, by=self.by)
        until = row.use_by_now
        self.say(
            f"Batch {row.number} is open"
            + (f" and good until {until:%d %B %Y}." if until else ". How long it is good isn't known.")
        )
        return self.back


class BatchCount(BatchDeed):
    right, asks, form_class, button = "count", "Count", CountForm, "That is what is there"

    def do(self, data: dict[str, Any]) -> str:
        row = operations.count(
            batch=self.batch,
            really_there=data["really_there"],
            at=moment_or_now(data["at"], self.now),
            **self.stamp,
        )
        self.say(count_words(self.batch.material, row.was_amount, row.counted_amount))
        return self.back


class WriteOffForm(AmountForm):
    why = forms.ChoiceField(choices=WhyGone.choices, widget=forms.RadioSelect, label="Why?")
    amount = QuantityField(
        dimension="mass", required=False, widget=Typed(), label="How much of it?",
        help_text="Leave it empty for all that is left.",
    )  # fmt: skip
    note = forms.CharField(max_length=300, required=False, label="In words")
    at = MomentField(label="When was that?")


class BatchWriteOff(BatchDeed):
    asks, form_class, button = "Throw away", WriteOffForm, "It is gone"

    def do(self, data: dict[str, Any]) -> str:
        row = operations.write_off(
            batch=self.batch,
            why=data["why"],
            amount=data["amount"],
            note=data["note"],
            at=moment_or_now(data["at"], self.now),
            **self.stamp,
        )
        gone = amount_words(self.batch.material, row.amount)
        self.say(f"{gone} of {self.batch.material.name} are off the books: {row.get_why_display()}.")
        return self.back


class BillForm(StudioForm):
    value = QuantityField(
        dimension="money", negative=True, widget=Typed(), label="How much is the bill?",
        help_text="Carriage, duty. Money that came back is written with a minus.",
    )  # fmt: skip
    what = forms.CharField(max_length=200, required=False, label="What for?")
    at = MomentField(label="When was it paid?")


class BatchBill(BatchDeed):
    asks, form_class, button = "A later bill for", BillForm, "Enter the bill"

    def context(self, form: StudioForm) -> dict[str, Any]:
        name = self.batch.material.name
        return {"sub": f"{name}. It is shared between what is left and everything that was made of it."}

    def do(self, data: dict[str, Any]) -> str:
        row = operations.add_late_bill(
            batch=self.batch,
            value_micro=data["value"],
            what=data["what"],
            at=moment_or_now(data["at"], self.now),
            **self.stamp,
        )
        self.say(
            f"{show(row.value_micro, 'money', with_unit=True)} are in the books, shared between what is left of "
            f"batch {self.batch.number} and what was made of it."
        )
        return self.back


class PriceForm(StudioForm):
    paid = QuantityField(
        dimension="money", widget=Typed(), label="What did it really cost?",
        help_text="The goods alone; carriage and later bills stay as they are.",
    )  # fmt: skip
    at = MomentField(label="When was it found?")


class BatchPrice(BatchDeed):
    asks, form_class, button = "Put right the price of", PriceForm, "Put it right"

    def initial(self) -> dict[str, Any]:
        return {"paid": self.batch.paid_micro}

    def context(self, form: StudioForm) -> dict[str, Any]:
        booked = show(self.batch.paid_micro, "money", with_unit=True)
        name = self.batch.material.name
        return {"sub": f"{name}, entered at {booked}. The first entry stays; the difference is one more."}

    def do(self, data: dict[str, Any]) -> str:
        operations.correct_price(
            batch=self.batch, paid_micro=data["paid"], at=moment_or_now(data["at"], self.now), **self.stamp
        )
        self.say(
            f"Batch {self.batch.number} now stands at {show(data['paid'], 'money', with_unit=True)}; "
            "what was made of it carries its share of the difference."
        )
        return self.back


urlpatterns = [
    path("stores/batch/<int:pk>/", BatchPage.as_view(), name="batch"),
    path("stores/batch/<int:pk>/open/", BatchOpen.as_view(), name="batch_open"),
    path("stores/batch/<int:pk>/count/", BatchCount.as_view(), name="batch_count"),
    path("stores/batch/<int:pk>/throw-away/", BatchWriteOff.as_view(), name="batch_write_off"),
    path("stores/batch/<int:pk>/bill/", BatchBill.as_view(), name="batch_bill"),
    path("stores/batch/<int:pk>/price/", BatchPrice.as_view(), name="batch_price"),
]
