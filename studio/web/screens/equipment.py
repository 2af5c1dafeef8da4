"""Machines: what there is, what they do now, what an hour of them costs; adding, changing and retiring them."""

from collections import defaultdict
from typing import Any

from django import forms
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone

from studio.craft.rounding import divide
from studio.equipment import operations, queries, upkeep
from studio.equipment.models import Known, Machine, MachineKind
from studio.equipment.rates import USUAL_DUTY_PPM
from studio.fields.forms import QuantityField
from studio.fields.quantity import show
from studio.people import roles
from studio.people import settings as answers
from studio.web.deeds import Deed, Reading
from studio.web.forms import StudioForm, Typed
from studio.web.screens.stores_change import ChangeDeed
from studio.work.queries.tags import by_account

INSIDE = ("inside_width_um", "inside_depth_um", "inside_height_um")
ROUND = ("inside_diameter_um", "inside_height_um")
POWER = ("power_w", "duty_ppm")
WEAR = ("price_micro", "life_s")
MINUTE_S, ML_MM3 = 60, 1000
PLATE = ("certified_pa", "relief_pa", "unaltered", "last_inspected_on", "inspect_by")
RUNS = ("highest_mdegc", "delivery_mm3_s", "highest_rpm", *POWER)
ASKED: dict[str, tuple[str, ...]] = {
    MachineKind.OVEN: (*INSIDE, "highest_mdegc", *POWER, *WEAR),
    MachineKind.VACUUM_CHAMBER: (*ROUND, *POWER, *WEAR),
    MachineKind.PRESSURE_POT: (*PLATE, *ROUND, *WEAR),
    MachineKind.LATHE: ("highest_rpm", *POWER, *WEAR),
    MachineKind.COMPRESSOR: (*PLATE, "delivery_mm3_s", *POWER, *WEAR),
    MachineKind.SCALE: ("step_mg", *WEAR),
    MachineKind.OTHER: (*INSIDE, "highest_mdegc", *POWER, *WEAR),
}


def the_machine(pk: int) -> Machine:
    found = Machine.objects.filter(pk=pk).first()
    if found is None:
        raise Http404
    return found


class Equipment(Reading):
    def get(self, request: HttpRequest) -> HttpResponse:
        retired = bool(request.GET.get("retired"))
        rows = queries.machines(retired=retired)
        costs = roles.allowed(request.user, "see_costs")
        on = answers.local_date(timezone.now())
        hourly = queries.hourly_costs([row.machine for row in rows], on) if costs else {}
        by_kind: dict[str, list[dict[str, Any]]] = defaultdict(list)
        for row in rows:
            pot = row.machine.kind == MachineKind.PRESSURE_POT and row.machine.retired_on is None
            refusals = queries.pressure_advice(row.machine, on).refusals if pot else ()
            by_kind[row.machine.kind].append(
                {"row": row, "machine": row.machine, "hour": hourly.get(row.machine.pk), "refusals": refusals}
            )
        context = {
            "kinds": [(kind.label, by_kind[kind]) for kind in MachineKind if by_kind.get(kind)],
            "costs": costs,
            "retired": retired,
            "may": {right: roles.allowed(request.user, right) for right in ("equipment", "bench")},
            "section": "stores",
        }
        return render(request, "equipment/equipment.html", context)


class MachinePage(Reading):
    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        machine, costs = the_machine(pk), roles.allowed(request.user, "see_costs")
        on = answers.local_date(timezone.now())
        page = Paginator(queries.diary(machine), 25).get_page(request.GET.get("page"))
        loads = list(page.object_list)
        pieces = by_account(place.account_id for load in loads for place in load.places.all())
        context = {
            "machine": machine,
            "running": next((load for load in queries.running_loads() if load.machine_id == pk), None),
            "page": page,
            "loads": [
                {"load": load, "pieces": [pieces[p.account_id] for p in load.places.all() if p.account_id in pieces]}
                for load in loads
            ],
            "hour": queries.hourly(machine, on) if costs else None,
            "advice": queries.pressure_advice(machine, on) if machine.kind == MachineKind.PRESSURE_POT else None,
            "cautions": queries.cautions(machine),
            "wants": wants(machine),
            "air": show(per_minute(machine.delivery_mm3_s), "volume", unit="l") if machine.delivery_mm3_s else "",
            "asks_power": "power_w" in ASKED[machine.kind],
            "usual_duty": machine.duty_ppm == USUAL_DUTY_PPM[machine.kind],
            "costs": costs,
            "may": {right: roles.allowed(request.user, right) for right in ("equipment", "bench")},
            "section": "stores",
        }
        return render(request, "equipment/machine.html", context)


def wants(machine: Machine) -> list[str]:
    """What its diary asks for now, in its own words; nothing of a machine out of use. One query."""
    if machine.retired_on is not None:
        return []
    return [row.upkeep.what for row in upkeep.upkeep_rows(timezone.now(), machine) if row.due.now]


def _length(label: str, help_text: str = "") -> QuantityField:
    return QuantityField(
        dimension="length", required=False, widget=Typed(letters=True), label=label, help_text=help_text
    )


class DeliveryField(QuantityField):
    """Air in a minute as the plate says it; kept by the second."""

    def __init__(self) -> None:
        super().__init__(
            dimension="volume", unit="l", required=False, widget=Typed(letters=True),
            label="How much free air does it deliver in a minute?",
            help_text="Litres; the plate says it for a pressure near your pot's. Cubic feet: 3.5 ft³.",
        )  # fmt: skip

    def prepare_value(self, value: Any) -> Any:
        return super().prepare_value(per_minute(value) if isinstance(value, int) else value)

    def clean(self, value: Any) -> int | None:
        found = super().clean(value)
        return None if found is None else divide(found, MINUTE_S)


def per_minute(mm3_s: int) -> int:
    """What a compressor delivers in a minute, to the millilitre: a second's worth was rounded."""
    return divide(mm3_s * MINUTE_S, ML_MM3) * ML_MM3


class MachineForm(StudioForm):
    """Everything but the name may be left open. Only what concerns the kind of machine is asked."""

    name = forms.CharField(max_length=120, label="What do you call it?", help_text="Such as the small pot.")
    certified_pa = QuantityField(
        dimension="pressure", required=False, widget=Typed(letters=True),
        label="What pressure does its plate certify?",
        help_text="The highest working pressure stamped on it. Without it the pot takes no load.",
    )  # fmt: skip
    relief_pa = QuantityField(
        dimension="pressure", required=False, widget=Typed(letters=True), label="Where does its relief valve open?",
        help_text="Stamped on the valve. Without a valve the pot takes no load.",
    )  # fmt: skip
    unaltered = forms.ChoiceField(
        choices=Known.choices, widget=forms.RadioSelect, required=False, initial=Known.UNKNOWN,
        label="Is it as it left its maker?",
        help_text="No hole drilled, nothing welded, no valve or clamp changed for another kind.",
    )  # fmt: skip
    last_inspected_on = forms.DateField(
        required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), label="Last inspected on"
    )
    inspect_by = forms.DateField(
        required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"), label="Inspect again by"
    )
    inside_width_um = _length("How wide is it inside?")
    inside_depth_um = _length("How deep is it inside?")
    inside_diameter_um = _length("How wide across inside?", "At its narrowest, the mouth too: moulds go in there.")
    inside_height_um = _length("How high is it inside?")
    highest_mdegc = QuantityField(
        dimension="temperature", required=False, widget=Typed(), label="How hot does it go?",
        help_text="The highest it can be set to.",
    )  # fmt: skip
    delivery_mm3_s = DeliveryField()
    highest_rpm = QuantityField(
        dimension="whole", required=False, widget=Typed(), label="How fast does it turn at most?",
        help_text="Revolutions a minute, from its plate. No lathe card allows more.",
    )  # fmt: skip
    power_w = QuantityField(
        dimension="power", required=False, widget=Typed(letters=True), label="What power does its plate say?",
        help_text="In watts.",
    )  # fmt: skip
    duty_ppm = QuantityField(
        dimension="share", widget=Typed(), label="How much of that does it draw over an hour?",
        help_text="Percent. A thermostat holds an oven with about a third; common practice, no source. Change it "
        "once you have measured.",
    )  # fmt: skip
    step_mg = QuantityField(
        dimension="mass", required=False, widget=Typed(), label="What is the smallest step it shows?"
    )
    price_micro = QuantityField(dimension="money", required=False, widget=Typed(), label="What did it cost?")
    life_s = QuantityField(
        dimension="duration", unit="h", required=False, widget=Typed(), label="How many hours will it last?",
        help_text="A guess is good enough: its price over these hours is its wear.",
    )  # fmt: skip
    note = forms.CharField(max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 3}), label="A note")
    fieldsets = (
        ("", ("name",)),
        ("What its plate says", (*PLATE, *RUNS, "step_mg")),
        ("Inside", ("inside_width_um", "inside_depth_um", "inside_diameter_um", "inside_height_um")),
        ("What it costs", WEAR),
        ("If you like", ("note",)),
    )

    def __init__(self, *args: Any, kind: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        asked = {"name", "note", *ASKED[kind]}
        for name in [name for name in self.fields if name not in asked]:
            del self.fields[name]


class MachineAdd(Deed):
    """First the kind (`?kind=`), then what concerns it."""

    right, section, form_class, button = "equipment", "stores", MachineForm, "Keep it"
    template_name = "equipment/machine_add.html"

    def find(self, **kwargs: Any) -> None:
        asked = self.request.GET.get("kind", "")
        self.kind = MachineKind(asked) if asked in MachineKind.values else None
        self.back = reverse("machine_add") if self.kind else reverse("equipment")
        self.heading = f"A new {self.kind.label}" if self.kind else "What kind of machine is it?"

    def form_kwargs(self) -> dict[str, Any]:
        return {"kind": self.kind or MachineKind.OTHER}

    def initial(self) -> dict[str, Any]:
        return {"duty_ppm": USUAL_DUTY_PPM[self.kind]} if self.kind else {}

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"kind": self.kind, "kinds": [] if self.kind else MachineKind.choices}

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        return super().post(request, **kwargs) if self.kind else self.get(request, **kwargs)

    def do(self, data: dict[str, Any]) -> str:
        assert self.kind is not None
        row = operations.add_machine(kind=self.kind, by=self.by, at=self.now, **data)
        self.say(f"{row.name} is there.")
        return reverse("machine", args=[row.pk])


class MachineChange(ChangeDeed):
    right, section, form_class, button = "equipment", "stores", MachineForm, "Keep it so"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        self.machine = the_machine(pk)
        self.heading, self.back = f"Change {self.machine.name}", reverse("machine", args=[pk])

    def form_kwargs(self) -> dict[str, Any]:
        return {"kind": self.machine.kind}

    def initial(self) -> dict[str, Any]:
        return {name: getattr(self.machine, name) for name in ("name", "note", *ASKED[self.machine.kind])}

    def do(self, data: dict[str, Any]) -> str:
        row = operations.change_machine(machine=self.machine, by=self.by, at=self.now, **data)
        self.say(f"{row.name} is as you wrote. Loads that have ended keep what they cost.")
        return self.back


class RetireForm(StudioForm):
    on = forms.DateField(
        required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        label="From which day?", help_text="Leave it empty for today.",
    )  # fmt: skip


class MachineRetire(Deed):
    right, section, form_class, button = "equipment", "stores", RetireForm, "It is out of use"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        self.machine = the_machine(pk)
        self.heading, self.back = f"Retire {self.machine.name}", reverse("machine", args=[pk])

    def do(self, data: dict[str, Any]) -> str:
        on = data["on"] or answers.local_date(self.now)
        operations.retire_machine(machine=self.machine, on=on, by=self.by, at=self.now)
        self.say(f"{self.machine.name} is out of use. Its diary stays.")
        return reverse("equipment")


class MachineBack(Deed):
    right, section, button = "equipment", "stores", "Use it again"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        self.machine = the_machine(pk)
        self.heading, self.back = f"Bring back {self.machine.name}", reverse("machine", args=[pk])

    def do(self, data: dict[str, Any]) -> str:
        operations.bring_back_machine(machine=self.machine, by=self.by)
        self.say(f"{self.machine.name} is in use again.")
        return self.back


urlpatterns = [
    path("equipment/", Equipment.as_view(), name="equipment"),
    path("equipment/new/", MachineAdd.as_view(), name="machine_add"),
    path("equipment/<int:pk>/", MachinePage.as_view(), name="machine"),
    path("equipment/<int:pk>/change/", MachineChange.as_view(), name="machine_change"),
    path("equipment/<int:pk>/retire/", MachineRetire.as_view(), name="machine_retire"),
    path("equipment/<int:pk>/bring-back/", MachineBack.as_view(), name="machine_bring_back"),
]
