"""Into the oven, the chamber or the pot and out again."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse

from studio.equipment import operations as equipment
from studio.equipment import queries
from studio.equipment.models import Load, LoadPlace, Machine, MachineKind, Purpose
from studio.equipment.operations.loads import PURPOSES
from studio.fields.forms import moment_or_now
from studio.fields.quantity import show
from studio.people import roles
from studio.people import settings as answers
from studio.web.deeds import Deed
from studio.web.forms import StudioForm
from studio.web.screens.loads_forms import ChangeLoadForm, EndForm, PutInForm, StartForm, TakeOutForm
from studio.web.screens.loads_oven import heat_facts
from studio.web.screens.pot_words import at_the_lid, before_the_lid, gauge_words
from studio.work import operations as work
from studio.work import queries as bench
from studio.work.models import StepCode, Workpiece
from studio.work.operations.loads import ENDS_WITH_THE_LOAD
from studio.work.queries.tags import by_account

SERVES: dict[str, tuple[str, ...]] = {
    MachineKind.OVEN: (StepCode.SEASON, StepCode.DRY, StepCode.STABILIZE),
    MachineKind.VACUUM_CHAMBER: (StepCode.STABILIZE,),
    MachineKind.PRESSURE_POT: (StepCode.CAST,),
    MachineKind.OTHER: (StepCode.SEASON, StepCode.DRY, StepCode.STABILIZE, StepCode.REST),
}
MOST_TICKS = 60


def ready_to_load(machine: Machine, besides: frozenset[int] = frozenset()) -> list[tuple[Workpiece, str]]:
    """What could go into this machine now, with words for its tick; what lies in a machine is left out.

    `besides` are keys to offer whatever their next step is. Two queries for each step the machine serves.
    """
    found = {row.pk: row for code in SERVES.get(machine.kind, ()) for row in bench.ready_for(code)[:MOST_TICKS]}
    if besides - found.keys():
        found |= {row.pk: row for row in bench.on_the_bench().filter(pk__in=besides)}
    inside = queries.inside_now(row.account_id for row in found.values())
    rows = [row for row in found.values() if row.account_id not in inside]
    rows.sort(key=lambda row: (row.pk not in besides, row.sort_key))
    return [(row, _tick_words(row)) for row in rows[:MOST_TICKS]]


def _tick_words(row: Workpiece) -> str:
    wood = row.title or (row.species.common_name if row.species else row.get_stage_display().lower())
    return f"{row.number}, {wood}"


def keys_of(request: HttpRequest, name: str = "workpiece") -> frozenset[int]:
    return frozenset(int(key) for key in request.GET.getlist(name) if key.isdecimal() and len(key) < 12)


class LoadStart(Deed):
    """First the machine (`?machine=`), then what goes in. `?workpiece=` ticks it beforehand."""

    form_class, button, section = StartForm, "It is in", "stores"
    template_name = "loads/start.html"

    def find(self, **kwargs: Any) -> None:
        self.machine: Machine | None = None
        self.back, self.heading = reverse("equipment"), "Where does it go?"
        chosen = next(iter(keys_of(self.request, "machine")), None)
        self.rows = [row for row in queries.machines() if row.machine.takes_loads]
        self.row = next((row for row in self.rows if row.machine.pk == chosen), None)
        if self.row is None:
            return
        self.machine = self.row.machine
        self.back, self.heading = reverse("load_start"), f"Into {self.machine.name}"
        self.ready = ready_to_load(self.machine, keys_of(self.request))

    def get(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        if self.machine is None:
            query = request.GET.copy()
            query.pop("machine", None)
            context = {"rows": self.rows, "rest": query.urlencode(), "section": self.section}
            return render(request, "loads/where.html", context)
        return super().get(request, **kwargs)

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        return super().post(request, **kwargs) if self.machine else self.get(request, **kwargs)

    def form_kwargs(self) -> dict[str, Any]:
        return {"machine": self.machine, "ready": self.ready}

    def initial(self) -> dict[str, Any]:
        assert self.machine is not None
        wanted: dict[str, Any] = {"workpieces": [str(key) for key in keys_of(self.request)]}
        purpose = self.request.GET.get("purpose", "")
        wanted["purpose"] = purpose if purpose in PURPOSES[self.machine.kind] else PURPOSES[self.machine.kind][0]
        if self.machine.kind == MachineKind.OVEN and "purpose" not in self.request.GET:
            wanted["purpose"] = Purpose.DRY
        wanted["not_before"] = self.request.GET.get("not_before") or None
        heat = self.request.GET.get("set_point", "")
        wanted["set_point_mdegc"] = int(heat) if heat.isdecimal() and len(heat) < 7 else None
        return wanted

    def context(self, form: StudioForm) -> dict[str, Any]:
        assert self.machine is not None and self.row is not None
        pot = self.machine.kind == MachineKind.PRESSURE_POT
        on = answers.local_date(self.now)
        advice = queries.pressure_advice(self.machine, on) if pot else None
        cautions = queries.cautions(self.machine, Purpose.PRESSURE if pot else "")
        if advice and advice.grace_until and "why" in form.fields:
            form.fields["why"].label = "Its inspection is overdue: why is it safe until that is done?"
            form.fields["why"].help_text = "It stays with the load."
        chosen = [row for row, _ in self.ready if row.pk in keys_of(self.request)]
        return {
            "machine": self.machine,
            "running": self.row.running,
            "advice": advice,
            "may_measure": roles.allowed(self.request.user, "equipment"),
            "check": before_the_lid(self.machine, chosen, self.now) if pot else None,
            "heat": heat_facts(self.machine, on),
            "cautions": cautions,
            "boxed": at_the_lid(cautions),
        }

    def do(self, data: dict[str, Any]) -> str:
        assert self.machine is not None
        load = work.load_up(
            machine=self.machine,
            workpieces=data["pieces"],
            purpose=data.get("purpose") or PURPOSES[self.machine.kind][0],
            set_point_mdegc=data.get("set_point_mdegc"),
            gauge_pa=data.get("gauge_pa"),
            not_before=data["not_before"],
            confirm=bool(data.get("sure")),
            why=data.get("why", ""),
            at=moment_or_now(data["at"], self.now),
            by=self.by,
            now=self.now,
        )
        numbers = ", ".join(row.number for row in data["pieces"])
        self.say(f"{numbers} {'is' if len(data['pieces']) == 1 else 'are'} in {self.machine.name}.")
        return reverse("load", args=[load.pk])


def the_load(pk: int) -> Load:
    found = queries.load(pk)
    if found is None:
        raise Http404
    return found


class LoadDeed(Deed):
    section = "stores"
    load: Load

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        self.load = the_load(pk)
        self.back = reverse("load", args=[pk])
        self.heading = self.headed()

    def headed(self) -> str:
        return self.load.machine.name


class LoadPutIn(LoadDeed):
    form_class, button, template_name = PutInForm, "It is in", "loads/put_in.html"

    def headed(self) -> str:
        return f"Late into {self.load.machine.name}"

    def form_kwargs(self) -> dict[str, Any]:
        return {"ready": ready_to_load(self.load.machine, keys_of(self.request))}

    def initial(self) -> dict[str, Any]:
        return {"workpieces": [str(key) for key in keys_of(self.request)]}

    def do(self, data: dict[str, Any]) -> str:
        if self.load.ended_at is not None:
            equipment.put_in(load=self.load, account=data["pieces"][0].account, at=self.now, by=self.by)
        work.load_up(
            machine=self.load.machine,
            workpieces=data["pieces"],
            purpose=self.load.purpose,
            confirm=bool(data.get("sure")),
            at=moment_or_now(data["at"], self.now),
            by=self.by,
            now=self.now,
        )
        numbers = ", ".join(row.number for row in data["pieces"])
        self.say(f"{numbers} went in late and pays from then on.")
        return self.back


class LoadChange(LoadDeed):
    form_class, button = ChangeLoadForm, "That is how it stands"
    template_name = "loads/change.html"

    def headed(self) -> str:
        return f"Set {self.load.machine.name} anew"

    def form_kwargs(self) -> dict[str, Any]:
        return {"machine": self.load.machine}

    def initial(self) -> dict[str, Any]:
        return {
            "set_point_mdegc": self.load.set_point_mdegc,
            "gauge_pa": self.load.gauge_pa,
            "not_before": self.load.not_before,
        }

    def context(self, form: StudioForm) -> dict[str, Any]:
        pot = self.load.machine.kind == MachineKind.PRESSURE_POT
        on = answers.local_date(self.now)
        return {
            "advice": queries.pressure_advice(self.load.machine, on) if pot else None,
            "heat": heat_facts(self.load.machine, on),
        }

    def do(self, data: dict[str, Any]) -> str:
        named = {key: data[key] for key in ("set_point_mdegc", "gauge_pa", "not_before") if data.get(key) is not None}
        if named.get("not_before") == self.load.not_before:
            named.pop("not_before", None)
        work.set_load(
            load=self.load,
            confirm=bool(data.get("sure")),
            why=data.get("why", ""),
            at=self.now,
            by=self.by,
            now=self.now,
            **named,
        )
        self.say(f"{self.load.machine.name} is set as you wrote.")
        return self.back


class LoadTakeOut(LoadDeed):
    form_class, button = TakeOutForm, "It is out"

    def find(self, pk: int, place: int, **kwargs: Any) -> None:  # type: ignore[override]
        self.load = the_load(pk)
        self.place: LoadPlace | None = next((one for one in self.load.places.all() if one.pk == place), None)
        if self.place is None:
            raise Http404
        piece = by_account([self.place.account_id]).get(self.place.account_id)
        self.number = piece.number if piece else "it"
        self.back = reverse("load", args=[pk])
        self.heading = f"Take {self.number} out early"

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": f"It pays for its own hours in {self.load.machine.name} and no more."}

    def do(self, data: dict[str, Any]) -> str:
        assert self.place is not None
        equipment.take_out(
            place=self.place,
            at=moment_or_now(data["at"], self.now),
            by=self.by,
            confirm=bool(data.get("sure")),
            now=self.now,
        )
        self.say(f"{self.number} is out of {self.load.machine.name}.")
        return self.back


class LoadEnd(LoadDeed):
    form_class, button, template_name = EndForm, "It is out", "loads/end.html"

    @property
    def bags(self) -> bool:
        return self.load.purpose in (Purpose.DRY, Purpose.WARM)

    def headed(self) -> str:
        return f"Open {self.load.machine.name}"

    def form_kwargs(self) -> dict[str, Any]:
        return {
            "pot": self.load.machine.kind == MachineKind.PRESSURE_POT,
            "may_go_on": self.load.purpose in ENDS_WITH_THE_LOAD,
        }

    def context(self, form: StudioForm) -> dict[str, Any]:
        if self.load.purpose not in ENDS_WITH_THE_LOAD:
            form.fields.pop("still_going", None)
        if not self.bags:
            form.fields.pop("bagged", None)
        pot = self.load.machine.kind == MachineKind.PRESSURE_POT
        early = self.load.not_before is not None and self.load.not_before > self.now
        return {"load": self.load, "pot": pot, "early": early, "under": gauge_words(self.load) if pot else ""}

    def do(self, data: dict[str, Any]) -> str:
        bagged = self.bags and bool(data.get("bagged"))
        ended = work.unload(
            load=self.load,
            hands_on_s=data["hands_on_s"] or 0,
            air_off=bool(data.get("air_off")),
            still_going=bool(data.get("still_going")),
            bagged=bagged,
            confirm=bool(data.get("sure")),
            at=moment_or_now(data["at"], self.now),
            **self.stamp,
        )
        assert ended.ended_at is not None
        ran = int((ended.ended_at - ended.started_at).total_seconds())
        said = f"{self.load.machine.name} ran {show(ran, 'duration')}. Its hours are shared among what lay in it."
        self.say(f"{said} All of it is bagged: look for fog in an hour." if bagged else said)
        return self.back


class LoadTakeBack(LoadDeed):
    button = "Take the end back"

    def headed(self) -> str:
        return f"It was not the end: {self.load.machine.name}"

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": "Its entry is reversed, and what lay in it lies in it again. Then end it at the right time."}

    def do(self, data: dict[str, Any]) -> str:
        equipment.take_back_end(load=self.load, at=self.now, **self.stamp)
        self.say(f"{self.load.machine.name} is running again, as if it had not ended.")
        return self.back


urlpatterns = [
    path("loads/new/", LoadStart.as_view(), name="load_start"),
    path("loads/<int:pk>/put-in/", LoadPutIn.as_view(), name="load_put_in"),
    path("loads/<int:pk>/set/", LoadChange.as_view(), name="load_change"),
    path("loads/<int:pk>/take-out/<int:place>/", LoadTakeOut.as_view(), name="load_take_out"),
    path("loads/<int:pk>/end/", LoadEnd.as_view(), name="load_end"),
    path("loads/<int:pk>/take-back/", LoadTakeBack.as_view(), name="load_take_back"),
]
