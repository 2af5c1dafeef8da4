"""At the mould, before anything is mixed: five ticks, where a screw sits, and the seal coat's grams."""

from datetime import datetime
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import path, reverse

from studio.fields.errors import Refused
from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.stores import queries as stores
from studio.stores.models import MaterialKind
from studio.web import saying
from studio.web.deeds import Deed
from studio.web.forms import StudioForm, Typed
from studio.web.screens.pour import plan_query, wanted_of
from studio.web.screens.stores_short import OffersCount
from studio.work import operations as work
from studio.work import queries
from studio.work.queries import FillWanted, Prepared

COATS = (MaterialKind.FINISH, MaterialKind.CONSUMABLE, MaterialKind.STABILIZING)


def unready_words(ready: Prepared, now: datetime) -> list[str]:
    """What is still asked of one mould before the mix: `Long box: no release, not levelled`."""
    found = [f"{ready.name}: {', '.join(ready.missing)}."] if ready.missing else []
    coat, row = ready.coat(now), ready.row
    if coat == "early" and row and row.coat_from_at:
        found.append(f"{ready.name}: the seal coat wants until {clock(row.coat_from_at, now)}.")
    elif coat == "late" and row and row.coat_until_at:
        until = clock(row.coat_until_at, now)
        found.append(f"{ready.name}: the seal coat was to be poured on by {until}. Scuff it, or coat it again.")
    return found


def clock(moment: datetime, now: datetime) -> str:
    return saying.when(moment, now, clock=True)


def coat_words(ready: Prepared, now: datetime) -> str:
    """The seal coat's grams and its window, where they are known."""
    row = ready.row
    if row is None or row.coated_at is None or not row.coat_mg:
        return ""
    said = f"Seal coat: {show(row.coat_mg, 'mass')} of {row.coat_resin or row.coat_material}"
    if row.coat_from_at:
        said += f", not before {clock(row.coat_from_at, now)}"
    if row.coat_until_at:
        said += f", not after {clock(row.coat_until_at, now)}"
    return f"{said}."


class TickForm(StudioForm):
    tick = forms.CharField(max_length=20, widget=forms.HiddenInput)


class AtMould(Deed):
    """A deed on one mould of the plan in the address; `place` says which."""

    section = "stores"
    fills: list[FillWanted]

    def find(self, **kwargs: Any) -> None:
        self.back = f"{reverse('pour_plan')}?{plan_query(self.request.GET)}"
        self.fills = wanted_of(self.request.GET)

    def get(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        if not self.fills:
            return HttpResponseRedirect(self.back)
        self.fill(request.GET.get("place", "0"))
        return super().get(request, **kwargs)

    def fill(self, place: str) -> FillWanted:
        if not place.isdecimal() or len(place) > 2 or int(place) >= len(self.fills):
            raise Http404
        return self.fills[int(place)]

    def here(self) -> tuple[FillWanted, str]:
        """The mould the address names, and what it is called."""
        place = self.request.GET.get("place", "0")
        fill = self.fill(place)
        return fill, fill.mould.name if fill.mould else f"mould {int(place) + 1}"


class Ready(AtMould):
    """One tap: `2 level on`. Opened, it leads back to the plan."""

    form_class, heading, button = TickForm, "At the mould", "It is done"

    def get(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        return HttpResponseRedirect(self.back)

    def do(self, data: dict[str, Any]) -> str:
        place, _, rest = data["tick"].partition(" ")
        what, _, way = rest.partition(" ")
        fill = self.fill(place)
        codes = [tick.code for tick in queries.prepared([fill])[0].ticks] if what == "all" else [what]
        if way not in ("on", "off"):
            raise Refused("There is nothing of that kind to tick.")
        for code in codes:
            work.tick_ready(
                mould=fill.mould, blanks=fill.blanks, what=code, done=way == "on", at=self.now, now=self.now,
                by=self.by,
            )  # fmt: skip
        return f"{self.back}#ready"


class HeldForm(StudioForm):
    screw_words = forms.CharField(
        max_length=120, required=False, label="Where does a screw sit in it?",
        help_text="Such as: in the foot, 20 mm deep. It stays in red on the lathe card. Empty: wedge or weight.",
    )  # fmt: skip


class Held(AtMould):
    form_class, heading, button = HeldForm, "Is the wood held down?", "It is held down"

    def do(self, data: dict[str, Any]) -> str:
        fill, name = self.here()
        work.tick_ready(
            mould=fill.mould, blanks=fill.blanks, what="held", done=True, screw_words=data["screw_words"],
            at=self.now, now=self.now, by=self.by,
        )  # fmt: skip
        screw = f": screw {data['screw_words']}" if data["screw_words"] else ""
        self.say(f"The wood in {name} is held down{screw}.")
        return self.back


class CoatForm(StudioForm):
    of = forms.ChoiceField(label="What is the seal coat of?")
    mass = QuantityField(dimension="mass", least=1, widget=Typed(), label="How many grams, mixed?")
    from_s = QuantityField(
        dimension="duration", unit="h", required=False, least=1, widget=Typed(letters=True),
        label="From when may it be poured on?", help_text="Hours after the coat, from its sheet or your own habit.",
    )  # fmt: skip
    until = QuantityField(
        dimension="duration", unit="h", required=False, least=1, widget=Typed(letters=True),
        label="And until when?", help_text="While it is still tacky. After that it wants to be scuffed.",
    )  # fmt: skip
    at = MomentField(label="When did it go on?")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.resins = {f"r{one.pk}": one for one in stores.resin_systems()}
        self.materials = {f"m{one.pk}": one for one in stores.materials(kinds=COATS) if not one.counted}
        field = self.fields["of"]
        assert isinstance(field, forms.ChoiceField)
        resins = [(key, one.name) for key, one in self.resins.items()]
        field.choices = [*resins, *((key, one.name) for key, one in self.materials.items())]


class Coat(OffersCount, AtMould):
    form_class, heading, button = CoatForm, "The seal coat", "It is on"

    def form_kwargs(self) -> dict[str, Any]:
        return {}

    def initial(self) -> dict[str, Any]:
        system = self.request.GET.get("system", "")
        return {"of": f"r{system}"} if system else {}

    def do(self, data: dict[str, Any]) -> str:
        fill, name = self.here()
        form = CoatForm()
        row = work.seal_coat(
            mould=fill.mould, blanks=fill.blanks, resin=form.resins.get(data["of"]),
            material=form.materials.get(data["of"]), mass_mg=data["mass"], from_s=data["from_s"],
            until_s=data["until"], at=moment_or_now(data["at"], self.now), **self.said_of_stores(data), **self.stamp,
        )  # fmt: skip
        self.say(f"{show(row.coat_mg or 0, 'mass')} of seal coat on the wood in {name}.")
        return self.back


urlpatterns = [
    path("pour/ready/", Ready.as_view(), name="pour_ready"),
    path("pour/ready/held/", Held.as_view(), name="pour_held"),
    path("pour/ready/coat/", Coat.as_view(), name="pour_coat"),
]
