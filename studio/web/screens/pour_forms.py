"""What a pour is asked: which resin, which moulds, which blanks in them; and what the scale showed."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.http import QueryDict

from studio.equipment import queries as equipment
from studio.equipment.models import Mould
from studio.fields.forms import MomentField, QuantityField
from studio.fields.listing import listed
from studio.fields.quantity import show
from studio.stores import queries as stores
from studio.stores.models import MaterialKind, ResinSystem
from studio.web.forms import StudioForm, Typed
from studio.web.screens.loads_forms import NumbersField
from studio.web.screens.pour_pot import NAMES, add_pot, clock_wanted
from studio.web.screens.pour_swirls import add_swirl, add_taken, check_swirls, names_of, read_swirls
from studio.work.models import Workpiece
from studio.work.queries import ClockWanted, FillWanted, PourPlan, SwirlWanted

MOST_MOULDS = 12
MOST_SWIRLS = 4
NO_MOULD = "none"
LONGEST_ROOM_MM3 = 10**9
BARK = (
    ("", "As its own page says"),
    ("none", "None"),
    ("in", "Yes, and it stays in"),
    ("out", "Cleaned out, then weighed"),
    ("gone", "Weighed, then cleaned out"),
)


class PlanForm(StudioForm):
    """A form sent by GET, so that a plan has an address. `rows` moulds, each with the blanks that lie in it, and
    `cups` taken out after mixing for swirls."""

    def __init__(
        self,
        data: QueryDict | None,
        *,
        rows: int,
        ready: Sequence[tuple[Workpiece, str]],
        initial: dict[str, Any],
        cups: int = 0,
    ) -> None:
        super().__init__(data, initial=initial)
        self.rows, self.ready, self.cups = rows, {str(row.pk): row for row, _ in ready}, cups
        self.systems = {str(one.pk): one for one in stores.resin_systems()}
        self.colours = {str(one.pk): one for one in stores.materials(kinds=[MaterialKind.COLORANT])}
        self.moulds: dict[str, Mould] = {str(one.pk): one for one in equipment.moulds()}
        resins = [(pk, one.name) for pk, one in self.systems.items()]
        self.fields["system"] = forms.ChoiceField(choices=resins, widget=forms.RadioSelect, label="Which resin?")
        self.fields["colorant"] = forms.ChoiceField(
            choices=[("", "No colour"), *((pk, one.name) for pk, one in self.colours.items())],
            required=False, label="Which colour?",
        )  # fmt: skip
        self.fields["share"] = QuantityField(
            dimension="share", required=False, widget=Typed(), least=0, most=1_000_000, label="How much colour?",
            help_text="Percent of the mixed resin.",
        )  # fmt: skip
        self.fields["warmth"] = QuantityField(
            dimension="temperature", required=False, widget=Typed(), label="How warm is the resin itself?",
            help_text="In its cup, before it is mixed. Empty: as warm as the shop.", least=-20_000, most=60_000,
        )  # fmt: skip
        moulds = [(pk, f"{one.name}, {show(equipment.mould_mm3(one), 'volume')}") for pk, one in self.moulds.items()]
        for row in range(rows):
            self._add_row(row, moulds, [(str(piece.pk), words) for piece, words in ready])
        for cup in range(cups if self.colours else 0):
            add_swirl(self, cup, rows, [(pk, one.name) for pk, one in self.colours.items()])
        self.pots = add_pot(self)
        self.fields["system"].error_messages["required"] = "Choose one of these."

    def _add_row(self, row: int, moulds: list[tuple[str, str]], pieces: list[tuple[str, str]]) -> None:
        self.fields[f"mould_{row}"] = forms.ChoiceField(
            choices=[*moulds, (NO_MOULD, "None of ours")], initial=NO_MOULD, label="Which mould?"
        )
        if pieces:
            self.fields[f"blanks_{row}"] = forms.MultipleChoiceField(
                choices=pieces, required=False, widget=forms.CheckboxSelectMultiple, label="What lies in it?",
                error_messages={"invalid_choice": "One of these is no longer on the bench. Choose again."},
            )  # fmt: skip
        self.fields[f"others_{row}"] = NumbersField()
        self.fields[f"level_{row}"] = QuantityField(
            dimension="length", required=False, least=1, widget=Typed(letters=True), label="Filled how high?",
            help_text="Empty: to the rim.",
        )  # fmt: skip
        self.fields[f"room_{row}"] = QuantityField(
            dimension="volume", required=False, least=1, widget=Typed(letters=True), label="How much does it hold?",
            help_text="Only where the mould is none of ours.", most=LONGEST_ROOM_MM3,
        )  # fmt: skip
        self.fields[f"wood_{row}"] = QuantityField(
            dimension="volume", required=False, least=0, widget=Typed(letters=True),
            label="How much room does the wood take?",
            help_text="If you measured it in water or sand. Empty: reckoned from its weight.", most=LONGEST_ROOM_MM3,
        )  # fmt: skip
        self.fields[f"bark_{row}"] = forms.ChoiceField(
            choices=BARK, required=False, label="Is there bark inside it?"
        )
        self.fields[f"needs_{row}"] = QuantityField(
            dimension="volume", required=False, least=1, widget=Typed(letters=True), most=LONGEST_ROOM_MM3,
            label="Or how much does the turned piece need?",
            help_text="Wood and resin together, with what you turn away. Empty: the mould is filled.",
        )  # fmt: skip
        self.fields[f"extra_{row}"] = QuantityField(
            dimension="volume", required=False, least=0, widget=Typed(letters=True), most=LONGEST_ROOM_MM3,
            label="What does it take besides?", help_text="A riser on top, a hollow under the wood.",
        )  # fmt: skip

    def head(self) -> list[Any]:
        return [self["system"], self["warmth"]]

    def colour(self) -> list[Any]:
        return [self["colorant"], self["share"]] if self.colours else []

    def pot(self) -> dict[str, Any]:
        """The fields of pot and vacuum, and whether something was said there."""
        fields = [self[name] for name in NAMES if name in self.fields]
        return {"fields": fields, "open": any(field.errors or field.value() for field in fields)}

    def clock(self) -> ClockWanted:
        return clock_wanted(self.cleaned_data, self.pots)

    def fills(self) -> list[dict[str, Any]]:
        """The fields of each mould, the usual ones and the rest."""
        found = []
        for row in range(self.rows):
            usual = [name for name in (f"mould_{row}", f"blanks_{row}") if name in self.fields]
            rest = [f"{name}_{row}" for name in ("others", "level", "needs", "bark", "room", "wood", "extra")]
            wide = any(self[name].errors or self[name].value() for name in rest)
            found.append(
                {"usual": [self[name] for name in usual], "rest": [self[name] for name in rest], "open": wide}
            )
        return found

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("colorant") and data.get("share") is None and "share" not in self.errors:
            self.add_error("share", "Say how much of it: 0.5 is half a percent of the mixed resin.")
        for row in range(self.rows):
            mould = self.moulds.get(data.get(f"mould_{row}", ""))
            if mould is not None and data.get(f"room_{row}"):
                self.add_error(
                    f"room_{row}",
                    f"What {mould.name} holds is known. Leave this empty, or choose none of ours as the mould. The "
                    "room of the wood is asked for below.",
                )
        check_swirls(self, data, range(self.cups), self._filled(data))
        return data

    def swirl_fields(self) -> list[list[Any]]:
        return [[self[name] for name in names_of(cup) if name in self.fields] for cup in range(self.cups)]

    def swirls(self) -> tuple[SwirlWanted, ...]:
        """The cups that take something; those left empty are left out."""
        return read_swirls(self.cleaned_data, range(self.cups), self._filled(self.cleaned_data), self.colours)

    def chosen_system(self) -> ResinSystem:
        return self.systems[self.cleaned_data["system"]]

    def _filled(self, data: dict[str, Any]) -> list[int]:
        """The moulds something was said of; rows left empty are left out."""
        said = ("blanks", "others", "room")
        return [
            row for row in range(self.rows)
            if data.get(f"mould_{row}") in self.moulds or any(data.get(f"{name}_{row}") for name in said)
        ]  # fmt: skip

    def wanted(self) -> list[FillWanted]:
        """What was filled in, mould by mould; rows left empty are left out."""
        data, found = self.cleaned_data, []
        for row in self._filled(data):
            blanks = [self.ready[pk] for pk in data.get(f"blanks_{row}", []) if pk in self.ready]
            known = {blank.pk for blank in blanks}
            blanks += [piece for piece in data[f"others_{row}"] if piece.pk not in known]
            mould = self.moulds.get(data[f"mould_{row}"])  # none of ours is no key of it
            found.append(
                FillWanted(
                    mould, tuple(blanks), data[f"level_{row}"], data[f"room_{row}"], data[f"wood_{row}"],
                    data[f"extra_{row}"] or 0, data[f"needs_{row}"], data[f"bark_{row}"],
                )
            )
        return found


class BookForm(StudioForm):
    """What the scale really showed. Titles are asked for castings that are new workpieces."""

    poured_a = QuantityField(dimension="mass", widget=Typed(), label="Part A in the cup")
    poured_b = QuantityField(dimension="mass", widget=Typed(), label="Part B in the cup")
    colorants = QuantityField(dimension="mass", least=0, widget=Typed(), label="Colour")
    colour_words = forms.CharField(
        max_length=120, required=False, label="How would you call the colour?", help_text="As a card should say it."
    )
    off_ratio_words = forms.CharField(
        max_length=200, required=False, label="If the ratio went wrong: what happened?",
        help_text="It stays on the casting.",
    )  # fmt: skip
    at = MomentField(label="When was it poured?")

    def __init__(self, *args: Any, plan: PourPlan, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if plan.colorant is None:
            del self.fields["colorants"]
            if not plan.swirls:
                del self.fields["colour_words"]
        else:
            self.fields["colorants"].label = f"{plan.colorant.name} in it"
        add_taken(self, plan)
        for place, fill in enumerate(plan.fills):
            if len(fill.blanks) == 1:
                continue
            what = listed(blank.workpiece.number for blank in fill.blanks) or "the block of resin"
            self.fields[f"title_{place}"] = forms.CharField(
                max_length=200, required=False, label=f"What will {what} be called?"
            )
        self.order_fields(
            ["poured_a", "poured_b", "colorants", *(name for name in self.fields if name.startswith("taken_"))]
            + ["off_ratio_words", "colour_words"]
            + [name for name in self.fields if name.startswith("title_")]
        )


class ThickenedForm(StudioForm):
    at = MomentField(label="When did it thicken?")
