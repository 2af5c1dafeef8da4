"""A machine's diary: what it wants every so often, what is due, what was done and found."""

from datetime import datetime
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone

from studio.equipment import operations, queries, upkeep
from studio.equipment.models import Machine, MachineKind, Upkeep
from studio.equipment.operations.upkeep import LONGEST_S, MOST_RUN_S
from studio.equipment.upkeep import UpkeepRow
from studio.equipment.upkeep_usual import DAY_S, HOUR_S
from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.people import roles
from studio.web.deeds import Deed, Reading
from studio.web.forms import StudioForm, Typed
from studio.web.paging import paged
from studio.web.saying import day, local
from studio.web.screens.bench_base import Nothing
from studio.web.screens.equipment import the_machine
from studio.web.screens.stores_change import ChangeDeed


def rows_of(machine: Machine, now: datetime) -> list[dict[str, Any]]:
    """Each thing it wants with the sentence that says how it stands, what is due first. One query."""
    rows = upkeep.upkeep_rows(now, machine)
    rows.sort(key=lambda row: (not row.due.now, row.due.at is None, row.due.at or now, row.upkeep.pk))
    return [{"row": row, "stands": stands(row, now)} for row in rows]


def stands(row: UpkeepRow, now: datetime) -> str:
    """It is due, since 3 March · by 3 June, or after 40 h more."""
    by_day = row.due.at and day(local(row.due.at)[0], local(now)[0])
    if row.due.left_s == 0:
        return f"due: it ran {show(row.ran_s, 'duration', unit='h')}"
    if row.due.now:
        return f"due since {by_day}"
    left = "" if row.due.left_s is None else f"after {show(row.due.left_s, 'duration', unit='h')} more of running"
    return ", or ".join(word for word in (f"by {by_day}" if by_day else "", left) if word)


class Diary(Reading):
    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        machine, now = the_machine(pk), timezone.now()
        rows = rows_of(machine, now)
        in_use = machine.retired_on is None
        context = {
            "machine": machine,
            "rows": rows,
            "lacks": upkeep.begins_with(machine, [one["row"] for one in rows]),
            "done": paged(request, upkeep.done_at(machine), "done"),
            "cautions": queries.cautions(machine),
            "may": {right: in_use and roles.allowed(request.user, right) for right in ("equipment", "bench")},
            "section": "stores",
        }
        return render(request, "equipment/diary.html", context)


class _AtMachine(Deed):
    right, section = "equipment", "stores"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        self.machine = the_machine(pk)
        self.back = reverse("machine_diary", args=[pk])


class Begin(_AtMachine):
    form_class, button = Nothing, "Begin it"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        super().find(pk)
        self.heading = f"Begin the diary of {self.machine.name}"

    def context(self, form: StudioForm) -> dict[str, Any]:
        lacks = upkeep.begins_with(self.machine, upkeep.upkeep_rows(self.now, self.machine))
        return {"sub": f"It would ask for: {'; '.join(lacks).lower()}. Common practice: change what isn’t yours."}

    def do(self, data: dict[str, Any]) -> str:
        rows = operations.begin_diary(machine=self.machine, by=self.by, at=self.now)
        self.say(f"The diary of {self.machine.name} asks for {len(rows)} more. Change how often as you see fit.")
        return self.back


class WantForm(StudioForm):
    what = forms.CharField(max_length=120, label="What does it want?", help_text="Such as: grease the bearings.")
    every_s = QuantityField(
        dimension="duration", unit="days", required=False, least=DAY_S, most=LONGEST_S, widget=Typed(),
        label="Every how many days?", help_text="30 for once a month. Leave it empty where only hours count.",
    )  # fmt: skip
    run_s = QuantityField(
        dimension="duration", unit="h", required=False, least=HOUR_S, most=MOST_RUN_S, widget=Typed(),
        label="Or after how many hours of running?", help_text="Counted from its loads.",
    )  # fmt: skip

    def __init__(self, *args: Any, loads: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not loads:
            del self.fields["run_s"]
            self.fields["every_s"].help_text = "30 for once a month."


def counts_hours(machine: Machine) -> bool:
    """Only what takes loads says how long it ran."""
    return machine.kind not in (MachineKind.LATHE, MachineKind.COMPRESSOR, MachineKind.SCALE)


class Add(_AtMachine):
    form_class, button = WantForm, "Write it down"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        super().find(pk)
        self.heading = f"What else does {self.machine.name} want?"

    def form_kwargs(self) -> dict[str, Any]:
        return {"loads": counts_hours(self.machine)}

    def do(self, data: dict[str, Any]) -> str:
        row = operations.add_upkeep(machine=self.machine, by=self.by, at=self.now, **data)
        self.say(f"The diary of {self.machine.name} asks for it: {row.what}.")
        return self.back


def the_line(pk: int) -> Upkeep:
    found = upkeep.upkeep(pk)
    if found is None:
        raise Http404("There is no such line.")
    return found


class Change(ChangeDeed):
    right, section, form_class, button = "equipment", "stores", WantForm, "Keep it so"
    heading = "How often?"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        self.line = the_line(pk)
        self.back = reverse("machine_diary", args=[self.line.machine_id])

    def form_kwargs(self) -> dict[str, Any]:
        return {"loads": counts_hours(self.line.machine)}

    def initial(self) -> dict[str, Any]:
        return {name: getattr(self.line, name) for name in ("what", "every_s", "run_s")}

    def do(self, data: dict[str, Any]) -> str:
        row = operations.change_upkeep(upkeep=self.line, by=self.by, **data)
        self.say(f"{row.what}: kept so, as your own figure.")
        return self.back


class Drop(Deed):
    right, section, form_class, button = "equipment", "stores", Nothing, "Don’t ask for it any more"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        self.line = the_line(pk)
        self.heading = f"{self.line.what}: not any more?"
        self.back = reverse("machine_diary", args=[self.line.machine_id])

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": f"{self.line.machine.name} isn’t asked for it again. What was done stays in its diary."}

    def do(self, data: dict[str, Any]) -> str:
        operations.drop_upkeep(upkeep=self.line, by=self.by)
        self.say(f"{self.line.what}: not asked for any more.")
        return self.back


class DoneForm(StudioForm):
    words = forms.CharField(
        max_length=300, required=False, widget=forms.Textarea(attrs={"rows": 2}), label="What did you find?",
        help_text="If you like: lifts at 4.1 bar; gasket turned over; half a litre of rusty water.",
    )  # fmt: skip
    at = MomentField(label="When was it done?")


class Done(Deed):
    right, section, form_class, button = "bench", "stores", DoneForm, "It is done"
    template_name = "equipment/diary_done.html"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        self.line = the_line(pk)
        self.heading = self.line.what
        self.back = reverse("machine_diary", args=[self.line.machine_id])

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"line": self.line, "machine": self.line.machine, "danger": DANGER.get(self.line.machine.kind, "")}

    def do(self, data: dict[str, Any]) -> str:
        at = moment_or_now(data["at"], self.now)
        row = operations.upkeep_done(upkeep=self.line, at=at, words=data["words"], by=self.by, now=self.now)
        said = f"{self.line.machine.name}: {self.line.what[:1].lower()}{self.line.what[1:]}, done."
        self.say(said, undo=reverse("upkeep_take_back", args=[row.pk]))
        return self.back


# Common practice, no source; the machine's own manual decides.
DANGER: dict[str, str] = {
    MachineKind.PRESSURE_POT: "Gauge at zero and vent open before you touch clamps, lid or gasket. Try the valve by "
    "its ring, under air, with face and hands out of its way. A valve that sticks, a cut gasket: no pressure.",
    MachineKind.VACUUM_CHAMBER: "Let the air in first. A lid or wall with a crack or a craze is never pumped down "
    "again.",
    MachineKind.OVEN: "Unplug it and let it cool. An oven whose cut-out doesn’t trip isn’t left alone.",
    MachineKind.COMPRESSOR: "Switch it off and unplug it. Open the drain slowly: what comes out comes fast.",
    MachineKind.LATHE: "Unplug it first.",
}


class TakeBack(Deed):
    section, form_class, button = "stores", Nothing, "Take it back"
    heading = "Noted by mistake?"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        found = upkeep.done(pk)
        if found is None:
            raise Http404("There is no such note.")
        self.done = found
        self.back = reverse("machine_diary", args=[found.upkeep.machine_id])

    def context(self, form: StudioForm) -> dict[str, Any]:
        at = day(local(self.done.at)[0], local(self.now)[0])
        return {"sub": f"{self.done.upkeep.what}, {at}. Its clock runs from the time before again."}

    def do(self, data: dict[str, Any]) -> str:
        operations.take_back_done(done=self.done, by=self.by)
        self.say(f"{self.done.upkeep.what}: taken back.")
        return self.back


urlpatterns = [
    path("equipment/<int:pk>/diary/", Diary.as_view(), name="machine_diary"),
    path("equipment/<int:pk>/diary/begin/", Begin.as_view(), name="machine_diary_begin"),
    path("equipment/<int:pk>/diary/new/", Add.as_view(), name="machine_diary_add"),
    path("equipment/diary/<int:pk>/change/", Change.as_view(), name="upkeep_change"),
    path("equipment/diary/<int:pk>/drop/", Drop.as_view(), name="upkeep_drop"),
    path("equipment/diary/<int:pk>/done/", Done.as_view(), name="upkeep_done"),
    path("equipment/diary/done/<int:pk>/take-back/", TakeBack.as_view(), name="upkeep_take_back"),
]
