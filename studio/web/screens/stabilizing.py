"""Through the bath: oven-dry, drained, baked. What the wood drank is the third weight over the first."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone

from studio.equipment import queries as equipment
from studio.fields.errors import Refused
from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.people import roles
from studio.people import settings as answers
from studio.stores import operations as stores
from studio.stores import queries as stock
from studio.web.deeds import Deed, Reading
from studio.web.forms import StudioForm, Typed
from studio.web.screens.loads import keys_of
from studio.web.screens.soak_words import advice_words, bath_notes, loss_words, order
from studio.work import operations as work
from studio.work import queries
from studio.work.models import StabilizingItem, Workpiece
from studio.work.queries.soaking import Dry, Soaked, SoakingPage

MOST_ROWS = 40
BATH_THERE = "bath_there"


class StartForm(StudioForm):
    """A tick and an oven-dry weight for each piece; the last weighing stands in the box."""

    bath = forms.ChoiceField(widget=forms.RadioSelect, label="Which bath?")
    at = MomentField(label="When did they go in?")

    def __init__(self, *args: Any, baths: Sequence[stock.BathRow], ready: Sequence[Dry], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.baths = {str(row.bath.pk): row.bath for row in baths}
        self.ready = {row.workpiece.pk: row for row in ready}
        field = self.fields["bath"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [(str(row.bath.pk), _bath_words(row)) for row in baths]
        for row in ready:
            piece = row.workpiece
            wood = f", {piece.species.common_name}" if piece.species else ""
            self.fields[f"in_{piece.pk}"] = forms.BooleanField(required=False, label=f"{piece.number}{wood}")
            self.fields[f"dry_{piece.pk}"] = QuantityField(
                dimension="mass", required=False, least=1, widget=Typed(), label=f"{piece.number}, oven-dry weight"
            )
            self.fields[f"dark_{piece.pk}"] = forms.BooleanField(
                required=False, label=f"{piece.number} is dark wood: it darkens the bath"
            )
        self.fields["cooled"] = forms.BooleanField(
            label="Cooled in a closed bag, to room temperature",
            help_text="Hot wood sets the bath off.",
            error_messages={"required": "Let them cool sealed first, then tick this: hot wood sets the bath off."},
        )
        self.fields["bath_mg"] = QuantityField(
            dimension="mass", required=False, least=1, widget=Typed(),
            label="What does the bath weigh now, without wood?",
            help_text="With its vessel, if you weigh it so again after. Leave it empty if you don't weigh it.",
        )  # fmt: skip
        self.order_fields(["bath"])

    def rows(self) -> list[dict[str, Any]]:
        """One row for each piece: its tick, its weight, and what is known of it."""
        return [
            {
                "dry": row,
                "tick": self[f"in_{pk}"],
                "weight": self[f"dry_{pk}"],
                "dark": self[f"dark_{pk}"],
                "advice": advice_words(row.advice),
            }
            for pk, row in self.ready.items()
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        chosen: list[tuple[Workpiece, int]] = []
        dark = set()
        for pk, row in self.ready.items():
            ticked, mass = data.pop(f"in_{pk}", False), data.pop(f"dry_{pk}", None)
            if data.pop(f"dark_{pk}", False):
                dark.add(pk)
            if not ticked or f"dry_{pk}" in self.errors:
                continue
            if mass is None:
                self.add_error(f"dry_{pk}", "Type its oven-dry weight: what it drinks is reckoned on it.")
            else:
                chosen.append((row.workpiece, mass))
        data["dry"], data["dark"] = chosen, dark
        if not chosen and not self.errors:
            self.add_error(None, "Tick what goes into the bath.")
        return data


def _bath_words(row: stock.BathRow) -> str:
    dyed = ", dyed" if row.bath.dyed else ""
    return f"{row.bath.name}, {row.bath.material.name}, {show(row.left, 'mass')} in it{dyed}"


class StabilizeStart(Deed):
    form_class, button, heading = StartForm, "They are in the bath", "Into the bath"
    template_name, section = "stabilizing/start.html", "stores"

    def find(self, **kwargs: Any) -> None:
        self.back = reverse("stores")
        self.baths = stock.baths(costs=False)
        besides = keys_of(self.request)
        found = queries.ready_to_soak()
        found.sort(key=lambda row: (row.workpiece.pk not in besides, row.workpiece.sort_key))
        # what is posted is always among what is read, whatever the others' order is by now
        posted = {name for name in self.request.POST if name.startswith("in_")}
        wanted = [row for row in found if f"in_{row.workpiece.pk}" in posted]
        self.ready = [*wanted, *(row for row in found if row not in wanted)][: max(MOST_ROWS, len(wanted))]

    def form_kwargs(self) -> dict[str, Any]:
        return {"baths": self.baths, "ready": self.ready}

    def initial(self) -> dict[str, Any]:
        found: dict[str, Any] = {f"dry_{row.workpiece.pk}": row.mass_mg for row in self.ready}
        found |= {f"dark_{row.workpiece.pk}": row.dark for row in self.ready}
        found |= {f"in_{key}": True for key in keys_of(self.request)}
        bath = self.request.GET.get("bath", "")
        keys = [str(row.bath.pk) for row in self.baths]
        if bath in keys or len(keys) == 1:
            found["bath"] = bath if bath in keys else keys[0]
        return found

    def context(self, form: StudioForm) -> dict[str, Any]:
        today = answers.local_date(self.now)
        notes = [(row.bath.name, words) for row in self.baths for words in bath_notes(row.bath, today)]
        return {"baths": self.baths, "ready": self.ready, "notes": notes}

    def do(self, data: dict[str, Any]) -> str:
        bath = next(row.bath for row in self.baths if str(row.bath.pk) == data["bath"])
        run = work.start_stabilizing(
            bath=bath, dry=data["dry"], dark=data["dark"], cooled=data["cooled"], bath_mg=data["bath_mg"],
            sure=bool(data.get("sure")), at=moment_or_now(data["at"], self.now), by=self.by,
        )  # fmt: skip
        numbers = ", ".join(piece.number for piece, _ in data["dry"])
        self.say(f"{numbers} {'is' if len(data['dry']) == 1 else 'are'} in {bath.name}.")
        return reverse("stabilizing", args=[run.pk])


def the_run(pk: int) -> SoakingPage:
    found = queries.soaking_page(pk)
    if found is None:
        raise Http404
    return found


class StabilizingPage(Reading):
    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        found = the_run(pk)
        alive = [one.item.workpiece for one in found.pieces if one.item.workpiece.closed_at is None]
        inside = equipment.inside_now(piece.account_id for piece in alive)
        now = timezone.now()
        # what lies in a machine goes into no other: the machine is named instead
        out = [piece for piece in alive if piece.account_id not in inside]
        into = "&".join(f"workpiece={piece.pk}" for piece in out)
        context = {
            "order": order(found, now),
            "unbrushed": [piece for piece in found.unbrushed if piece.closed_at is None],
            "brushed": [one for one in found.pieces if one.item.brushed_at],
            "sinks": [one for one in found.pieces if one.must_sink],
            "loss": loss_words(found.run, sum(one.item.uptake_mg or 0 for one in found.pieces)),
            "notes": [] if found.run.ended_at else bath_notes(found.run.bath, answers.local_date(now)),
            "run": found.run,
            "pieces": [{"one": one, "place": inside.get(one.item.workpiece.account_id)} for one in found.pieces],
            "alive": alive,
            "too_much": [one for one in found.pieces if one.too_much],
            "into": into,
            "loads": list({place.load_id: place.load for place in inside.values()}.values()),
            "may_bench": roles.allowed(request.user, "bench"),
            "costs": roles.allowed(request.user, "see_costs"),
            "section": "stores",
        }
        return render(request, "stabilizing/run.html", context)


class WeightsForm(StudioForm):
    """One weight for each piece of a run that is still there."""

    def __init__(self, *args: Any, pieces: Sequence[Soaked], name: str, words: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for one in pieces:
            known = f"It went in with {show(one.item.dry_mg, 'mass')}."
            if name == "baked" and one.item.drained_mg:
                known += f" Drained it weighed {show(one.item.drained_mg, 'mass')}."
            self.fields[f"{name}_{one.item.workpiece_id}"] = QuantityField(
                dimension="mass", required=name == "baked", least=1, widget=Typed(),
                label=f"{one.item.workpiece.number}, {words}", help_text=known,
            )  # fmt: skip
        self.fields["at"] = MomentField(label="When were they weighed?")


class RunDeed(Deed):
    section, template_name = "stores", "stabilizing/weights.html"
    form_class: type[WeightsForm] = WeightsForm
    name, words = "", ""

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        self.found = the_run(pk)
        self.pieces = [one for one in self.found.pieces if one.item.workpiece.closed_at is None]
        self.back = reverse("stabilizing", args=[pk])

    def form_kwargs(self) -> dict[str, Any]:
        return {"pieces": self.pieces, "name": self.name, "words": self.words}

    def weights(self, data: dict[str, Any]) -> dict[int, int]:
        keys = {one.item.workpiece_id: f"{self.name}_{one.item.workpiece_id}" for one in self.pieces}
        return {pk: data[key] for pk, key in keys.items() if data.get(key)}

    def ask_if_too_much(self, weights: dict[int, int], data: dict[str, Any]) -> None:
        """More than every hollow full means a wrong weight, or resin that sits outside: asked about."""
        if data.get("sure"):
            return
        for one in self.pieces:
            most, mass = self._most(one.item), weights.get(one.item.workpiece_id)
            if most is not None and mass and mass > most:
                number, dry = one.item.workpiece.number, one.item.dry_mg
                raise Refused(
                    f"{number} has room for {show(most - dry, 'mass')} of resin at most; this would be "
                    f"{show(mass - dry, 'mass')}: more than the wood can hold. Was it weighed wet? Look at the "
                    "weights, and scrape off what sits outside. If it is right, say so and send again.",
                    field=f"{self.name}_{one.item.workpiece_id}",
                    code="sure",
                )

    def _most(self, item: StabilizingItem) -> int | None:
        ppm = next(one.most_ppm for one in self.found.pieces if one.item.pk == item.pk)
        return None if ppm is None else item.dry_mg + item.dry_mg * ppm // 1_000_000


class Drained(RunDeed):
    heading, button, name, words = "Drained weights", "That is what they weigh", "drained", "drained"

    def initial(self) -> dict[str, Any]:
        return {f"drained_{one.item.workpiece_id}": one.item.drained_mg for one in self.pieces}

    def do(self, data: dict[str, Any]) -> str:
        weights = self.weights(data)
        if not weights:
            raise Refused("Type what one of them weighs at least.", code="nothing")
        work.record_drained(
            run=self.found.run, weights=weights, at=moment_or_now(data["at"], self.now),
            sure=bool(data.get("sure")), by=self.by,
        )  # fmt: skip
        self.say("The drained weights are kept. Wrap them in foil, and bake as the sheet says.")
        return self.back


class BakedForm(WeightsForm):
    """Beside the weights of the wood those of the bath, which may be left empty."""

    def __init__(self, *args: Any, before_mg: int | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["bath_before_mg"] = QuantityField(
            dimension="mass", required=False, least=1, widget=Typed(), label="What did the bath weigh before?",
            help_text="Without wood, in its vessel. Leave both empty if you don't weigh it.",
        )  # fmt: skip
        self.fields["bath_after_mg"] = QuantityField(
            dimension="mass", required=False, least=1, widget=Typed(), label="What did it weigh after, without wood?",
            help_text="In the same vessel. What is gone and not in the wood is shared by what each kept.",
        )  # fmt: skip
        if before_mg:
            self.initial.setdefault("bath_before_mg", before_mg)


class Baked(RunDeed):
    heading, button, name, words = "Baked and cleaned", "They are done", "baked", "baked and cleaned"
    form_class = BakedForm

    def form_kwargs(self) -> dict[str, Any]:
        return {**super().form_kwargs(), "before_mg": self.found.run.bath_before_mg}

    def _keep_questions(self, form: StudioForm) -> None:
        super()._keep_questions(form)
        if BATH_THERE in self.request.POST:
            form.fields[BATH_THERE] = self._bath_field()

    def _with_refusal(self, form: StudioForm, stop: Refused) -> StudioForm:
        if stop.code != "bath_short":
            return super()._with_refusal(form, stop)
        form.fields.setdefault(BATH_THERE, self._bath_field())
        form.add_error(BATH_THERE, stop.message)
        return form

    def _bath_field(self) -> QuantityField:
        return QuantityField(
            dimension="mass", required=False, least=0, widget=Typed(),
            label=f"How much was really in {self.found.run.bath.name}?",
            help_text="What is in it now and what they drank, together. The books are set to it first.",
        )  # fmt: skip

    def do(self, data: dict[str, Any]) -> str:
        at, run = moment_or_now(data["at"], self.now), self.found.run
        weights = self.weights(data)
        self.ask_if_too_much(weights, data)
        if data.get(BATH_THERE) is not None:
            try:
                stores.count_bath(bath=run.bath, really_there=data[BATH_THERE], at=at, **self.stamp)
            except Refused as stop:
                field = BATH_THERE if stop.field == "really_there" else stop.field
                raise Refused(stop.message, field=field, code=stop.code) from stop
        after = data["bath_after_mg"]
        done = work.finish_stabilizing(
            run=run, baked=weights, at=at, bath_before_mg=data["bath_before_mg"] if after else None,
            bath_after_mg=after, sure=bool(data.get("sure")), **self.stamp,
        )  # fmt: skip
        self.say(f"{self._drank(weights)} Brush the cured skin off before casting.")
        if done.lost_mg:
            self.say(f"{show(done.lost_mg, 'mass')} dripped off and bled out, shared by what each kept.")
        return self.back

    def _drank(self, weights: dict[int, int]) -> str:
        parts = []
        for one in self.pieces:
            mass = weights.get(one.item.workpiece_id)
            if mass:
                share = (mass - one.item.dry_mg) * 1_000_000 // one.item.dry_mg
                words = f"{show(mass - one.item.dry_mg, 'mass')}, {show(share, 'share', digits=0)} of its dry weight"
                parts.append(f"{one.item.workpiece.number} kept {words}")
        return "; ".join(parts) + "." if parts else "The run is over."


urlpatterns = [
    path("stabilizing/new/", StabilizeStart.as_view(), name="stabilize_start"),
    path("stabilizing/<int:pk>/", StabilizingPage.as_view(), name="stabilizing"),
    path("stabilizing/<int:pk>/drained/", Drained.as_view(), name="stabilizing_drained"),
    path("stabilizing/<int:pk>/baked/", Baked.as_view(), name="stabilizing_baked"),
]
