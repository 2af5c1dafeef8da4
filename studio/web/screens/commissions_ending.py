"""Commissions: handed over, taken back, or called off."""

from typing import Any

from django import forms
from django.urls import path

from studio.commissions import operations
from studio.commissions.trail import deposit_held
from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.pieces.models import Piece
from studio.web.forms import StudioForm, Typed
from studio.web.screens.commissions_deeds import AtCommission
from studio.web.screens.pieces_base import named
from studio.web.screens.sales import PAID


class DeliverForm(StudioForm):
    piece = forms.ModelChoiceField(
        queryset=Piece.objects.none(), label="Which piece is it?", widget=forms.RadioSelect, empty_label=None
    )
    paid = forms.ChoiceField(choices=PAID, initial="cash", label="How is the rest paid?", widget=forms.RadioSelect)
    tax = QuantityField(
        dimension="money",
        required=False,
        label="Sales tax",
        widget=Typed(),
        help_text="Left empty, as you have settled it.",
    )
    other_cost = QuantityField(
        dimension="money", required=False, label="What did handing it over cost?", widget=Typed()
    )
    at = MomentField()
    fieldsets = (("", ("piece", "paid")), ("If it matters", ("tax", "other_cost", "at")))

    def __init__(self, *args: Any, pieces: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["piece"]
        field.queryset, field.label_from_instance = pieces, named


class Deliver(AtCommission):
    right, form_class, heading, button = "sell", DeliverForm, "Hand it over", "It is handed over"
    template_name = "commissions/deliver.html"

    def find(self, pk: int) -> None:
        super().find(pk)
        self.pieces = (
            Piece.objects.in_the_shop()
            .finished()
            .filter(workpiece__hold_ref=self.order.ref)
            .select_related("workpiece")
            .order_by("workpiece__sort_key")
        )

    def form_kwargs(self) -> dict[str, Any]:
        return {"pieces": self.pieces}

    def initial(self) -> dict[str, Any]:
        first = self.pieces.first()
        return {"piece": first.pk if first else None, "paid": "cash"}

    def context(self, form: StudioForm) -> dict[str, Any]:
        held = deposit_held(self.order)
        price = self.order.price_micro
        return {
            **super().context(form),
            "order": self.order,
            "any": self.pieces.exists(),
            "deposit_micro": held,
            "rest_micro": None if price is None else price - held,
        }

    def do(self, data: dict[str, Any]) -> str:
        row = operations.deliver(
            commission=self.order,
            piece=data["piece"],
            paid_now=data["paid"] != "later",
            card=data["paid"] == "card",
            tax_micro=data["tax"],
            other_cost_micro=data["other_cost"] or 0,
            at=moment_or_now(data["at"], self.now),
            **self.stamp,
        )
        self.say(f"Commission {row.number} is delivered: {named(data['piece'])}.")
        return self.home


class WhyForm(StudioForm):
    why = forms.CharField(max_length=200, label="Why?")
    at = MomentField()


class DeliveryBack(AtCommission):
    right, form_class, heading, button = "sell", WhyForm, "Take the delivery back", "It is ours again"

    def do(self, data: dict[str, Any]) -> str:
        operations.take_back_delivery(
            commission=self.order, why=data["why"], at=moment_or_now(data["at"], self.now), **self.stamp
        )
        self.say(f"Commission {self.order.number} is open again, and its deposit is held again.")
        return self.home


class CallOffForm(StudioForm):
    why = forms.CharField(max_length=200, label="Why is it called off?")
    give_back = QuantityField(
        dimension="money", least=0, required=False, label="How much of the deposit goes back?", widget=Typed(),
        help_text="The rest is kept, as you agreed.",
    )  # fmt: skip


class CallOff(AtCommission):
    form_class, heading, button = CallOffForm, "Call it off", "It is called off"

    def find(self, pk: int) -> None:
        super().find(pk)
        self.deposit = deposit_held(self.order)

    def context(self, form: StudioForm) -> dict[str, Any]:
        if not self.deposit and "give_back" in form.fields:
            del form.fields["give_back"]
        held = f". {show(self.deposit, 'money', with_unit=True)} of theirs is held" if self.deposit else ""
        return {"sub": f"{super().context(form)['sub']}{held}."}

    def do(self, data: dict[str, Any]) -> str:
        operations.call_off(
            commission=self.order,
            why=data["why"],
            give_back_micro=data.get("give_back"),
            at=self.now,
            **self.stamp,
        )
        self.say(f"Commission {self.order.number} is called off. What was set aside is free again.")
        return self.home


urlpatterns = [
    path("commissions/<int:pk>/deliver/", Deliver.as_view(), name="commission_deliver"),
    path("commissions/<int:pk>/delivery-back/", DeliveryBack.as_view(), name="commission_delivery_back"),
    path("commissions/<int:pk>/call-off/", CallOff.as_view(), name="commission_call_off"),
]
