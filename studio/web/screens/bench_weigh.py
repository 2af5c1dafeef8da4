"""At the scale: weigh, and strike a weighing out."""

from typing import Any

from django import forms
from django.http import Http404
from django.urls import path, reverse

from studio.equipment import queries as equipment
from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.people import settings as answers
from studio.web.deeds import Deed
from studio.web.forms import StudioForm, Typed
from studio.web.screens.bench_base import AtWorkpiece, Chips, Nothing
from studio.work import operations as work
from studio.work import queries
from studio.work.models import Stage, Weighing
from studio.work.queries import DRYING
from studio.work.queries.verdicts import told_of
from studio.work.queries.weigh_round import next_to_weigh, words_after

MOST_MG = 10**9


class WeighForm(StudioForm):
    mass = QuantityField(
        dimension="mass",
        unit="g",
        least=1,
        most=MOST_MG,
        label="The scale shows",
        widget=Typed(),
        help_text="In grams.",
    )
    condition = forms.ChoiceField(choices=Weighing.Condition.choices, label="How it is", widget=Chips)
    at = MomentField()


class Weigh(AtWorkpiece):
    form_class = WeighForm
    template_name = "bench/weigh.html"
    heading, button = "Weigh", "That is it"

    def find(self, pk: int, **_: Any) -> None:
        super().find(pk)
        self.weighings = queries.weighings(self.piece)
        place = equipment.inside_now([self.piece.account_id]).get(self.piece.account_id)
        self.load = place.load if place else None

    def initial(self) -> dict[str, Any]:
        return {"condition": self._usual()}

    def _usual(self) -> str:
        """How it most likely is: as the machine it lies in says, else as last time."""
        if self.load is not None and self.load.purpose in ("season", "dry"):
            return {"season": Weighing.Condition.SEASON, "dry": Weighing.Condition.OVEN}[self.load.purpose].value
        if self.weighings:
            return str(self.weighings[-1].condition)
        made = {Stage.CASTING: Weighing.Condition.CAST, Stage.PIECE: Weighing.Condition.FINISHED}
        return made.get(Stage(self.piece.stage), Weighing.Condition.WET).value

    def context(self, form: StudioForm) -> dict[str, Any]:
        words = told_of([self.piece], self.now)[self.piece.pk].words if len(self.weighings) > 1 else ""
        return {
            **super().context(form),
            "last": self.weighings[-1] if self.weighings else None,
            "words": words,
            "how_it_is": dict(Weighing.Condition.choices).get(str(form["condition"].value()), ""),
        }

    def do(self, data: dict[str, Any]) -> str:
        row = work.weigh(
            workpiece=self.piece,
            mass_mg=data["mass"],
            at=moment_or_now(data["at"], self.now),
            condition=data["condition"],
            step_mg=answers.value("scale_step_mg"),
            load=self.load,
            by=self.by,
            now=self.now,
            sure=bool(data.get("sure")),
        )
        said = f"{self.piece.number} weighs {show(row.mass_mg, 'mass', unit='g')}"
        if row.condition in DRYING and self.weighings:
            said += f", {words_after(row, self.now)}"
        self.say(said.removesuffix("!") + ".", then=self._then(row))
        return self.home

    def _then(self, row: Weighing) -> tuple[str, str] | None:
        """The next of the weigh-in round, where this one belongs to it."""
        if row.condition not in (Weighing.Condition.OVEN, Weighing.Condition.SEASON):
            return None
        after = next_to_weigh(self.piece, self.now)
        return (reverse("workpiece_weigh", args=[after.pk]), f"Next: {after.number}") if after else None


class StrikeOut(Deed):
    """Wrong figures stay to be seen, struck through, and count no more."""

    form_class = Nothing
    heading, button, section = "Strike this weighing out?", "Strike it out", "wood"

    def find(self, pk: int) -> None:
        found = queries.weighing(pk)
        if found is None:
            raise Http404("There is no such weighing.")
        self.row = found
        self.back = reverse("workpiece", args=[found.workpiece_id])

    def do(self, data: dict[str, Any]) -> str:
        work.strike_out_weighing(weighing=self.row)
        self.say(f"{show(self.row.mass_mg, 'mass', unit='g')} is struck out and counts no more.")
        return self.back


urlpatterns = [
    path("bench/<int:pk>/weigh/", Weigh.as_view(), name="workpiece_weigh"),
    path("bench/weighing/<int:pk>/strike-out/", StrikeOut.as_view(), name="weighing_strike"),
]
