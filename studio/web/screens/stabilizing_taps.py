"""The taps of a load in the bath: noted, taken back, the skin brushed off."""

from typing import Any

from django.http import Http404
from django.urls import path, reverse

from studio.fields.errors import Refused
from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.web.deeds import Deed
from studio.web.forms import StudioForm, Typed
from studio.work import operations as work
from studio.work import queries
from studio.work.operations.soak import TAPS

HEADINGS = {
    "under": "They are weighted under",
    "vacuum": "The vacuum is on",
    "bubbles": "The bubbles stopped",
    "foil": "They are in foil",
}
THEN = {
    "under": "They are under. Shut the lid, and pull the vacuum slowly: it foams.",
    "vacuum": "The vacuum is on. Say when the bubbles stop.",
    "bubbles": "The bubbles stopped. Let the air in, and leave them under.",
    "foil": "They are in foil. Into the oven, as the resin's sheet says.",
}


class NoteForm(StudioForm):
    def __init__(self, *args: Any, what: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if what == "vacuum":
            self.fields["gauge_pa"] = QuantityField(
                dimension="pressure", required=False, least=1, widget=Typed(letters=True),
                label="What does the gauge show?", help_text="Below the air outside. You may leave it empty.",
            )  # fmt: skip
        self.fields["at"] = MomentField(label="When was that?")


class TapDeed(Deed):
    section = "stores"

    def find(self, pk: int, what: str = "", **kwargs: Any) -> None:  # type: ignore[override]
        found = queries.soaking_page(pk)
        if found is None or (what and what not in TAPS):
            raise Http404
        self.run, self.what, self.back = found.run, what, reverse("stabilizing", args=[pk])


class Note(TapDeed):
    form_class, button = NoteForm, "That is so"

    def find(self, pk: int, what: str = "", **kwargs: Any) -> None:  # type: ignore[override]
        super().find(pk, what)
        self.heading = HEADINGS[what]

    def form_kwargs(self) -> dict[str, Any]:
        return {"what": self.what}

    def do(self, data: dict[str, Any]) -> str:
        work.note_soak(
            run=self.run, what=self.what, at=moment_or_now(data["at"], self.now), gauge_pa=data.get("gauge_pa"),
            sure=bool(data.get("sure")), by=self.by,
        )  # fmt: skip
        self.say(THEN[self.what])
        return self.back


class TakeBack(TapDeed):
    heading, button = "Take it back", "It was not so"

    def do(self, data: dict[str, Any]) -> str:
        work.take_back_soak(run=self.run, what=self.what, by=self.by)
        self.say("It is taken back.")
        return self.back


class Brushed(TapDeed):
    heading, button = "The cured skin is brushed off", "All of them"

    def do(self, data: dict[str, Any]) -> str:
        keys = self._named()
        items = work.brush_skin(run=self.run, at=self.now, workpieces=keys, by=self.by)
        self.say(f"{'It is' if len(items) == 1 else 'They are'} brushed off: resin holds on clean wood.")
        return self.back

    def _named(self) -> list[int] | None:
        text = self.request.POST.get("workpiece", "")
        if text and not (text.isdecimal() and len(text) < 19):
            raise Refused("That is none of the pieces of this load.")
        return [int(text)] if text else None


class BrushedBack(Brushed):
    heading, button = "The skin is still on", "Take it back"

    def do(self, data: dict[str, Any]) -> str:
        work.take_back_brushing(run=self.run, workpieces=self._named())
        self.say("It is taken back: the skin is still on.")
        return self.back


urlpatterns = [
    path("stabilizing/<int:pk>/note/<slug:what>/", Note.as_view(), name="stabilizing_note"),
    path("stabilizing/<int:pk>/take-back/<slug:what>/", TakeBack.as_view(), name="stabilizing_take_back"),
    path("stabilizing/<int:pk>/brushed/", Brushed.as_view(), name="stabilizing_brushed"),
    path("stabilizing/<int:pk>/brushed/take-back/", BrushedBack.as_view(), name="stabilizing_brushed_back"),
]
