"""Steps: done, left out, once more; what is still to come; and workpieces that lost their number."""

from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse

from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.people.roles import allowed
from studio.web.deeds import Reading
from studio.web.forms import StudioForm, Typed
from studio.web.screens.bench_base import DOING, DONE, STEPS, AtWorkpiece, Chips, Nothing
from studio.wood import queries as wood
from studio.work import operations as work
from studio.work import queries
from studio.work.models import StepCode

WHATS = ("done", "skip", "again")
MOST_S = 12 * 3600
WHY_NOT = (
    "not needed: dense and sound",
    "done elsewhere",
    "the client wants it so",
    "the wood would not bear it",
    "no time before the day",
    "tried without, to see",
)


class DoneForm(StudioForm):
    usual = forms.BooleanField(required=False, label="Book my usual minutes")
    worked = QuantityField(
        dimension="duration", unit="min", least=60, most=MOST_S, required=False,
        label="Minutes at it that no clock counted", widget=Typed(),
    )  # fmt: skip
    not_before = MomentField(
        label="The next step may begin", help_text="Leave it empty where nothing must dry, cool or rest."
    )
    note = forms.CharField(required=False, max_length=500, label="A word about it")
    at = MomentField(label="When it was done")


class SkipForm(StudioForm):
    why = forms.ChoiceField(choices=[(one, one) for one in WHY_NOT], required=False, label="Why?", widget=Chips)
    words = forms.CharField(required=False, max_length=200, label="Another reason, in words")

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if not data.get("words") and not data.get("why") and not self.errors:
            self.add_error("why", "Choose a reason, or write one: the card will tell it one day.")
        return data


class StepDeed(AtWorkpiece):
    """One class, three deeds: the last word of the address says which."""

    template_name = "bench/deed.html"

    def find(self, pk: int, code: str = "", what: str = "", **_: Any) -> None:
        super().find(pk)
        if code not in StepCode.values or what not in WHATS:
            raise Http404("There is no such step.")
        self.code, self.what = code, what
        self.word = str(StepCode(code).label)
        done, doing = DONE[StepCode(code)], DOING[StepCode(code)]
        self.usual = queries.usual_seconds(code=code, person=self.by) if what == "done" else None
        self.form_class = {"done": DoneForm, "skip": SkipForm, "again": Nothing}[what]
        self.heading = {
            "done": done,
            "skip": f"Leave out {doing}",
            "again": f"{self.word} once more",
        }[what]
        self.button = {"done": done, "skip": "Leave it out", "again": "Plan it once more"}[what]

    def show(self, form: StudioForm) -> HttpResponse:
        if self.what == "done":
            if self.usual:
                form.fields["usual"].label = f"Book my usual {show(self.usual, 'duration')}"
            else:
                form.fields.pop("usual", None)
        return super().show(form)

    def do(self, data: dict[str, Any]) -> str:
        getattr(self, f"_{self.what}")(data)
        return self.home

    def _done(self, data: dict[str, Any]) -> None:
        at = moment_or_now(data["at"], self.now)
        seconds = data["worked"] or (self.usual if data.get("usual") else None)
        if seconds:
            work.add_hours(
                person=self.by, workpieces=[self.piece], code=self.code, seconds=seconds, at=at, **self.stamp
            )
        work.end_step(
            workpiece=self.piece,
            code=self.code,
            at=at,
            person=self.by,
            note=data["note"],
            not_before=data["not_before"],
        )
        booked = f", {show(seconds, 'duration')} booked" if seconds else ""
        self.say(f"{self.word} is done on {self.piece.number}{booked}.")

    def _skip(self, data: dict[str, Any]) -> None:
        work.leave_out_step(workpiece=self.piece, code=self.code, why=data["words"] or data["why"])
        self.say(f"{DOING[StepCode(self.code)].capitalize()} is left out on {self.piece.number}.")

    def _again(self, data: dict[str, Any]) -> None:
        work.repeat_step(workpiece=self.piece, code=self.code)
        self.say(f"{self.word} comes next once more; it costs again.")


class StepsForm(StudioForm):
    codes = forms.MultipleChoiceField(
        choices=STEPS,
        required=False,
        label="Still to come, in this order",
        help_text="What is begun, done or left out stays as it is.",
        widget=forms.CheckboxSelectMultiple,
    )


class Steps(AtWorkpiece):
    form_class = StepsForm
    template_name = "bench/deed.html"
    heading, button = "Steps to come", "Plan them so"

    def initial(self) -> dict[str, Any]:
        return {"codes": queries.planned_codes(self.piece)}

    def do(self, data: dict[str, Any]) -> str:
        work.plan_steps(workpiece=self.piece, codes=data["codes"])
        self.say(f"The steps of {self.piece.number} are planned.")
        return self.home


class LoseNumber(AtWorkpiece):
    form_class = Nothing
    template_name = "bench/deed.html"
    heading, button = "Did it lose its number?", "Yes, it lies there unnamed"

    def do(self, data: dict[str, Any]) -> str:
        work.lose_number(workpiece=self.piece)
        self.say(f"{self.piece.number} is looked for.", undo=reverse("number_found", args=[self.piece.pk]))
        return self.home


class FindNumber(AtWorkpiece):
    form_class = Nothing
    template_name = "bench/deed.html"
    heading, button = "Is this the one?", "Yes, that is it"

    def do(self, data: dict[str, Any]) -> str:
        work.find_number(workpiece=self.piece)
        self.say(f"It is {self.piece.number}. Pencil it on again.")
        return self.home


class WhichForm(StudioForm):
    species = forms.ChoiceField(required=False, label="Which wood?")
    mass = QuantityField(
        dimension="mass", unit="g", least=1, most=10**9, required=False, label="It weighs, in grams", widget=Typed()
    )
    length = QuantityField(
        dimension="length", least=1, most=10**7, required=False, label="How long is it?", widget=Typed()
    )

    def __init__(self, *args: Any, woods: list[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["species"].choices = [("", "can’t tell"), *((str(row.pk), str(row)) for row in woods)]  # type: ignore[attr-defined]


class LostNumbers(Reading):
    """Asked by GET, so that the answer has an address: the likeliest first."""

    def get(self, request: HttpRequest) -> HttpResponse:
        asked = bool({"species", "mass", "length"} & request.GET.keys())
        form = WhichForm(request.GET if asked else None, woods=wood.species_list())
        found: list[Any] = []
        if form.is_bound and form.is_valid():
            data = form.cleaned_data
            found = queries.candidates_for_lost_number(
                species_id=int(data["species"]) if data["species"] else None,
                mass_mg=data["mass"],
                length_um=data["length"],
            )
        context = {
            "section": "wood",
            "form": form,
            "asked": form.is_bound and form.is_valid(),
            "found": found,
            "lost": list(queries.lost_numbers()),
            "may_bench": allowed(request.user, "bench"),
        }
        return render(request, "bench/lost_numbers.html", context, status=422 if form.errors else 200)


urlpatterns = [
    path("bench/<int:pk>/step/<slug:code>/<slug:what>/", StepDeed.as_view(), name="workpiece_step"),
    path("bench/<int:pk>/steps/", Steps.as_view(), name="workpiece_steps"),
    path("bench/<int:pk>/lost-its-number/", LoseNumber.as_view(), name="workpiece_unnumbered"),
    path("bench/<int:pk>/found/", FindNumber.as_view(), name="number_found"),
    path("bench/lost-numbers/", LostNumbers.as_view(), name="lost_numbers"),
]
