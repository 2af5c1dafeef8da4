"""It broke: at most four taps and no typing. Photograph and salvage may wait."""

from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse

from studio.fields.forms import QuantityField
from studio.ledger import queries as ledger
from studio.people.roles import allowed
from studio.web.deeds import Deed, Reading
from studio.web.forms import StudioForm, Typed
from studio.web.screens.bench_base import DOING, AtWorkpiece, Nothing
from studio.web.screens.photographs import PhotographForm
from studio.work import operations as work
from studio.work import queries
from studio.work.models import Cause
from studio.work.queries import LossPage

MOST_MG = 10**9


class BrokeForm(StudioForm):
    cause = forms.ChoiceField(choices=Cause.choices, label="Why?", widget=forms.RadioSelect)


class Broke(AtWorkpiece):
    form_class = BrokeForm
    template_name = "bench/broke.html"
    heading = "It broke"

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {**super().context(form), "causes": Cause.choices}

    def do(self, data: dict[str, Any]) -> str:
        loss = work.it_broke(workpiece=self.piece, cause=data["cause"], at=self.now, **self.stamp)
        self.say(
            f"{self.piece.number} is off the bench. {loss.get_cause_display()}: that happens.",
            undo=reverse("loss_take_back", args=[loss.pk]),
        )
        return reverse("loss", args=[loss.pk])


class Loss(Reading):
    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        found = _loss(pk)
        costs = allowed(request.user, "see_costs")
        entry = ledger.entry(found.loss.entry_id) if costs and found.loss.entry_id else None
        lost = sum(line.value_micro for line in entry.lines if line.value_micro > 0) if entry else None
        context = {
            "section": "wood",
            "page": found,
            "loss": found.loss,
            "piece": found.loss.workpiece,
            "pictures": found.pictures,
            "lost_micro": lost,
            "doing": DOING.get(found.loss.step, ""),  # type: ignore[call-overload]
            "may_bench": allowed(request.user, "bench"),
        }
        return render(request, "bench/loss.html", context)


def _loss(pk: int) -> LossPage:
    found = queries.loss_page(pk)
    if found is None:
        raise Http404("There is no such loss.")
    return found


class AtLoss(Deed):
    section = "wood"

    def find(self, pk: int) -> None:
        self.page = _loss(pk)
        self.loss = self.page.loss
        self.piece = self.loss.workpiece
        self.back = reverse("loss", args=[pk])

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": f"{self.piece.number}: {self.loss.get_cause_display().lower()}."}


class LossPictureForm(PhotographForm):
    photo_required = True


class LossPicture(AtLoss):
    form_class = LossPictureForm
    heading, button = "Photograph what broke", "Keep it"

    def form_kwargs(self) -> dict[str, Any]:
        return {"by": self.by}

    def do(self, data: dict[str, Any]) -> str:
        work.add_loss_picture(loss=self.loss, picture=data["photo"], at=self.now, by=self.by)
        self.say("The photograph is kept.")
        return self.back


class SalvageForm(StudioForm):
    kept_wood = QuantityField(dimension="mass", unit="g", most=MOST_MG, label="Wood kept, in grams", widget=Typed())
    wood_was = QuantityField(
        dimension="mass", unit="g", most=MOST_MG, label="Wood there was, in grams", widget=Typed()
    )
    kept_resin = QuantityField(
        dimension="mass", unit="g", most=MOST_MG, required=False, label="Resin kept, in grams", widget=Typed()
    )
    resin_was = QuantityField(
        dimension="mass", unit="g", most=MOST_MG, required=False, label="Resin there was, in grams", widget=Typed()
    )
    like_blank = QuantityField(
        dimension="money",
        required=False,
        label="What would a blank like it cost new?",
        help_text="What is saved never carries more than that.",
        widget=Typed(),
    )


class Salvage(AtLoss):
    form_class = SalvageForm
    heading, button = "Save what can be saved", "Make it a blank"

    def form_kwargs(self) -> dict[str, Any]:
        return {}

    def initial(self) -> dict[str, Any]:
        resin, last = self.page.resin_mg, self.page.last_mg
        return {"wood_was": max(last - resin, 0) if last else None, "resin_was": resin or None}

    def show(self, form: StudioForm) -> HttpResponse:
        if not self.page.resin_mg and not form.is_bound:
            del form.fields["kept_resin"], form.fields["resin_was"]
        return super().show(form)

    def do(self, data: dict[str, Any]) -> str:
        saved = work.salvage(
            loss=self.loss,
            kept_wood_mg=data["kept_wood"],
            wood_was_mg=data["wood_was"],
            kept_resin_mg=data["kept_resin"] or 0,
            resin_was_mg=data["resin_was"] or 0,
            like_blank_micro=data["like_blank"],
            at=self.now,
            **self.stamp,
        )
        self.say(f"{saved.number} is on the bench: saved from {self.piece.number}.")
        return reverse("workpiece", args=[saved.pk])


class LookAfterForm(StudioForm):
    words = forms.CharField(
        required=False, max_length=500, label="What happened, for next time", widget=forms.Textarea
    )


class NothingToSave(AtLoss):
    form_class = LookAfterForm
    heading, button = "Nothing to save", "It is seen to"

    def initial(self) -> dict[str, Any]:
        return {"words": self.loss.words}

    def do(self, data: dict[str, Any]) -> str:
        work.look_after_loss(loss=self.loss, words=data["words"])
        self.say(f"{self.piece.number} is seen to.")
        return self.back


class TakeBack(AtLoss):
    form_class = Nothing
    heading, button = "It did not break after all", "Put it back on the bench"

    def do(self, data: dict[str, Any]) -> str:
        piece = work.take_back_loss(loss=self.loss, at=self.now, **self.stamp)
        self.say(f"{piece.number} lies on the bench again, as if nothing had been.")
        return reverse("workpiece", args=[piece.pk])


urlpatterns = [
    path("bench/<int:pk>/broke/", Broke.as_view(), name="workpiece_broke"),
    path("bench/loss/<int:pk>/", Loss.as_view(), name="loss"),
    path("bench/loss/<int:pk>/photograph/", LossPicture.as_view(), name="loss_picture"),
    path("bench/loss/<int:pk>/salvage/", Salvage.as_view(), name="loss_salvage"),
    path("bench/loss/<int:pk>/seen-to/", NothingToSave.as_view(), name="loss_seen_to"),
    path("bench/loss/<int:pk>/take-back/", TakeBack.as_view(), name="loss_take_back"),
]
