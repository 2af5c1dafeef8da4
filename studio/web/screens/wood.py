"""Wood: the lumps and what became of them, and taking them in."""

from typing import Any

import django_tables2 as tables
from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import include, path, reverse
from django_tables2 import RequestConfig

from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.people import operations as people
from studio.people import queries as people_queries
from studio.people.roles import allowed
from studio.web import links
from studio.web.deeds import Deed, Reading
from studio.web.forms import StudioForm, Typed
from studio.web.saying import in_words
from studio.web.screens.bench import PER_PAGE, TEXT_LIMIT, key, wood_words
from studio.web.screens.bench_base import Chips, SoldDryField
from studio.web.screens.photographs import PhotographForm
from studio.web.templatetags.studio import NOTHING, tag
from studio.wood import operations as wood
from studio.wood import queries as wood_queries
from studio.wood.kinds import WoodKind
from studio.wood.models import How, Waxed
from studio.work import operations as work
from studio.work import queries
from studio.work.models import ClosedAs, Workpiece
from studio.work.numbering import next_lump_number

MOST_MG = 10**11
RIGHT = {"th": {"class": "n"}, "td": {"class": "n"}}
STANDS = [("whole", "still whole"), ("begun", "begun"), ("gone", "gone")]


class LumpTable(tables.Table):
    number = tables.Column(verbose_name="Lump", order_by="sort_key")
    wood = tables.Column(verbose_name="Wood", empty_values=(), order_by="species__name_search", accessor="species")
    stood = tables.Column(verbose_name="Where it stood", accessor="purchase__where_it_stood", default=NOTHING)
    mass_mg = tables.Column(verbose_name="Weighed last", attrs=RIGHT)
    became = tables.Column(verbose_name="What became of it", empty_values=(), orderable=False)
    lies_micro = tables.Column(verbose_name="Lies in it", attrs=RIGHT)

    class Meta:
        template_name = "parts/table.html"
        empty_text = ""

    def render_number(self, record: Workpiece) -> str:
        return tag(record.number, links.to("workpiece", record.pk), label="lump")

    def render_wood(self, record: Workpiece) -> str:
        words = wood_words(record) or "not named yet"
        return f"{words}, the client’s" if record.client_owned else words

    def render_mass_mg(self, value: int) -> str:
        return show(value, "mass")

    def render_became(self, record: Any) -> str:
        if not record.cut_off:
            return "whole" if record.closed_at is None else str(record.get_closed_as_display())
        cut, left = record.cut_off, record.left
        blanks = f"{in_words(cut)} blank{'s' if cut != 1 else ''}"
        lies = "all still here" if left == cut else f"{in_words(left)} still here" if left else "none left"
        begun = ", and the rest" if record.closed_at is None else ""
        ended = "" if record.closed_as in ("", ClosedAs.CUT) else f", the rest {record.get_closed_as_display()}"
        return f"{blanks}{begun}: {lies}{ended}"

    def render_lies_micro(self, value: int) -> str:
        return show(value, "money")


class Wood(Reading):
    def get(self, request: HttpRequest) -> HttpResponse:
        costs = allowed(request.user, "see_costs")
        asked: dict[str, Any] = {
            "text": request.GET.get("q", "")[:TEXT_LIMIT],
            "species_id": key(request.GET.get("species", "")),
            "kind": request.GET.get("kind", ""),
            "stands": request.GET.get("stands", ""),
            "rest_waits": request.GET.get("rest") == "waits",
        }
        table = LumpTable(queries.lumps(costs=costs, **asked), exclude=() if costs else ("lies_micro",))
        RequestConfig(request, paginate={"per_page": PER_PAGE, "silent": True}).configure(table)
        context = {
            "section": "wood",
            "table": table,
            "asked": asked,
            "filtered": any(asked.values()),
            "woods": wood_queries.species_list(),
            "kinds": WoodKind.choices,
            "stands": STANDS,
            "may_wood": allowed(request.user, "wood"),
        }
        return render(request, "wood/list.html", context)


class TakeInForm(PhotographForm):
    fieldsets = (
        ("", ("number", "photo", "mass", "how", "paid")),
        (
            "More, if it is known already",
            ("market_value", "carriage", "species", "kind", "where_it_stood", "waxed", "sold_dry", "title", "at"),
        ),
    )
    number = forms.CharField(max_length=60, label="Number", help_text="Pencil it on the wood.")
    mass = QuantityField(
        dimension="mass", least=1, most=MOST_MG, required=False, label="It weighs", widget=Typed(letters=True)
    )
    how = forms.ChoiceField(choices=How.choices, label="How it came", widget=Chips)
    paid = QuantityField(dimension="money", required=False, label="What was paid?", widget=Typed())
    market_value = QuantityField(
        dimension="money",
        required=False,
        label="What would it have cost?",
        help_text="Only for wood bartered, given or found.",
        widget=Typed(),
    )
    carriage = QuantityField(dimension="money", required=False, label="Carriage", widget=Typed())
    species = forms.ChoiceField(required=False, label="Which wood?")
    kind = forms.ChoiceField(
        required=False, choices=[("", "not said"), *WoodKind.choices], label="Burr, root or what it is"
    )
    where_it_stood = forms.CharField(required=False, max_length=200, label="Where it stood")
    waxed = forms.ChoiceField(choices=Waxed.choices, required=False, label="Waxed?")
    sold_dry = SoldDryField()
    title = forms.CharField(required=False, max_length=200, label="A name for it")
    at = MomentField(label="When it came in")

    def __init__(self, *args: Any, woods: list[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.woods = {str(row.pk): row for row in woods}
        self.fields["species"].choices = [("", "not known yet"), *((pk, str(row)) for pk, row in self.woods.items())]  # type: ignore[attr-defined]

    def asked_now(self) -> list[Any]:
        return [self[name] for name in self.fieldsets[0][1]]

    def folded(self) -> list[Any]:
        return [self[name] for name in self.fieldsets[1][1]]

    def questions(self) -> list[Any]:
        """What a refusal asked for, at the foot of the form."""
        named = {*self.fieldsets[0][1], *self.fieldsets[1][1], "photo_kept"}
        return [self[name] for name in self.fields if name not in named]

    def folded_wrong(self) -> bool:
        return any(self[name].errors for name in self.fieldsets[1][1])


class TakeIn(Deed):
    right, section = "wood", "wood"
    form_class = TakeInForm
    template_name = "wood/take_in.html"
    heading, button = "Take in wood", "Take it in"

    def find(self) -> None:
        self.back = reverse("wood")

    def form_kwargs(self) -> dict[str, Any]:
        return {"by": self.by, "woods": wood_queries.species_list()}

    def initial(self) -> dict[str, Any]:
        return {"number": next_lump_number(), "how": How.BOUGHT, "waxed": Waxed.UNKNOWN}

    def do(self, data: dict[str, Any]) -> str:
        at = moment_or_now(data["at"], self.now)
        species = next((row for row in wood_queries.species_list() if str(row.pk) == data["species"]), None)
        lump = work.take_in_lump(
            number=data["number"],
            mass_mg=data["mass"],
            paid_micro=data["paid"] or 0,
            carriage_micro=data["carriage"] or 0,
            how=data["how"],
            market_value_micro=data["market_value"] or 0,
            title=data["title"],
            species=species,
            kind=data["kind"],
            where_it_stood=data["where_it_stood"],
            waxed=data["waxed"] or Waxed.UNKNOWN,
            sold_dry=data["sold_dry"],
            at=at,
            **self.stamp,
        )
        if data["photo"] is not None and lump.purchase is not None:
            wood.add_picture(purchase=lump.purchase, picture=data["photo"], at=self.now, by=self.by)
        self.say(f"Lump {lump.number} is in. What else is known of it can wait for the desk.")
        return reverse("workpiece", args=[lump.pk])


class ClientsWoodForm(PhotographForm):
    client = forms.ChoiceField(required=False, label="Whose wood is it?")
    new_client = forms.CharField(required=False, max_length=120, label="Or somebody new")
    number = forms.CharField(max_length=60, label="Number", help_text="Pencil it on the wood.")
    mass = QuantityField(
        dimension="mass", least=1, most=MOST_MG, required=False, label="It weighs", widget=Typed(letters=True)
    )
    species = forms.ChoiceField(required=False, label="Which wood?")
    kind = forms.ChoiceField(
        required=False, choices=[("", "not said"), *WoodKind.choices], label="Burr, root or what it is"
    )
    title = forms.CharField(required=False, max_length=200, label="What they want made of it")
    at = MomentField(label="When it came in")

    def __init__(self, *args: Any, woods: list[Any], clients: list[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["species"].choices = [("", "not known yet"), *((str(row.pk), str(row)) for row in woods)]  # type: ignore[attr-defined]
        self.fields["client"].choices = [("", "choose"), *((str(row.pk), str(row)) for row in clients)]  # type: ignore[attr-defined]
        self.order_fields(["client", "new_client", "number", "photo"])

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if bool(data.get("client")) == bool(data.get("new_client")) and not self.has_error("client"):
            both = "Choose one of them or write somebody new, not both."
            self.add_error("client", both if data.get("client") else "Choose whose it is, or write a name below.")
        return data


class TakeInClients(Deed):
    right, section = "wood", "wood"
    form_class = ClientsWoodForm
    heading, button = "Take in a client’s own wood", "Take it in"

    def find(self) -> None:
        self.back = reverse("wood")

    def form_kwargs(self) -> dict[str, Any]:
        return {"by": self.by, "woods": wood_queries.species_list(), "clients": list(people_queries.clients())}

    def initial(self) -> dict[str, Any]:
        return {"number": next_lump_number()}

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": "It has no value in the books, and its offcuts go back."}

    def do(self, data: dict[str, Any]) -> str:
        owner = next((row for row in people_queries.clients() if str(row.pk) == data["client"]), None)
        if owner is None:
            owner = people.add_client(by=self.by, at=self.now, name=data["new_client"])
        lump = work.take_in_clients_wood(
            owner=owner,
            number=data["number"],
            mass_mg=data["mass"],
            species=next((row for row in wood_queries.species_list() if str(row.pk) == data["species"]), None),
            wood_kind=data["kind"],
            title=data["title"],
            at=moment_or_now(data["at"], self.now),
            by=self.by,
            now=self.now,
        )
        if data["photo"] is not None:
            work.add_picture(workpiece=lump, picture=data["photo"], at=self.now, by=self.by)
        self.say(f"Lump {lump.number} of {owner} is in.")
        return reverse("workpiece", args=[lump.pk])


urlpatterns = [
    path("wood/", Wood.as_view(), name="wood"),
    path("wood/take-in/", TakeIn.as_view(), name="wood_take_in"),
    path("wood/take-in/clients/", TakeInClients.as_view(), name="wood_take_in_client"),
    path("", include("studio.web.screens.wood_purchase")),
    path("", include("studio.web.screens.wood_species")),
]
