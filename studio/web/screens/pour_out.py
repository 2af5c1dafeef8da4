"""Out of the moulds: what castings and cup weigh, and how each casting looks, in one tap."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.http import Http404
from django.urls import path, reverse

from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.web import saying
from studio.web.deeds import Deed
from studio.web.forms import StudioForm, Typed
from studio.web.screens.pour_page import the_pour
from studio.work import operations as work
from studio.work.models import Outcome, PourFill, Workpiece
from studio.work.queries import outcomes

WHAT = [(what.value, str(what.label)) for what in Outcome.What]


def _cup() -> QuantityField:
    return QuantityField(
        dimension="mass", required=False, least=0, widget=Typed(), label="What is left in the cup?",
        help_text="Set or not, without the empty cup. 0: nothing.",
    )  # fmt: skip


class DemouldForm(StudioForm):
    """A heading for each casting: how it looks, what it weighs; then the cup."""

    def __init__(self, *args: Any, castings: Sequence[Workpiece], cup: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        groups = []
        for piece in castings:
            seen, mass = f"seen_{piece.pk}", f"mass_{piece.pk}"
            self.fields[seen] = forms.MultipleChoiceField(
                choices=WHAT, required=False, widget=forms.CheckboxSelectMultiple, label="How does it look?"
            )
            asks = f"What does {piece.number} weigh now?"
            self.fields[mass] = QuantityField(dimension="mass", required=False, least=1, widget=Typed(), label=asks)
            groups.append((" ".join(filter(None, [piece.number, piece.title])), (seen, mass)))
        if cup:
            self.fields["cup"] = _cup()
        self.fields["at"] = MomentField(label="When did it come out?")
        self.fieldsets = (*groups, ("All of it", ("cup", "at", "sure")))

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for name, chosen in list(data.items()):
            if name.startswith("seen_") and Outcome.What.GOOD in chosen and len(chosen) > 1:
                self.add_error(name, "Either it looks good or something is wrong with it: tap one of them away.")
        return data


class Demould(Deed):
    form_class, button, template_name = DemouldForm, "It is out", "pour/demould.html"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        self.found = the_pour(pk)
        self.castings = [fill.casting for fill in self.found.fills if fill.casting.closed_at is None]
        self.back = reverse("pour", args=[pk])
        self.heading = "Out of the mould"

    def form_kwargs(self) -> dict[str, Any]:
        return {"castings": self.castings, "cup": self.found.pour.cup_mg is None}

    def context(self, form: StudioForm) -> dict[str, Any]:
        not_before = self.found.pour.demould_not_before
        return {"found": self.found, "early": not_before if not_before and not_before > self.now else None}

    def do(self, data: dict[str, Any]) -> str:
        row = work.come_out(
            pour=self.found.pour,
            weights={piece.pk: mass for piece in self.castings if (mass := data.get(f"mass_{piece.pk}"))},
            seen={piece.pk: data.get(f"seen_{piece.pk}") or () for piece in self.castings},
            cup_mg=data.get("cup"),
            sure=bool(data.get("sure")),
            at=moment_or_now(data["at"], self.now),
            by=self.by,
        )
        cure = row.full_cure_at
        rest = f" Fully cured {saying.when(cure, self.now, clock=True)}." if cure and cure > self.now else ""
        self.say(f"{', '.join(piece.number for piece in self.castings)} out of the mould.{rest}")
        return self.back


class CupForm(StudioForm):
    cup = _cup()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["cup"].required = True


class Cup(Deed):
    form_class, button, heading = CupForm, "Keep it", "The cup"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        self.pour = the_pour(pk).pour
        self.back = reverse("pour", args=[pk])

    def initial(self) -> dict[str, Any]:
        return {"cup": self.pour.cup_mg}

    def do(self, data: dict[str, Any]) -> str:
        work.note_cup(pour=self.pour, cup_mg=data["cup"], sure=bool(data.get("sure")))
        self.say(f"{show(data['cup'], 'mass')} were left in the cup.")
        return self.back


class SeenForm(StudioForm):
    """One tap: `void on`, `void off`."""

    tick = forms.CharField(max_length=20, widget=forms.HiddenInput)
    words = forms.CharField(
        max_length=200, required=False, label="In a word", help_text="Where, how big: kept with what you tap."
    )


class Seen(Deed):
    """How a casting looks, now or long after it came out."""

    form_class, template_name = SeenForm, "pour/seen.html"
    fill: PourFill

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        found = outcomes.fill(pk)
        if found is None:
            raise Http404
        self.fill, self.piece = found, found.casting
        self.heading = f"How does {found.casting.number} look?"
        self.back = reverse("workpiece", args=[found.casting_id])

    def context(self, form: StudioForm) -> dict[str, Any]:
        there = {row.what: row for row in self.fill.outcomes.all()}
        taps = [(what, words, there.get(what)) for what, words in WHAT]
        return {"fill": self.fill, "piece": self.piece, "taps": taps}

    def do(self, data: dict[str, Any]) -> str:
        what, _, way = data["tick"].partition(" ")
        word = dict(WHAT).get(what, "")
        if way == "off" and word:
            work.take_back_outcome(fill=self.fill, what=what)
            self.say(f"{self.piece.number}: {word} no longer.")
        else:
            work.note_outcome(fill=self.fill, what=what, words=data["words"], at=self.now, by=self.by)
            self.say(f"{self.piece.number}: {word}.")
        return reverse("casting_seen", args=[self.fill.pk])


urlpatterns = [
    path("pour/<int:pk>/demould/", Demould.as_view(), name="demould"),
    path("pour/<int:pk>/cup/", Cup.as_view(), name="pour_cup"),
    path("pour/casting/<int:pk>/seen/", Seen.as_view(), name="casting_seen"),
]
