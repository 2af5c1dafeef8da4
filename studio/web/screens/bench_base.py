"""What the deeds at the bench share: the workpiece the address names, and where to go afterwards."""

from typing import Any

from django import forms
from django.http import Http404
from django.urls import reverse

from studio.web.deeds import Deed
from studio.web.forms import StudioForm
from studio.work.models import StepCode, Workpiece
from studio.work.queries import workpiece

STEPS = [(code.value, str(code.label)) for code in StepCode]


# Of each step: doing it, and what is said when it is done.
DOING = {
    StepCode.CLEAN: "cleaning",
    StepCode.SEASON: "seasoning",
    StepCode.DRY: "drying",
    StepCode.STABILIZE: "stabilizing",
    StepCode.CAST: "casting",
    StepCode.ROUGH: "roughing",
    StepCode.REST: "resting",
    StepCode.TURN: "turning",
    StepCode.SAND: "sanding",
    StepCode.FINISH: "finishing",
    StepCode.OTHER: "the other step",
}
DONE = {
    StepCode.CLEAN: "It is clean",
    StepCode.SEASON: "It is seasoned",
    StepCode.DRY: "It is dry",
    StepCode.STABILIZE: "It is stabilized",
    StepCode.CAST: "It is cast",
    StepCode.ROUGH: "It is roughed",
    StepCode.REST: "It has rested",
    StepCode.TURN: "It is turned",
    StepCode.SAND: "It is sanded",
    StepCode.FINISH: "It is finished",
    StepCode.OTHER: "That is done",
}


class Chips(forms.RadioSelect):
    """One of a few, one tap."""


class SoldDryField(forms.BooleanField):
    def __init__(self, **how: Any) -> None:
        how.setdefault("required", False)
        how.setdefault("label", "It was sold as dry")
        how.setdefault("help_text", "What a yard calls dry still holds 8 to 12 % of water: common practice.")
        super().__init__(**how)


class Nothing(StudioForm):
    """A deed that asks nothing more."""


class AtWorkpiece(Deed):
    """A deed on one workpiece, named by its key in the address."""

    section = "wood"
    piece: Workpiece

    def find(self, pk: int, **_: Any) -> None:
        found = workpiece(pk)
        if found is None:
            raise Http404("There is no such workpiece.")
        self.piece = found
        self.back = self.home

    @property
    def home(self) -> str:
        return reverse("workpiece", args=[self.piece.pk])

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"piece": self.piece}
