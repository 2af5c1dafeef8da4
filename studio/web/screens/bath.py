"""The stabilizing bath: started, filled, counted, thrown away, closed."""

from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone

from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.people import roles
from studio.people import settings as answers
from studio.stores import operations, queries
from studio.stores.errors import amount_words
from studio.stores.happenings import bath_happenings
from studio.stores.models import Bath, Material, MaterialKind, WhyGone
from studio.web.deeds import Deed, Reading
from studio.web.forms import DayField, StudioForm, Typed
from studio.web.screens.material import said
from studio.web.screens.soak_words import bath_notes
from studio.web.screens.stores_short import OffersCount
from studio.work import queries as work
from studio.work.queries.soaking import been_through


def the_bath(pk: int, *, costs: bool = True) -> Bath:
    found = queries.bath(pk, costs=costs)
    if found is None:
        raise Http404
    return found


class BathPage(Reading):
    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        costs = roles.allowed(request.user, "see_costs")
        bath = the_bath(pk, costs=costs)
        context = {
            "bath": bath,
            "material": bath.material,
            "left": bath.account.amount,
            "happenings": bath_happenings(bath, costs=costs)[:30],
            "runs": [run for run in work.open_stabilizings() if run.bath_id == bath.pk],
            "through": been_through(bath.pk),
            "costs": costs,
            "notes": [] if bath.closed_on else bath_notes(bath, answers.local_date(timezone.now())),
            "may": {right: roles.allowed(request.user, right) for right in ("stores", "count", "bench")},
            "section": "stores",
        }
        return render(request, "stores/bath.html", context)


class BathForm(StudioForm):
    name = forms.CharField(max_length=120, label="What do you call it?", help_text="Such as the large chamber.")
    material = forms.ModelChoiceField(
        queryset=Material.objects.none(), empty_label=None, label="Which stabilizing resin is in it?"
    )
    note = forms.CharField(max_length=1000, required=False, label="A note")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["material"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = Material.objects.in_use().filter(kind=MaterialKind.STABILIZING)


class BathAdd(Deed):
    right, section, heading = "stores", "stores", "A new bath"
    form_class, button, template_name = BathForm, "Start it", "stores/bath_add.html"

    def find(self, **kwargs: Any) -> None:
        self.back = reverse("stores")
        self.missing = not queries.materials(kinds=[MaterialKind.STABILIZING])

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"missing": self.missing}

    def do(self, data: dict[str, Any]) -> str:
        row = operations.start_bath(at=self.now, by=self.by, **data)
        self.say(f"{row.name} is there and empty. Fill it from the stores.")
        return reverse("bath", args=[row.pk])


class BathDeed(Deed):
    right, section = "stores", "stores"
    asks = ""
    bath: Bath

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        self.bath = the_bath(pk)
        self.heading, self.back = f"{self.asks} {self.bath.name}", reverse("bath", args=[pk])

    def context(self, form: StudioForm) -> dict[str, Any]:
        left = said(self.bath.material, self.bath.account.amount)
        return {"sub": f"{self.bath.material.name}. The books say {left}."}


class FillForm(StudioForm):
    amount = QuantityField(dimension="mass", widget=Typed(), label="How much was poured in?")
    at = MomentField(label="When was that?")


class BathFill(OffersCount, BathDeed):
    asks, form_class, button = "Fill", FillForm, "It is in the bath"

    def do(self, data: dict[str, Any]) -> str:
        at = moment_or_now(data["at"], self.now)
        row = operations.fill_bath(
            bath=self.bath, amount=data["amount"], at=at, **self.said_of_stores(data), **self.stamp
        )
        self.say(f"{amount_words(self.bath.material, row.amount)} went into {self.bath.name}.")
        return self.back


class BathCountForm(StudioForm):
    really_there = QuantityField(
        dimension="mass", widget=Typed(), least=0, label="What is really in it?",
        help_text="Weigh the chamber and take off its own weight.",
    )  # fmt: skip
    at = MomentField(label="When was it weighed?")


class BathCount(BathDeed):
    right, asks, form_class, button = "count", "Count", BathCountForm, "That is what is there"

    def do(self, data: dict[str, Any]) -> str:
        row = operations.count_bath(
            bath=self.bath, really_there=data["really_there"], at=moment_or_now(data["at"], self.now), **self.stamp
        )
        less = row.was_amount - row.counted_amount
        self.say(
            f"{self.bath.name} holds {said(self.bath.material, row.counted_amount)}."
            + (f" {amount_words(self.bath.material, less)} went in drips and vapour." if less > 0 else "")
        )
        return self.back


class ThrowAwayForm(StudioForm):
    why = forms.ChoiceField(choices=WhyGone.choices, widget=forms.RadioSelect, label="Why?")
    amount = QuantityField(
        dimension="mass", required=False, widget=Typed(), label="How much of it?",
        help_text="Leave it empty for all that is in it.",
    )  # fmt: skip
    note = forms.CharField(max_length=300, required=False, label="In words")
    at = MomentField(label="When was that?")


class BathThrowAway(BathDeed):
    asks, form_class, button = "Throw away from", ThrowAwayForm, "It is gone"

    def do(self, data: dict[str, Any]) -> str:
        data["at"] = moment_or_now(data["at"], self.now)
        row = operations.throw_away_bath(bath=self.bath, **data, **self.stamp)
        self.say(f"{amount_words(self.bath.material, row.amount)} of {self.bath.name} are off the books.")
        return self.back


class TellForm(StudioForm):
    catalysed_on = DayField(required=False, label="When did the catalyst go in?")
    keeps_s = QuantityField(
        dimension="duration", unit="days", required=False, least=86_400, widget=Typed(letters=True),
        label="How long does it keep then, in days?", help_text="By the resin's sheet. Past it you are asked first.",
    )  # fmt: skip
    dyed = forms.BooleanField(required=False, label="It is dyed")


class BathTell(BathDeed):
    asks, form_class, button = "Catalyst and dye of", TellForm, "Keep it"

    def initial(self) -> dict[str, Any]:
        return {name: getattr(self.bath, name) for name in ("catalysed_on", "keeps_s", "dyed")}

    def do(self, data: dict[str, Any]) -> str:
        row = operations.tell_of_bath(bath=self.bath, **data, at=self.now, by=self.by)
        until = row.good_until
        kept = f" Its resin keeps until {until.day} {until:%B %Y}." if until else ""
        self.say(f"It is kept for {row.name}.{kept}")
        return self.back


class BathClose(BathDeed):
    asks, button = "Close", "It is closed"

    def do(self, data: dict[str, Any]) -> str:
        operations.close_bath(bath=self.bath, at=self.now, by=self.by)
        self.say(f"{self.bath.name} is closed.")
        return reverse("stores")


urlpatterns = [
    path("stores/bath/new/", BathAdd.as_view(), name="bath_add"),
    path("stores/bath/<int:pk>/", BathPage.as_view(), name="bath"),
    path("stores/bath/<int:pk>/fill/", BathFill.as_view(), name="bath_fill"),
    path("stores/bath/<int:pk>/count/", BathCount.as_view(), name="bath_count"),
    path("stores/bath/<int:pk>/throw-away/", BathThrowAway.as_view(), name="bath_throw_away"),
    path("stores/bath/<int:pk>/tell/", BathTell.as_view(), name="bath_tell"),
    path("stores/bath/<int:pk>/close/", BathClose.as_view(), name="bath_close"),
]
