"""Commissions: asked, agreed, a deposit, wood set aside, handed over, called off."""

from typing import Any

from django import forms
from django.db.models import Case, Q, When
from django.http import Http404
from django.urls import path, reverse

from studio.commissions import operations
from studio.commissions.models import Commission
from studio.commissions.trail import deposit_held
from studio.fields.errors import Refused
from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.web.deeds import Deed
from studio.web.forms import DayField, StudioForm, Typed
from studio.web.screens.commissions import commission_or_404
from studio.web.screens.contacts_base import ClientFields, client_of
from studio.web.screens.pieces_base import Nothing, form_choices, wood_words
from studio.web.screens.stores_change import ChangeDeed
from studio.work import queries as work
from studio.work.models import Stage, Workpiece
from studio.work.queries.tags import why_absent

WANTED = "As you would tell it at the bench: what, how large, which wood, which colour."

OFFERED = 40


class WantedForm(StudioForm):
    wanted = forms.CharField(
        max_length=2000, label="What is wanted?", help_text=WANTED, widget=forms.Textarea(attrs={"rows": 4})
    )
    form = forms.ChoiceField(required=False, label="What form?")
    by_on = DayField(required=False, label="By when?")
    price = QuantityField(
        dimension="money",
        required=False,
        label="For how much?",
        widget=Typed(),
        help_text="Before tax. It can be agreed later.",
    )
    deposit = QuantityField(dimension="money", required=False, label="What deposit do you ask?", widget=Typed())

    def __init__(self, *args: Any, form_now: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["form"].choices = form_choices(form_now)  # type: ignore[attr-defined]


class AskForm(ClientFields, WantedForm):
    note = forms.CharField(max_length=1000, required=False, label="A note", widget=forms.Textarea(attrs={"rows": 2}))
    fieldsets = (
        ("Who asks?", ("client", "new_client")),
        ("What", ("wanted", "form")),
        ("As far as it is known", ("by_on", "price", "deposit", "note")),
    )


class CommissionAdd(Deed):
    right, section, form_class = "commissions", "commissions", AskForm
    heading, button = "Somebody asks for a piece", "Note it down"

    def find(self) -> None:
        self.back = reverse("commissions")

    def form_kwargs(self) -> dict[str, Any]:
        return {"user": self.by}

    def initial(self) -> dict[str, Any]:
        asked = self.request.GET.get("client", "")
        return {"client": int(asked)} if asked.isdecimal() and len(asked) < 16 else {}

    def do(self, data: dict[str, Any]) -> str:
        client = client_of(data, by=self.by, at=self.now, needed=True)
        assert client is not None
        row = operations.ask(
            client=client,
            wanted=data["wanted"],
            form=data["form"],
            by_on=data["by_on"],
            price_micro=data["price"],
            deposit_asked_micro=data["deposit"] or 0,
            note=data["note"],
            at=self.now,
            by=self.by,
            now=self.now,
        )
        self.say(f"Commission {row.number} for {client} is noted down.")
        return reverse("commission", args=[row.pk])


class AtCommission(Deed):
    right, section = "commissions", "commissions"
    order: Commission

    def find(self, pk: int) -> None:
        self.order = commission_or_404(pk)
        self.back = self.home

    @property
    def home(self) -> str:
        return reverse("commission", args=[self.order.pk])

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": f"Commission {self.order.number}, {self.order.client}"}


class AgreeForm(StudioForm):
    price = QuantityField(dimension="money", label="For how much?", help_text="Before tax.", widget=Typed())
    by_on = DayField(label="By which day?")
    deposit = QuantityField(dimension="money", required=False, label="What deposit do you ask?", widget=Typed())
    at = MomentField(label="When was it agreed?")


class Agree(AtCommission):
    form_class, heading, button = AgreeForm, "Agree on price and day", "That is agreed"

    def initial(self) -> dict[str, Any]:
        order = self.order
        return {"price": order.price_micro, "by_on": order.by_on, "deposit": order.deposit_asked_micro or None}

    def do(self, data: dict[str, Any]) -> str:
        row = operations.agree(
            commission=self.order,
            price_micro=data["price"],
            by_on=data["by_on"],
            deposit_asked_micro=data["deposit"] or 0,
            at=moment_or_now(data["at"], self.now),
            by=self.by,
            now=self.now,
        )
        self.say(f"Agreed: {show(data['price'], 'money', with_unit=True)}, by {row.by_on:%d %B %Y}.")
        return self.home


class ChangeForm(WantedForm):
    why = forms.CharField(max_length=300, required=False, label="Why is it changed?")


class Change(ChangeDeed, AtCommission):
    form_class, heading, button = ChangeForm, "Change what was agreed", "That holds now"

    def form_kwargs(self) -> dict[str, Any]:
        return {"form_now": self.order.form}

    def initial(self) -> dict[str, Any]:
        order = self.order
        return {
            "wanted": order.wanted,
            "form": order.form,
            "by_on": order.by_on.isoformat() if order.by_on else None,
            "price": order.price_micro,
            "deposit": order.deposit_asked_micro or None,
        }

    def do(self, data: dict[str, Any]) -> str:
        operations.change(
            commission=self.order,
            wanted=data["wanted"],
            form=data["form"],
            by_on=data["by_on"],
            price_micro=data["price"],
            deposit_asked_micro=data["deposit"] or 0,
            why=data["why"],
            at=self.now,
            by=self.by,
            now=self.now,
        )
        self.say(f"Commission {self.order.number} is changed. What was before stands in its trail.")
        return self.home


class DepositForm(StudioForm):
    amount = QuantityField(dimension="money", label="How much?", widget=Typed())
    at = MomentField(label="When was it paid?")


class Deposit(AtCommission):
    right, form_class, heading, button = "sell", DepositForm, "Take a deposit", "The money is in"

    def initial(self) -> dict[str, Any]:
        left = self.order.deposit_asked_micro - deposit_held(self.order)
        return {"amount": left} if left > 0 else {}

    def context(self, form: StudioForm) -> dict[str, Any]:
        said = "It stays the client’s money until the piece is handed over."
        return {"sub": f"{super().context(form)['sub']}. {said}"}

    def do(self, data: dict[str, Any]) -> str:
        operations.take_deposit(
            commission=self.order, amount_micro=data["amount"], at=moment_or_now(data["at"], self.now), **self.stamp
        )
        self.say(f"A deposit of {show(data['amount'], 'money', with_unit=True)} is held for {self.order.client}.")
        return self.home


class BackForm(DepositForm):
    why = forms.CharField(max_length=300, required=False, label="Why?")


class DepositBack(AtCommission):
    right, form_class, heading, button = "sell", BackForm, "Give deposit back", "It is given back"

    def do(self, data: dict[str, Any]) -> str:
        operations.give_deposit_back(
            commission=self.order,
            amount_micro=data["amount"],
            why=data["why"],
            at=moment_or_now(data["at"], self.now),
            **self.stamp,
        )
        self.say(f"{show(data['amount'], 'money', with_unit=True)} went back to {self.order.client}.")
        return self.home


class ReserveForm(StudioForm):
    workpieces = forms.ModelMultipleChoiceField(
        queryset=Workpiece.objects.none(), required=False, label="What could become it",
        widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip
    number = forms.CharField(
        max_length=400, required=False, label="Or by number", help_text="As pencilled on the wood: 41/3, 42/1.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip

    def __init__(self, *args: Any, free: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["workpieces"]
        field.queryset, field.label_from_instance = free, _bench_line
        if not self.is_bound and not free.exists():
            del self.fields["workpieces"]


def _bench_line(row: Workpiece) -> str:
    """`41/3, blank, oak burr, bowl`: enough to know it again."""
    words = (row.number, str(row.get_stage_display()).lower(), wood_words(row), row.title or row.form)
    return ", ".join(word for word in words if word)


class Reserve(AtCommission):
    """Ticked, those of its form first; or by number, as they are pencilled on the wood."""

    form_class, heading, button = ReserveForm, "Set wood aside", "It is set aside"

    def find(self, pk: int) -> None:
        super().find(pk)
        free = work.on_the_bench().filter(hold_ref="", client_owned=False).exclude(stage=Stage.LUMP)
        wanted = Q(form=self.order.form) if self.order.form else Q(pk__in=[])
        nearest = free.annotate(near=Case(When(wanted, then=0), default=1)).order_by("near", "sort_key")
        self.free = nearest.filter(pk__in=list(nearest.values_list("pk", flat=True)[:OFFERED]))

    def form_kwargs(self) -> dict[str, Any]:
        return {"free": self.free}

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": f"{super().context(form)['sub']}: {self.order.wanted.splitlines()[0]}"}

    def do(self, data: dict[str, Any]) -> str:
        wanted = list(dict.fromkeys(filter(None, (word.strip() for word in data["number"].split(",")))))
        named_rows = {row.number: row for row in Workpiece.objects.filter(number__in=wanted)}
        missing = [number for number in wanted if number not in named_rows]
        if missing:
            raise Refused(" ".join(why_absent(missing)), field="number")
        rows = {row.pk: row for row in [*data.get("workpieces", ()), *named_rows.values()]}
        if not rows:
            raise Refused("Tick what is set aside, or write its number.", field="number")
        operations.reserve(
            commission=self.order, workpieces=list(rows.values()), at=self.now, by=self.by, now=self.now
        )
        words = ", ".join(row.number for row in rows.values())
        self.say(f"{words} {'is' if len(rows) == 1 else 'are'} kept for commission {self.order.number}.")
        return self.home


class LetGo(AtCommission):
    form_class, button = Nothing, "Let it go"

    def find(self, pk: int, workpiece: int) -> None:  # type: ignore[override]
        super().find(pk)
        found = work.workpiece(workpiece)
        if found is None:
            raise Http404("There is no such workpiece.")
        self.workpiece = found
        self.heading = f"Let {found.number} go?"

    def do(self, data: dict[str, Any]) -> str:
        operations.let_go_workpiece(
            commission=self.order, workpiece=self.workpiece, at=self.now, by=self.by, now=self.now
        )
        self.say(f"{self.workpiece.number} is free again.")
        return self.home


urlpatterns = [
    path("commissions/new/", CommissionAdd.as_view(), name="commission_add"),
    path("commissions/<int:pk>/agree/", Agree.as_view(), name="commission_agree"),
    path("commissions/<int:pk>/change/", Change.as_view(), name="commission_change"),
    path("commissions/<int:pk>/deposit/", Deposit.as_view(), name="commission_deposit"),
    path("commissions/<int:pk>/deposit-back/", DepositBack.as_view(), name="commission_deposit_back"),
    path("commissions/<int:pk>/set-aside/", Reserve.as_view(), name="commission_reserve"),
    path("commissions/<int:pk>/let-go/<int:workpiece>/", LetGo.as_view(), name="commission_let_go"),
]
