"""The lathe card: how a piece is held, how fast it may run, what is inside it, and the clock."""

from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone

from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.people.roles import allowed
from studio.web.deeds import Reading
from studio.web.forms import StudioForm, Typed
from studio.web.screens import clock
from studio.web.screens.bench_base import AtWorkpiece, Chips
from studio.web.screens.round_lines import CLOCKED
from studio.work import queries as work
from studio.work.models import Balance, Holding, Mount, Outcome, StepCode, Workpiece
from studio.work.operations.mount import LEAST_UM, MOST_UM, mount
from studio.work.queries.lathe import Lathe, lathe_card

# What of a casting is said before it turns.
SEEN = {
    Outcome.What.VOID: "It came out with a void: it may be heavy on one side.",
    Outcome.What.SOFT: "It came out soft: turn it only once it is cured through.",
    Outcome.What.CRACKED: "It came out cracked: it may let go.",
    Outcome.What.LEAK: "Its mould leaked: look where the resin is missing.",
    Outcome.What.FLOATED: "Its wood floated: it sits elsewhere than planned.",
}


def home(piece: Workpiece) -> str:
    return reverse("lathe_card", args=[piece.pk])


class LatheCard(Reading):
    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        piece = work.workpiece(pk)
        if piece is None:
            raise Http404("There is no such workpiece.")
        card = lathe_card(piece, timezone.now())
        running = [run for run in work.running_clocks() if any(s.workpiece_id == pk for s in run.shares.all())]
        ahead = work.next_code(piece)
        context = {
            "piece": piece,
            "card": card,
            "inside": inside(card),
            "why": why(card),
            "held": held(card.now) if card.now else [],
            "earlier": [(row, held(row)) for row in card.earlier],
            "clock": next((run for run in running if run.person_id == request.user.pk), None),
            "others": [run for run in running if run.person_id != request.user.pk],
            "code": ahead if ahead in CLOCKED else str(StepCode.TURN),
            "may_bench": allowed(request.user, "bench") and piece.closed_at is None,
            "no_plate": [one.lathe for one in card.limits if one.lathe and one.lathe.highest_rpm is None],
            "may_equipment": allowed(request.user, "equipment"),
        }
        return render(request, "bench/lathe_card.html", context)


def inside(card: Lathe) -> list[tuple[str, str]]:
    """What is inside it or is wrong with it, the worst first: a heading and a sentence."""
    told = [("A screw sits in it:", f"{words}. Keep the tool off it.") for words in card.screws]
    for row in card.seen:
        told.append((SEEN[Outcome.What(row.what)], row.words))
    for said in card.overruled:
        told.append(("It was cast though not known to be dry:", f"“{said.words}” It may foam inside, move or crack."))
    return list(dict.fromkeys(told))


def why(card: Lathe) -> str:
    """Say where the speed limit comes from."""
    if card.now is None or card.now.across_um is None or card.rpm is None:
        return ""
    runs = "taken as heavy on one side, for what is inside" if card.doubtful else card.now.get_balance_display()
    rim = f"; its rim runs {round(card.rim_m_s)} m/s then" if card.rim_m_s and card.rim_m_s >= 1 else ""
    words = f"{show(card.now.across_um, 'length')} across, {runs}{rim}"
    least = next(limit for limit in card.limits if limit.rpm == card.rpm)
    if least.by_plate and least.lathe is not None:
        return f"{words}. The plate of {least.lathe} allows no more."
    return f"{words}. Common practice, no source: the lathe’s plate and manual decide."


def held(row: Mount) -> list[tuple[str, str]]:
    """The mount in words, what isn't known left out."""
    told = [
        ("Held by", row.get_how_display()),
        ("Waste block and glue", row.waste_words),
        ("Tenon or recess", show(row.held_um, "length") + " across" if row.held_um else ""),
        ("Jaws", row.jaws),
        ("Mark at jaw one", row.jaw_one),
        ("Widest", show(row.across_um, "length") if row.across_um else ""),
        ("Wall wanted", show(row.wall_um, "length") if row.wall_um else ""),
        ("It stays on", "kept for a later repair" if row.kept else ""),
        ("Note", row.note),
    ]
    return [(word, said) for word, said in told if said]


def _length(label: str, help_text: str = "") -> QuantityField:
    return QuantityField(
        dimension="length", required=False, least=LEAST_UM, most=MOST_UM, widget=Typed(letters=True), label=label,
        help_text=help_text,
    )  # fmt: skip


def _words(most: int, label: str, help_text: str = "") -> forms.CharField:
    return forms.CharField(max_length=most, required=False, label=label, help_text=help_text)


class MountForm(StudioForm):
    how = forms.ChoiceField(choices=Holding.choices, widget=Chips, label="How is it held?")
    balance = forms.ChoiceField(choices=Balance.choices, widget=Chips, label="How does it run?")
    across_um = _length("How wide is it where it is widest?", "The speed limit comes from it.")
    wall_um = _length("What wall do you want?")
    held_um = _length("How wide is the tenon or recess?")
    jaws = _words(80, "Which jaws?")
    jaw_one = _words(80, "Where is the mark for jaw one?", "Put it back the same way round and it runs true again.")
    waste_words = _words(120, "What waste block, what glue?")
    kept = forms.BooleanField(required=False, label="The mount stays on it for a later repair")
    note = _words(300, "A note")
    at = MomentField(label="Since when?")
    fieldsets = (
        ("", ("how", "balance", "across_um", "wall_um")),
        ("So that it can be put back", ("held_um", "jaws", "jaw_one", "waste_words", "kept")),
        ("If you like", ("note", "at")),
    )


class Mounted(AtWorkpiece):
    form_class = MountForm
    template_name = "bench/lathe_mount.html"
    heading, button = "On the lathe", "It is held so"

    def find(self, pk: int, **_: Any) -> None:
        super().find(pk)
        self.back = home(self.piece)
        self.last = lathe_card(self.piece, self.now).now

    def initial(self) -> dict[str, Any]:
        if self.last is None:
            return {"balance": Balance.ROUGH}
        names = ("how", "balance", "across_um", "wall_um", "held_um", "jaws", "jaw_one", "waste_words", "kept")
        return {name: getattr(self.last, name) for name in names}

    def do(self, data: dict[str, Any]) -> str:
        at = moment_or_now(data.pop("at"), self.now)
        known = {key: value for key, value in data.items() if key != "sure"}
        row = mount(workpiece=self.piece, at=at, by=self.by, now=self.now, **known)
        self.say(f"{self.piece.number}: {row.get_how_display()}. Turn it by hand once before you switch on.")
        return self.back


class Start(clock.Start):
    """The same clock, and back to the card."""

    @property
    def home(self) -> str:
        return home(self.piece)


urlpatterns = [
    path("bench/<int:pk>/lathe/", LatheCard.as_view(), name="lathe_card"),
    path("bench/<int:pk>/lathe/mount/", Mounted.as_view(), name="lathe_mount"),
    path("bench/<int:pk>/lathe/clock/", Start.as_view(), name="lathe_start"),
]
