"""What a load is asked, by the kind of machine."""

from collections.abc import Sequence
from typing import Any

from django import forms

from studio.equipment.models import Machine, MachineKind, Purpose
from studio.equipment.operations.loads import PURPOSES
from studio.fields.forms import MomentField, QuantityField
from studio.web.forms import StudioForm, Typed
from studio.work.models import Workpiece
from studio.work.queries.tags import by_number, why_absent

MOST_NUMBERS = 400


class NumbersField(forms.CharField):
    """Numbers as one would call them out: `41/3, 38/1`. Cleans to workpieces on the bench."""

    def __init__(self, **how: Any) -> None:
        how.setdefault("required", False)
        how.setdefault("max_length", MOST_NUMBERS)
        how.setdefault("label", "Others, by their numbers")
        how.setdefault("help_text", "Such as 41/3, 38/1.")
        super().__init__(**how)

    def clean(self, value: Any) -> list[Workpiece]:
        numbers = [" ".join(part.split()) for part in super().clean(value).replace(";", ",").split(",")]
        numbers = [number for number in dict.fromkeys(numbers) if number]
        found = by_number(numbers)
        unknown = [number for number in numbers if number not in found]
        if unknown:
            raise forms.ValidationError(why_absent(unknown))
        return [found[number] for number in numbers]


class PiecesForm(StudioForm):
    """Ticks for what is ready, and a box for the numbers of anything else. Cleans to one list, `pieces`."""

    workpieces = forms.MultipleChoiceField(
        required=False, widget=forms.CheckboxSelectMultiple, label="What goes in?"
    )
    others = NumbersField()

    def __init__(self, *args: Any, ready: Sequence[tuple[Workpiece, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ready = {str(row.pk): row for row, _ in ready}
        field = self.fields["workpieces"]
        assert isinstance(field, forms.MultipleChoiceField)
        field.choices = [(str(row.pk), words) for row, words in ready]
        field.needed = True  # type: ignore[attr-defined]  # ticks or numbers: one of them
        if not ready:
            del self.fields["workpieces"]
            self.fields["others"].required = True
            self.fields["others"].label = "What goes in, by its number?"

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        chosen = [self.ready[pk] for pk in data.pop("workpieces", []) if pk in self.ready]
        known = {row.pk for row in chosen}
        chosen += [row for row in data.pop("others", None) or [] if row.pk not in known]
        data["pieces"] = chosen
        if not chosen and not self.errors:
            self.add_error(
                "workpieces" if "workpieces" in self.fields else "others", "Tick what goes in, or write its number."
            )
        return data


def _gauge(label: str, help_text: str) -> QuantityField:
    return QuantityField(dimension="pressure", widget=Typed(letters=True), label=label, help_text=help_text)


class StartForm(PiecesForm):
    purpose = forms.ChoiceField(widget=forms.RadioSelect, label="What for?")
    set_point_mdegc = QuantityField(
        dimension="temperature", required=False, widget=Typed(), label="What is it set to?"
    )
    gauge_pa = _gauge("What pressure will it stand under?", "What the gauge is to show.")
    not_before = MomentField(label="Not to be opened before", help_text="Empty: it may be opened any time.")
    at = MomentField(label="When did it begin?")
    why = forms.CharField(
        max_length=300, required=False, label="Why is it safe all the same?",
        help_text="Only if you go ahead after a warning: it stays with the load.",
    )  # fmt: skip

    def __init__(self, *args: Any, machine: Machine, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        purposes = PURPOSES[machine.kind]
        if len(purposes) == 1:
            del self.fields["purpose"]
        else:
            field = self.fields["purpose"]
            assert isinstance(field, forms.ChoiceField)
            field.choices = [(one, Purpose(one).label) for one in purposes]
        if machine.kind in (MachineKind.PRESSURE_POT, MachineKind.VACUUM_CHAMBER):
            del self.fields["set_point_mdegc"]
        if machine.kind == MachineKind.VACUUM_CHAMBER:
            self.fields["gauge_pa"] = _gauge("How far below the air outside?", "What the vacuum gauge shows.")
            self.fields["gauge_pa"].required = False
        elif machine.kind != MachineKind.PRESSURE_POT:
            del self.fields["gauge_pa"]
        if machine.kind != MachineKind.PRESSURE_POT:
            del self.fields["why"]
        else:
            self.fields["not_before"].help_text = "Empty: as long as the resin's sheet keeps it in the mould."
            self.fields["at"].label = "When was the lid shut?"
        self.order_fields(
            ["workpieces", "others", "purpose", "gauge_pa", "set_point_mdegc", "not_before", "at", "why"]
        )


class PutInForm(PiecesForm):
    at = MomentField(label="When did it go in?")


class ChangeLoadForm(StudioForm):
    set_point_mdegc = QuantityField(
        dimension="temperature", required=False, widget=Typed(), label="What is it set to now?"
    )
    gauge_pa = QuantityField(
        dimension="pressure", required=False, widget=Typed(letters=True), label="What does the gauge show now?"
    )
    not_before = MomentField(label="Not to be opened before", help_text="")
    why = forms.CharField(max_length=300, required=False, label="Why is it safe all the same?")

    def __init__(self, *args: Any, machine: Machine, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pot = machine.kind == MachineKind.PRESSURE_POT
        if pot or machine.kind == MachineKind.VACUUM_CHAMBER:
            del self.fields["set_point_mdegc"]
        else:
            del self.fields["gauge_pa"]
        if not pot:
            del self.fields["why"]


class TakeOutForm(StudioForm):
    at = MomentField(label="When did it come out?")


class EndForm(StudioForm):
    hands_on_s = QuantityField(
        dimension="duration", required=False, widget=Typed(), label="How long did you stand at it?",
        help_text="Minutes, for loading, turning and looking. Leave it empty for none.",
    )  # fmt: skip
    still_going = forms.BooleanField(
        required=False, label="It is not dry yet: it goes in again", help_text="The step stays open."
    )
    bagged = forms.BooleanField(
        required=False, label="All of it went into tight bags, hot",
        help_text="The skin clock stands still in a bag; fog in it means that it isn’t dry.",
    )  # fmt: skip
    at = MomentField(label="When did it end?")
    air_off = forms.BooleanField(
        label="The gauge stands at zero and the vent is open",
        error_messages={"required": "First the air: vent open, gauge at zero. Only then the clamps."},
    )

    def __init__(self, *args: Any, pot: bool, may_go_on: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not may_go_on:
            del self.fields["still_going"]
        if not pot:
            del self.fields["air_off"]
        self.order_fields(["air_off"])
