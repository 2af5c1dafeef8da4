"""Drying wood beside its weight: in the bag and out, fog, bark and wax off, and the words that go past a refusal."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django import forms
from django.http import Http404
from django.urls import path, reverse

from studio.web import links
from studio.web.deeds import Deed
from studio.web.forms import StudioForm
from studio.web.screens.bench_base import AtWorkpiece, Nothing
from studio.work import operations as work
from studio.work import queries
from studio.work.models import Stage, StepCode, StepState, WoodEvent, Workpiece
from studio.work.queries import NotReady, Page
from studio.work.queries.lying_out import wood_events_of
from studio.work.queries.regaining import Regain

NOTED = {
    WoodEvent.Kind.BARK_OFF: "The bark is off",
    WoodEvent.Kind.WAX_OFF: "The wax is off",
    WoodEvent.Kind.ENDS_SEALED: "The ends are sealed",
}


@dataclass(frozen=True)
class Tap:
    """A thing to tap: a form of one button, or with `post` false a link."""

    word: str
    url: str
    post: bool = True


@dataclass
class DryRoom:
    """What the page shows of the dry room beside the weights."""

    taps: list[Tap] = field(default_factory=list)
    bagged_at: datetime | None = None
    fogged: bool = False
    stops: NotReady | None = None
    overruled: list[Any] = field(default_factory=list)
    events: list[WoodEvent] = field(default_factory=list)


def dry_room(found: Page, out: Regain | None, now: datetime, *, bench: bool) -> DryRoom:
    """Bag and fog, what stops it from being cast, what was overruled. Two queries, nine more before casting."""
    piece = found.workpiece
    shown = DryRoom(
        overruled=queries.overruled_of([piece.pk]).get(piece.pk, []),
        events=wood_events_of([piece.pk]).get(piece.pk, []),
    )
    if piece.closed_at is not None:
        return shown
    if out is not None:
        shown.bagged_at, shown.fogged = out.bagged_at, out.fogged_at is not None
    if bench and out is not None:
        shown.taps = _bag_taps(piece, out)
    ahead = next((step for step in found.steps if step.state in (StepState.OPEN, StepState.PLANNED)), None)
    if ahead is not None and ahead.code == StepCode.CAST and not found.fills:
        shown.stops = next((one for one in queries.not_ready([piece], now) if one.refused), None)
        if shown.stops and bench:
            shown.taps.append(Tap("Cast it all the same", links.to("workpiece_cast_anyway", piece.pk), post=False))
    return shown


def _bag_taps(piece: Workpiece, out: Regain) -> list[Tap]:
    if out.bagged_at is None:
        return [Tap("Bagged", links.to("workpiece_bag", piece.pk))]
    taps = [Tap("Out of the bag", links.to("workpiece_unbag", piece.pk))]
    if out.fogged_at is None:
        taps.append(Tap("Fog in the bag", links.to("workpiece_fog", piece.pk)))
    return taps


def wood_taps(piece: Workpiece) -> list[Tap]:
    """What may be done to wood that isn't cast yet, one tap each."""
    if piece.stage not in (Stage.LUMP, Stage.BLANK):
        return []
    return [Tap(words, links.to("workpiece_wood_note", piece.pk, str(kind))) for kind, words in NOTED.items()]


class Bag(AtWorkpiece):
    form_class = Nothing
    heading, button = "Is it bagged?", "Bagged"

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": "Wrapped tight and hot it keeps for a couple of days: common practice. The skin clock stops."}

    def do(self, data: dict[str, Any]) -> str:
        work.wrap(workpieces=[self.piece], at=self.now, by=self.by, now=self.now)
        self.say(f"{self.piece.number} is in its bag: its skin clock stands still. Look for fog in an hour.")
        return self.home


class Unbag(AtWorkpiece):
    form_class = Nothing
    heading, button = "Is it out of the bag?", "Out of the bag"

    def do(self, data: dict[str, Any]) -> str:
        work.unwrap(workpiece=self.piece, at=self.now, by=self.by, now=self.now)
        self.say(f"{self.piece.number} is out of its bag: its skin clock runs on.")
        return self.home


class Fog(AtWorkpiece):
    form_class = Nothing
    heading, button = "Is there fog in the bag?", "Fog in the bag"

    def do(self, data: dict[str, Any]) -> str:
        work.note_fog(workpiece=self.piece, at=self.now, by=self.by, now=self.now)
        self.say(f"Fog in the bag: {self.piece.number} isn’t dry. Back into the oven with it, or weigh it.")
        return self.home


class WoodNote(AtWorkpiece):
    form_class = Nothing
    button = "That is done"

    def find(self, pk: int, kind: str = "", **_: Any) -> None:
        super().find(pk)
        if kind not in NOTED:
            raise Http404("There is no such note.")
        self.kind = WoodEvent.Kind(kind)
        self.heading = f"{NOTED[self.kind]}?"

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": "Its weights begin a new series then. Weigh it now."}

    def do(self, data: dict[str, Any]) -> str:
        row = work.note_wood(workpiece=self.piece, kind=self.kind, at=self.now, by=self.by, now=self.now)
        self.say(
            f"{NOTED[self.kind]} of {self.piece.number}: a new series of weights begins. Weigh it now.",
            undo=reverse("wood_note_take_back", args=[row.pk]),
        )
        return self.home


class TakeBackWoodNote(Deed):
    form_class = Nothing
    heading, button, section = "Take it back?", "Take it back", "wood"

    def find(self, pk: int) -> None:
        found = WoodEvent.objects.select_related("workpiece").filter(pk=pk, struck_out=False).first()
        if found is None:
            raise Http404("There is no such note.")
        self.row = found
        self.back = reverse("workpiece", args=[found.workpiece_id])

    def do(self, data: dict[str, Any]) -> str:
        work.take_back_wood_note(event=self.row)
        self.say(f"“{self.row.get_kind_display()}” is taken back: the weights are one series again.")
        return self.back


class AnywayForm(StudioForm):
    words = forms.CharField(
        max_length=300,
        label="Why is it cast all the same?",
        help_text="In your own words. They stay with the piece for good.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class CastAnyway(AtWorkpiece):
    form_class = AnywayForm
    heading, button = "Cast it all the same?", "Cast it all the same"

    def context(self, form: StudioForm) -> dict[str, Any]:
        stops = next((one for one in queries.not_ready([self.piece], self.now) if one.refused), None)
        why = f"{stops.reason}. " if stops else ""
        return {"sub": f"{why}Water in the wood foams the resin. Your words count until it is in the oven again."}

    def do(self, data: dict[str, Any]) -> str:
        work.cast_all_the_same(workpiece=self.piece, words=data["words"], at=self.now, by=self.by, now=self.now)
        self.say(f"{self.piece.number} may be cast. Your words stay with it.")
        return self.home


urlpatterns = [
    path("bench/<int:pk>/bag/", Bag.as_view(), name="workpiece_bag"),
    path("bench/<int:pk>/unbag/", Unbag.as_view(), name="workpiece_unbag"),
    path("bench/<int:pk>/fog/", Fog.as_view(), name="workpiece_fog"),
    path("bench/<int:pk>/wood/<slug:kind>/", WoodNote.as_view(), name="workpiece_wood_note"),
    path("bench/wood-note/<int:pk>/take-back/", TakeBackWoodNote.as_view(), name="wood_note_take_back"),
    path("bench/<int:pk>/cast-anyway/", CastAnyway.as_view(), name="workpiece_cast_anyway"),
]
