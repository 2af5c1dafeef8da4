"""The finish bench: what is on a finish, each line a tap, its coat out of the stores, and the rags of the evening."""

from datetime import datetime
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone

from studio.fields.forms import MomentField, moment_or_now
from studio.fields.quantity import NotUnderstood, parse, show
from studio.people.roles import allowed
from studio.stores.errors import amount_words
from studio.web.deeds import Deed, Reading
from studio.web.forms import StudioForm, Typed
from studio.web.paging import paged
from studio.web.saying import when
from studio.web.screens.bench_base import Nothing
from studio.web.screens.finish_words import coat_words, line_words, lines_of, lower, next_words
from studio.web.screens.stores_short import OffersCount
from studio.work import operations as work
from studio.work import queries
from studio.work.models import FinishLine, FinishRun, LineKind
from studio.work.operations.finish import coat_amount, where_it_stands

MOST_AT_ONCE = 100


def run_or_404(pk: int) -> FinishRun:
    found = queries.finish_run(pk)
    if found is None:
        raise Http404("Nothing was put on a finish like that.")
    return found


class Finishes(Reading):
    """What is on a finish now, and the finishes themselves."""

    def get(self, request: HttpRequest) -> HttpResponse:
        now = timezone.now()
        runs = [{"run": run, "said": next_words(run, now)} for run in queries.under_finish()]
        finishes = [
            {"finish": row, "lines": [line_words(one) for one in row.lines.all()]} for row in queries.finishes()
        ]
        context = {
            "section": "wood",
            "runs": paged(request, runs, "runs"),
            "finishes": paged(request, finishes, "finishes"),
            "may_bench": allowed(request.user, "bench"),
        }
        return render(request, "finish/finishes.html", context)


class Run(Reading):
    """One piece on its finish: every line, what was tapped, and the next one to tap."""

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        run = run_or_404(pk)
        now = timezone.now()
        bench = allowed(request.user, "bench") and run.workpiece.closed_at is None
        lines = lines_of(run, now, bench=bench)
        context = {
            "section": "wood",
            "run": run,
            "piece": run.workpiece,
            "lines": lines,
            "ahead": next((line for line in lines if line.next), None),
            "said": next_words(run, now),
            "may_bench": bench,
            "over": run.ended_at is not None,
        }
        return render(request, "finish/run.html", context)


class LineForm(StudioForm):
    """With a tin, grams may be typed; left empty they are as reckoned."""

    at = MomentField(label="When was it done?")

    def __init__(self, *args: Any, line: FinishLine, reckoned: int | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.material = line.material if line.kind == LineKind.COAT else None
        if self.material is not None:
            counted = self.material.counted
            self.fields["amount"] = forms.CharField(
                required=False, max_length=60, widget=Typed(letters=True),
                label="How many went on it?" if counted else "Grams, typed or weighed",
                help_text=f"Left empty: {amount_words(self.material, reckoned)}." if reckoned else "",
            )  # fmt: skip
            self.order_fields(["amount", "at"])

    def clean_amount(self) -> int | None:
        text = self.cleaned_data["amount"]
        if not text or self.material is None:
            return None
        try:
            return parse(text, "count" if self.material.counted else "mass", unit=self._unit(), least=1)
        except NotUnderstood as stop:
            raise forms.ValidationError(str(stop)) from None

    def _unit(self) -> str | None:
        return None if self.material is None or self.material.counted else "g"


class DoLine(OffersCount, Deed):
    """The next line of one piece. From its page it is one tap; here stands what the tap could not say."""

    section, template_name, form_class = "wood", "finish/line.html", LineForm
    button = "It is done"

    def find(self, pk: int, line: int) -> None:  # type: ignore[override]
        self.run = run_or_404(pk)
        found = next((row for row in self.run.schedule.lines.all() if row.pk == line), None)
        if found is None or found.kind == LineKind.CURE:
            raise Http404("There is no such line.")
        self.line, self.heading = found, found.words
        self.back = reverse("finish_run", args=[pk])
        self.button = "The coat is on" if self.line.kind == LineKind.COAT else "It is done"

    def form_kwargs(self) -> dict[str, Any]:
        return {"line": self.line, "reckoned": coat_amount(self.run.workpiece, self.line)}

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {
            "piece": self.run.workpiece,
            "run": self.run,
            "line": self.line,
            "sub": coat_words(self.run.workpiece, self.line),
        }

    def do(self, data: dict[str, Any]) -> str:
        done = work.do_line(
            run=self.run, line=self.line, at=moment_or_now(data["at"], self.now), amount=data.get("amount"),
            sure=bool(data.get("sure")), **self.said_of_stores(data), **self.stamp,
        )  # fmt: skip
        self.say(said_done(self.run, self.line, done.amount, self.now), undo=reverse("finish_back", args=[done.pk]))
        return self.back


def said_done(run: FinishRun, line: FinishLine, amount: int | None, now: datetime) -> str:
    """`7.5 g of Hard oil went onto 41/3. Next, not before tomorrow 14:00: coat with Hard oil.`"""
    number = run.workpiece.number
    if amount and line.material is not None:
        did = f"{amount_words(line.material, amount)} of {line.material} went onto {number}."
    else:
        did = f"{line.words} is done on {number}."
    fresh = run_or_404(run.pk)
    lines, stands = where_it_stands(fresh)
    if stands.following is None:
        rests = stands.at > now
        return f"{did} Its finish is done{f', and cures until {when(stands.at, now)}' if rests else ''}."
    early = f", not before {when(stands.at, now)}" if stands.at > now else ""
    return f"{did} Next{early}: {lower(lines[stands.following].words)}."


class SeveralForm(StudioForm):
    runs = forms.MultipleChoiceField(
        label="Which are done?", widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one."},
    )  # fmt: skip
    at = MomentField(label="When was it done?")

    def __init__(self, *args: Any, choices: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["runs"].choices = choices  # type: ignore[attr-defined]


class DoLines(OffersCount, Deed):
    """The same line on several pieces in one go, the coat of each as reckoned."""

    section, template_name, form_class = "wood", "finish/line.html", SeveralForm

    def find(self, pk: int) -> None:  # type: ignore[override]
        found = queries.finish_line(pk)
        if found is None or found.kind == LineKind.CURE:
            raise Http404("There is no such line.")
        self.line, self.heading, self.back = found, found.words, reverse("finishes")
        self.button = "The coats are on" if found.kind == LineKind.COAT else "They are done"
        self.runs = {str(run.pk): run for run in queries.at_line(found)[:MOST_AT_ONCE]}

    def form_kwargs(self) -> dict[str, Any]:
        return {"choices": [(pk, self._label(run)) for pk, run in self.runs.items()]}

    def initial(self) -> dict[str, Any]:
        ready = [pk for pk, run in self.runs.items() if where_it_stands(run)[1].at <= self.now]
        return {"runs": [pk for pk in ready if self._known(self.runs[pk])]}

    def _known(self, run: FinishRun) -> bool:
        return self.line.kind != LineKind.COAT or coat_amount(run.workpiece, self.line) is not None

    def _label(self, run: FinishRun) -> str:
        words = [run.workpiece.number, run.workpiece.title]
        if self.line.material is not None and self.line.kind == LineKind.COAT:
            amount = coat_amount(run.workpiece, self.line)
            words.append(
                amount_words(self.line.material, amount) if amount else "grams not known: tap it on its page"
            )
        at = where_it_stands(run)[1].at
        words.append(f"not before {when(at, self.now)}" if at > self.now else "")
        return ", ".join(word for word in words if word)

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"line": self.line, "any": bool(self.runs), "several": True, "sub": str(self.line.schedule)}

    def do(self, data: dict[str, Any]) -> str:
        rows = work.do_lines(
            runs=[self.runs[pk] for pk in data["runs"]], line=self.line, at=moment_or_now(data["at"], self.now),
            sure=bool(data.get("sure")), **self.said_of_stores(data), **self.stamp,
        )  # fmt: skip
        numbers = ", ".join(self.runs[pk].workpiece.number for pk in data["runs"])
        taken = sum(row.amount or 0 for row in rows)
        drawn = f", {show(taken, 'mass')} in all" if taken else ""
        self.say(f"{self.line.words} is done on {numbers}{drawn}.")
        return self.back


class TakeBack(Deed):
    form_class, section = Nothing, "wood"
    heading, button = "Take it back?", "Take it back"

    def find(self, pk: int) -> None:  # type: ignore[override]
        found = queries.finish_done(pk)
        if found is None:
            raise Http404("Nothing was done like that.")
        self.done = found
        self.back = reverse("finish_run", args=[found.run_id])

    def context(self, form: StudioForm) -> dict[str, Any]:
        back = " What it took goes back into the stores." if self.done.amount else ""
        return {"sub": f"{self.done.line.words}, on {self.done.run.workpiece.number}.{back}"}

    def do(self, data: dict[str, Any]) -> str:
        work.take_back_line(done=self.done, at=self.now, **self.stamp)
        self.say(f"{self.done.line.words} is taken back on {self.done.run.workpiece.number}.")
        return self.back


class TakeOff(Deed):
    form_class, section = Nothing, "wood"
    heading, button = "Take it off this finish?", "Take it off"

    def find(self, pk: int) -> None:  # type: ignore[override]
        self.run = run_or_404(pk)
        self.back = reverse("finish_run", args=[pk])

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": f"{self.run.workpiece.number}, {self.run.schedule}. What was done on it stays done."}

    def do(self, data: dict[str, Any]) -> str:
        work.take_off_finish(run=self.run, at=self.now, by=self.by)
        self.say(f"{self.run.workpiece.number} is off {self.run.schedule}.")
        return reverse("workpiece", args=[self.run.workpiece_id])


class RagsIn(Deed):
    form_class, section = Nothing, "round"
    heading, button = "Are the oily rags in the tin?", "In the tin"

    def find(self) -> None:  # type: ignore[override]
        self.back = reverse("round")

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": "A metal tin with its lid on, wetted through; or laid out flat outdoors until they are hard."}

    def do(self, data: dict[str, Any]) -> str:
        work.rags_in_the_tin(at=self.now, by=self.by)
        self.say("The oily rags are in their tin. Good night.", undo=reverse("rags_out"))
        return self.back


class RagsOut(RagsIn):
    heading, button = "Are they still lying about?", "They are not in the tin"

    def do(self, data: dict[str, Any]) -> str:
        work.rags_still_about(at=self.now)
        self.say("It is taken back: the rags still lie about.")
        return self.back


urlpatterns = [
    path("finishes/", Finishes.as_view(), name="finishes"),
    path("finishes/run/<int:pk>/", Run.as_view(), name="finish_run"),
    path("finishes/run/<int:pk>/line/<int:line>/", DoLine.as_view(), name="finish_line"),
    path("finishes/line/<int:pk>/", DoLines.as_view(), name="finish_lines"),
    path("finishes/done/<int:pk>/take-back/", TakeBack.as_view(), name="finish_back"),
    path("finishes/run/<int:pk>/take-off/", TakeOff.as_view(), name="finish_take_off"),
    path("finishes/rags/", RagsIn.as_view(), name="rags_in"),
    path("finishes/rags/about/", RagsOut.as_view(), name="rags_out"),
]
