"""Deeds on one workpiece: hours, what it is called and like, materials, photographs, a hold, its number."""

from typing import Any

from django import forms
from django.urls import path, reverse

from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import NotUnderstood, parse, show
from studio.people import settings as answers
from studio.stores import queries as stores_queries
from studio.stores.errors import amount_words
from studio.stores.models import MaterialKind
from studio.web.forms import StudioForm, Typed
from studio.web.screens.bench_base import STEPS, AtWorkpiece, Chips, Nothing
from studio.web.screens.photographs import PhotographForm
from studio.web.screens.stores_short import OffersCount
from studio.wood import queries as wood
from studio.wood.kinds import WoodKind
from studio.work import operations as work
from studio.work import queries
from studio.work.models import Bark, StepCode

MOST_S = 12 * 3600
MOST_UM = 10**7
USED = (MaterialKind.FINISH, MaterialKind.CONSUMABLE, MaterialKind.FITTING, MaterialKind.COLORANT)


def minutes_field(**how: Any) -> QuantityField:
    how.setdefault("label", "Minutes at it")
    return QuantityField(dimension="duration", unit="min", least=60, most=MOST_S, widget=Typed(), **how)


def size_field(label: str) -> QuantityField:
    return QuantityField(
        dimension="length", least=1, most=MOST_UM, required=False, label=label, widget=Typed(letters=True)
    )


class HoursForm(StudioForm):
    code = forms.ChoiceField(choices=STEPS, label="What was done?", widget=Chips)
    worked = minutes_field()
    usual = forms.BooleanField(required=False, label="That is what I usually take for it")
    at = MomentField()


class Hours(AtWorkpiece):
    form_class = HoursForm
    template_name = "bench/deed.html"
    heading, button = "Book hours", "Book them"

    def initial(self) -> dict[str, Any]:
        code = queries.next_code(self.piece) or StepCode.OTHER
        return {"code": code, "worked": queries.usual_seconds(code=code, person=self.by)}

    def do(self, data: dict[str, Any]) -> str:
        if data["usual"]:
            work.set_usual_minutes(person=self.by, code=data["code"], seconds=data["worked"])
        run = work.add_hours(
            person=self.by,
            workpieces=[self.piece],
            code=data["code"],
            seconds=data["worked"],
            at=moment_or_now(data["at"], self.now),
            **self.stamp,
        )
        undo = reverse("hours_take_back", args=[run.pk])
        self.say(f"{show(data['worked'], 'duration')} booked on {self.piece.number}.", undo=undo)
        return self.home


class DescribeForm(StudioForm):
    fieldsets = (
        ("How it is", ("punky", "spalted", "checked", "bark")),
        ("How large", ("length_um", "width_um", "height_um")),
    )
    number = forms.CharField(max_length=60, label="Number, as it is pencilled on it")
    title = forms.CharField(required=False, max_length=200, label="What it is called")
    form = forms.ChoiceField(required=False, label="Form")
    species = forms.ChoiceField(required=False, label="Wood")
    wood_kind = forms.ChoiceField(
        required=False, choices=[("", "not said"), *WoodKind.choices], label="Burr, root or what it is"
    )
    punky = forms.BooleanField(required=False, label="Punky: soft places")
    spalted = forms.BooleanField(required=False, label="Spalted")
    checked = forms.BooleanField(required=False, label="Checked: cracks")
    bark = forms.ChoiceField(choices=Bark.choices, label="Bark", widget=Chips)
    length_um = size_field("Length")
    width_um = size_field("Width")
    height_um = size_field("Height")

    def __init__(self, *args: Any, woods: dict[str, Any], known: bool, forms_made: list[str], **kwargs: Any) -> None:
        """Wood once `known` is put right by another, not forgotten."""
        super().__init__(*args, **kwargs)
        none = [] if known else [("", "not known yet")]
        self.fields["species"].choices = [*none, *((pk, str(row)) for pk, row in woods.items())]  # type: ignore[attr-defined]
        self.fields["form"].choices = [("", "not said"), *((one, one) for one in forms_made)]  # type: ignore[attr-defined]


class Describe(AtWorkpiece):
    form_class = DescribeForm
    template_name = "bench/deed.html"
    heading, button = "What it is like", "Keep it so"

    def form_kwargs(self) -> dict[str, Any]:
        made = list(answers.value("forms"))
        if self.piece.form and self.piece.form not in made:
            made.append(self.piece.form)
        self.woods = {str(row.pk): row for row in wood.species_list()}
        return {"woods": self.woods, "known": self.piece.species_id is not None, "forms_made": made}

    def initial(self) -> dict[str, Any]:
        names = ("number", "title", "form", "wood_kind", "punky", "spalted", "checked", "bark")
        sizes = ("length_um", "width_um", "height_um")
        return {
            "species": str(self.piece.species_id or ""),
            **{name: getattr(self.piece, name) for name in (*names, *sizes)},
        }

    def do(self, data: dict[str, Any]) -> str:
        species = self.woods.get(data.pop("species"))
        number = data.pop("number")
        data.pop("sure", None)
        piece = work.describe(workpiece=self.piece, species=species, **data)
        if number != piece.number:
            piece = work.renumber(workpiece=piece, number=number)
        self.say(f"{piece.number} is described.")
        return self.home


class UseForm(StudioForm):
    material = forms.ChoiceField(label="What was used?")
    amount = forms.CharField(max_length=60, label="How much?", widget=Typed(letters=True))
    code = forms.ChoiceField(choices=STEPS, label="For which step?", widget=Chips)
    at = MomentField()

    def __init__(self, *args: Any, materials: list[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.materials = {str(row.pk): row for row in materials}
        self.fields["material"].choices = [(pk, row.name) for pk, row in self.materials.items()]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("material"):
            data["material"] = material = self.materials[data["material"]]
            if data.get("amount"):
                try:
                    data["amount"] = parse(data["amount"], "count" if material.counted else "mass", least=1)
                except NotUnderstood as stop:
                    self.add_error("amount", str(stop))
        return data


class Use(OffersCount, AtWorkpiece):
    """Where the books hold too little, what is really there is asked on the same form, and it goes on."""

    form_class = UseForm
    template_name = "bench/use.html"
    heading, button = "Use a material", "Take it out of the stores"

    def form_kwargs(self) -> dict[str, Any]:
        return {"materials": stores_queries.materials(kinds=USED)}

    def initial(self) -> dict[str, Any]:
        return {"code": queries.next_code(self.piece) or StepCode.OTHER}

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {**super().context(form), "any": bool(form.materials)}  # type: ignore[attr-defined]

    def do(self, data: dict[str, Any]) -> str:
        at, material = moment_or_now(data["at"], self.now), data["material"]
        work.use_material(
            workpieces=[self.piece],
            material=material,
            amount=data["amount"],
            step=data["code"],
            at=at,
            **self.said_of_stores(data),
            **self.stamp,
        )
        self.say(f"{amount_words(material, data['amount'])} of {material.name} went into {self.piece.number}.")
        return self.home


class PictureForm(PhotographForm):
    photo_required = True


class Picture(AtWorkpiece):
    form_class = PictureForm
    template_name = "bench/deed.html"
    heading, button = "Photograph it", "Keep it"

    def form_kwargs(self) -> dict[str, Any]:
        return {"by": self.by}

    def do(self, data: dict[str, Any]) -> str:
        work.add_picture(workpiece=self.piece, picture=data["photo"], at=self.now, by=self.by)
        self.say(f"The photograph is with {self.piece.number}.")
        return self.home


class HoldForm(StudioForm):
    reason = forms.CharField(
        max_length=200, label="What for?", help_text="It can't be sold or left with a gallery meanwhile."
    )


class Hold(AtWorkpiece):
    """The shop's own hold carries the workpiece's own mark; one that a commission set is let go there."""

    template_name = "bench/deed.html"
    form_class = HoldForm

    def find(self, pk: int, **_: Any) -> None:
        super().find(pk)
        self.mark = f"shop:{self.piece.pk}"
        if self.piece.held:
            self.form_class = Nothing  # type: ignore[assignment]
            self.heading, self.button = "Let it go?", "Let it go"
        else:
            self.heading, self.button = "Hold it for somebody", "Hold it"

    def do(self, data: dict[str, Any]) -> str:
        if "reason" in data:
            work.hold(workpiece=self.piece, reason=data["reason"], ref=self.mark)
            self.say(f"{self.piece.number} is held.")
        elif work.release(ref=self.mark):
            self.say(f"{self.piece.number} is free again.")
        else:
            self.warn(f"{self.piece.number} is held for a commission. Let it go there.")
        return self.home


class GiveBack(AtWorkpiece):
    form_class = Nothing
    template_name = "bench/deed.html"
    heading, button = "Give the wood back to its owner?", "It is given back"

    def do(self, data: dict[str, Any]) -> str:
        work.give_back(workpiece=self.piece, at=self.now, by=self.by, now=self.now)
        self.say(f"{self.piece.number} went back to its owner.")
        return self.home


urlpatterns = [
    path("bench/<int:pk>/hours/", Hours.as_view(), name="workpiece_hours"),
    path("bench/<int:pk>/describe/", Describe.as_view(), name="workpiece_describe"),
    path("bench/<int:pk>/use/", Use.as_view(), name="workpiece_use"),
    path("bench/<int:pk>/photograph/", Picture.as_view(), name="workpiece_picture"),
    path("bench/<int:pk>/hold/", Hold.as_view(), name="workpiece_hold"),
    path("bench/<int:pk>/give-back/", GiveBack.as_view(), name="workpiece_give_back"),
]
