"""The clock: started in one tap, stopped in two, asked about next morning when it was left running."""

from typing import Any

from django import forms
from django.http import Http404
from django.urls import path, reverse

from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.people import roles
from studio.web.deeds import Deed
from studio.web.forms import StudioForm, Typed
from studio.web.screens.bench_base import STEPS, AtWorkpiece, Chips, Nothing
from studio.work import operations as work
from studio.work import queries
from studio.work.models import ClockRun, StepCode
from studio.work.operations.clock import left_over_night

MOST_S = 12 * 3600
MOST_BESIDE = 12


class StartForm(StudioForm):
    code = forms.ChoiceField(choices=STEPS, label="What will you do?", widget=Chips)
    also = forms.MultipleChoiceField(
        required=False, label="On these too, the time shared equally", widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, beside: list[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["also"].choices = [(str(pk), number) for pk, number in beside]  # type: ignore[attr-defined]
        if not beside:
            del self.fields["also"]


class Start(AtWorkpiece):
    form_class = StartForm
    template_name = "bench/clock_start.html"
    heading, button = "Start the clock", "Start the clock"

    def find(self, pk: int, **_: Any) -> None:
        super().find(pk)
        ahead = queries.next_code(self.piece)
        self.code = ahead or StepCode.OTHER
        rows = queries.ready_for(ahead).exclude(pk=self.piece.pk)[:MOST_BESIDE] if ahead else []
        self.beside = {row.pk: row for row in rows}

    def initial(self) -> dict[str, Any]:
        return {"code": self.code}

    def form_kwargs(self) -> dict[str, Any]:
        return {"beside": [(row.pk, " ".join(filter(None, [row.number, row.title]))) for row in self.beside.values()]}

    def do(self, data: dict[str, Any]) -> str:
        also = [self.beside[int(pk)] for pk in data.get("also", [])]
        sure = bool(data.get("sure"))
        run = work.start_clock(
            person=self.by, workpieces=[self.piece, *also], code=data["code"], at=self.now, sure=sure
        )
        numbers = ", ".join([self.piece.number, *(row.number for row in also)])
        self.say(f"The clock runs on {numbers}: {run.get_code_display().lower()}.")
        return self.home


class StopForm(StudioForm):
    worked = QuantityField(
        dimension="duration",
        unit="min",
        least=0,
        most=MOST_S,
        required=False,
        label="Only if it was less: minutes really worked",
        widget=Typed(),
    )
    done = forms.BooleanField(required=False, label="That step is done now")
    at = MomentField(label="When it was stopped")


class Stop(Deed):
    form_class = StopForm
    template_name = "bench/clock_stop.html"
    heading, button, section = "Stop the clock", "Stop the clock", "wood"
    run: ClockRun

    def find(self, pk: int) -> None:
        found = queries.clock_run(pk)
        if found is None:
            raise Http404("There is no such clock.")
        self.run = found
        self.pieces = [share.workpiece for share in found.shares.all()]
        self.back = reverse("workpiece", args=[self.pieces[0].pk]) if len(self.pieces) == 1 else reverse("round")

    def context(self, form: StudioForm) -> dict[str, Any]:
        night = self.run.stopped_at is None and left_over_night(self.run, self.now)
        if night:
            form.fields["worked"].required = True
            form.fields["worked"].label = "It ran through the night. How many minutes were really worked?"
        return {"run": self.run, "pieces": self.pieces, "over_night": night}

    def do(self, data: dict[str, Any]) -> str:
        at = moment_or_now(data["at"], self.now)
        run = work.stop_clock(run=self.run, at=at, seconds=data["worked"], **self.stamp)
        if data["done"]:
            for piece in self.pieces:
                if piece.closed_at is None:
                    work.end_step(workpiece=piece, code=run.code, at=at, person=run.person)
        numbers = ", ".join(piece.number for piece in self.pieces)
        done = f" {run.get_code_display()} is done." if data["done"] else ""
        undo = reverse("hours_take_back", args=[run.pk]) if run.seconds else None
        self.say(f"{show(run.seconds or 0, 'duration')} booked on {numbers}.{done}", undo=undo)
        return self.back


class TakeBack(Deed):
    """One's own hours by whoever may book them, those of others by the owner."""

    form_class = Nothing
    heading, button, section = "Take these hours back?", "Take them back", "wood"
    run: ClockRun

    def find(self, pk: int) -> None:
        found = queries.clock_run(pk)
        if found is None or found.stopped_at is None:
            raise Http404("There are no such hours.")
        if found.person_id != self.by.pk:
            roles.require(self.by, "others_hours")
        self.run = found
        self.pieces = [share.workpiece for share in found.shares.all()]
        self.back = reverse("workpiece", args=[self.pieces[0].pk])
        self.told = f"{show(found.seconds or 0, 'duration')} on {', '.join(piece.number for piece in self.pieces)}"

    def context(self, form: StudioForm) -> dict[str, Any]:
        word = self.run.get_code_display().lower()
        return {"sub": f"{self.told}, {word}, of {self.run.person}. Then book what is right."}

    def do(self, data: dict[str, Any]) -> str:
        work.take_back_hours(run=self.run, at=self.now, sure=data.get("sure", False), **self.stamp)
        self.say(f"Taken back: {self.told}. Book what is right now, if there is anything to book.")
        return self.back


urlpatterns = [
    path("bench/<int:pk>/clock/", Start.as_view(), name="clock_start"),
    path("bench/clock/<int:pk>/stop/", Stop.as_view(), name="clock_stop"),
    path("bench/clock/<int:pk>/take-back/", TakeBack.as_view(), name="hours_take_back"),
]
