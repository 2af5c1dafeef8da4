"""A mix sheet typed in later: the figures of the paper in its own order, booked in one go."""

from datetime import datetime, timedelta
from typing import Any

from django.urls import path, reverse

from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.web.forms import StudioForm, Typed
from studio.web.screens.pour import asked, plan_query
from studio.web.screens.pour_book import Book
from studio.web.screens.pour_forms import BookForm
from studio.web.screens.pour_mix import grams
from studio.web.screens.pour_swirls import taken_names
from studio.work.queries import PourPlan
from studio.work.queries.pour_parts import Cup

# A mix that met its parts longer ago than this wasn't poured at that time.
LONGEST = timedelta(days=1)
# `taken_0_1` is a colour in a cup for swirls, `taken_0` the cup.
OF_COLOUR = 2


class SheetForm(BookForm):
    """Cup by cup what the scale showed, as the sheet asks it; what is left empty was on its target.

    `other`: the sheet was printed for other figures, so that nothing may be left empty.
    """

    def __init__(self, *args: Any, plan: PourPlan, now: datetime, other: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, plan=plan, **kwargs)
        self.plan, self.now, self.other = plan, now, other
        cups = plan.cups or (Cup(plan.a_mg, plan.b_mg, plan.colorant_mg),)
        self.cups = cups
        for name in ("poured_a", "poured_b", "colorants"):
            self.fields.pop(name, None)
        for place, cup in enumerate(cups):
            self._add_cup(place, cup)
        for name, mg in taken_names(plan).items():
            field = self.fields[name]
            field.required, field.initial = self.other, None
            field.help_text = f"{'' if self.other else f'Empty: {grams(mg)} g. '}0 if there was none."
        for place, fill in enumerate(plan.fills):
            name = fill.wanted.mould.name if fill.wanted.mould else f"mould {place + 1}"
            self._ask(f"into_{place}", f"Poured into {name}", fill.planned_mg, 1)
            field = self.fields[f"into_{place}"]
            field.required, field.help_text = False, "Only if it was weighed. Empty: shared as planned."
        self.fields["began"] = MomentField(label="A met B at", help_text="Leave it empty if nobody wrote it down.")
        self.fields["at"] = MomentField(label="Poured at", help_text="", required=True)
        self.order_fields([*self._order(), "began", "at"])

    def _add_cup(self, place: int, cup: Cup) -> None:
        self._ask(f"a_{place}", "Part A: it showed", cup.a_mg, 1)
        if self.plan.colorant is not None and cup.colorant_mg:
            self._ask(f"c_{place}", f"{self.plan.colorant.name}: it weighed", cup.colorant_mg, 0)
        self._ask(f"b_{place}", "Part B: it showed", cup.a_mg + cup.colorant_mg + cup.b_mg, 1)

    def _ask(self, name: str, label: str, target_mg: int, least: int) -> None:
        self.fields[name] = QuantityField(
            dimension="mass", least=least, widget=Typed(), label=label, required=self.other,
            help_text="" if self.other else f"Empty: {grams(target_mg)} g.",
        )  # fmt: skip

    def _order(self) -> list[str]:
        cups = [f"{part}_{place}" for place in range(len(self.cups)) for part in "acb"]
        rest = [name for begins in ("taken_", "into_") for name in self.fields if name.startswith(begins)]
        return cups + rest

    def groups(self) -> list[tuple[str, list[Any]]]:
        """Under the headings of the sheet; several cups are told apart."""
        several = len(self.cups) > 1
        found = [
            (f"Cup {place + 1}" if several else "At the scale",
             [self[name] for part in "acb" if (name := f"{part}_{place}") in self.fields])
            for place in range(len(self.cups))
        ]  # fmt: skip
        for heading, begins in (("Cups for swirls", "taken_"), ("Into the moulds", "into_")):
            found.append((heading, [self[name] for name in self.fields if name.startswith(begins)]))
        found.append(("When", [self["began"], self["at"]]))
        named = {field.name for _, fields in found for field in fields}
        found.append(("What else", [field for field in self.visible_fields() if field.name not in named]))
        return [group for group in found if group[1]]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        self._times(data)
        sums = [self._cup(place, cup, data) for place, cup in enumerate(self.cups)]
        for name, mg in taken_names(self.plan).items():
            data[name] = mg if data.get(name) is None else data[name]
        if not self.errors:
            data["poured_a"], data["colorants"], data["poured_b"] = (sum(part) for part in zip(*sums, strict=True))
            self._into(data)
        return data

    def _cup(self, place: int, cup: Cup, data: dict[str, Any]) -> tuple[int, int, int]:
        """(A, colour, B) of one cup: what the scale showed last less what was in it before is Part B."""
        typed_a, typed_c, typed_b = (data.get(f"{part}_{place}") for part in "acb")
        a = cup.a_mg if typed_a is None else typed_a
        colour = cup.colorant_mg if typed_c is None else typed_c
        if typed_b is None and a != cup.a_mg and f"b_{place}" not in self.errors:
            words = f"Part A stopped at {grams(a)}, not at {grams(cup.a_mg)}: say what the scale showed after Part B."
            self.add_error(f"b_{place}", words)
        shown = cup.a_mg + cup.colorant_mg + cup.b_mg if typed_b is None else typed_b
        if shown <= a + colour and f"b_{place}" not in self.errors:
            words = f"The scale can't show less than the {grams(a + colour)} that were in the cup before Part B."
            self.add_error(f"b_{place}", words)
        return a, colour, shown - a - colour

    def _times(self, data: dict[str, Any]) -> None:
        at, began = data.get("at"), data.get("began")
        if not str(self.data.get("at", "")).strip():
            self.errors.pop("at", None)
            self.add_error("at", "Say when it was poured: it stands on the sheet.")
        if at is None or began is None:
            return
        if began > moment_or_now(at, self.now):
            self.add_error("began", "A met B before it was poured. Look at both times.")
        elif at - began > LONGEST:
            self.add_error("began", "That is more than a day before it was poured. Look at both times.")

    def _into(self, data: dict[str, Any]) -> None:
        """What went into the moulds came out of the cup."""
        told = [mg for place in range(len(self.plan.fills)) if (mg := data.get(f"into_{place}"))]
        swirled = sum(data[name] for name in taken_names(self.plan) if name.count("_") == OF_COLOUR)
        mixed = data["poured_a"] + data["poured_b"] + data["colorants"] + swirled
        if sum(told) > mixed + self.plan.step_mg * len(told):
            words = f"More went into the moulds than was mixed, {grams(mixed)} g. Look at the figures."
            self.add_error("into_0", words)


class TypedIn(Book):
    """The plan stands in the address, as for the booking at the bench; the wood is judged as it was then."""

    form_class: type[BookForm] = SheetForm
    button, heading = "It was poured so", "Type in a mix sheet"
    template_name = "pour/typed.html"

    def find(self, **kwargs: Any) -> None:
        self.plan = asked(self.request.GET, self.now, wood=False).plan
        self.back = f"{reverse('pour_plan')}?{plan_query(self.request.GET)}"

    def form_kwargs(self) -> dict[str, Any]:
        return {"plan": self.plan, "now": self.now, "other": self._other()}

    def initial(self) -> dict[str, Any]:
        return {}

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"plan": self.plan, "other": self._other()}

    def _other(self) -> bool:
        """Whether the sheet was printed for other figures than the plan has now."""
        printed = self.request.GET.get("sheet", "")
        return bool(self.plan and printed and printed != str(self.plan.total_mg))

    def began_at(self, data: dict[str, Any]) -> datetime | None:
        found: datetime | None = data["began"]
        return found


urlpatterns = [path("pour/typed/", TypedIn.as_view(), name="pour_typed")]
