"""A workpiece becomes a piece, and the four ticks that finish it: measured, signed, photographed, rested."""

from typing import Any

from django import forms
from django.http import Http404
from django.urls import path, reverse

from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.listing import listed
from studio.fields.quantity import show
from studio.people import settings as answers
from studio.pieces import operations, queries
from studio.pieces.models import SIZES, Piece
from studio.web.deeds import Deed
from studio.web.forms import StudioForm, Typed
from studio.web.saying import in_words
from studio.web.screens.photographs import PhotographForm
from studio.web.screens.pieces_base import AtPiece, Nothing, Suggest, form_choices, size_words
from studio.web.screens.pieces_page import NEXT
from studio.work import queries as work

MM = 1000
LEFT_WORDS = {
    "measured": "measured",
    "signed": "signed",
    "photographed": "photographed",
    "rested": "looked at rested",
}


class BecomeForm(StudioForm):
    title = forms.CharField(
        max_length=200, required=False, label="What do you call it?", help_text="It stands on the card. It can wait."
    )
    form = forms.ChoiceField(required=False, label="What form is it?")
    at = MomentField(label="When did it come off the lathe?")

    def __init__(self, *args: Any, form_now: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["form"].choices = form_choices(form_now)  # type: ignore[attr-defined]


class Become(Deed):
    """From the bench to the finish bench: the same number, the same cost, four ticks to come."""

    section, heading, button, form_class = "pieces", "Call it a piece", "It is a piece", BecomeForm

    def find(self, pk: int) -> None:
        found = work.workpiece(pk)
        if found is None:
            raise Http404("There is no such workpiece.")
        self.workpiece = found
        self.back = reverse("workpiece", args=[pk])

    def form_kwargs(self) -> dict[str, Any]:
        return {"form_now": self.workpiece.form}

    def initial(self) -> dict[str, Any]:
        return {"title": self.workpiece.title, "form": self.workpiece.form}

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {
            "sub": f"{self.workpiece.number} keeps its number and what it has cost. Then it is measured, signed, "
            "photographed and looked at rested."
        }

    def do(self, data: dict[str, Any]) -> str:
        piece = operations.become_piece(
            workpiece=self.workpiece,
            title=data["title"],
            form=data["form"],
            sure=bool(data.get("sure")),
            at=moment_or_now(data["at"], self.now),
            by=self.by,
            now=self.now,
        )
        self.say(f"{self.workpiece.number} is a piece. Four ticks finish it.")
        return reverse("piece", args=[piece.pk])


class Tick(AtPiece):
    """A deed that may finish the piece; it says what is still to be done."""

    def say_left(self, did: str, piece: Piece) -> None:
        missing = piece.ticks_missing
        if piece.is_finished:
            self.say(f"{did} It is finished.")
        elif missing:
            self.say(f"{did} Still to be {listed(LEFT_WORDS[tick] for tick in missing)}.")


class MeasureForm(StudioForm):
    diameter = QuantityField(dimension="length", required=False, label="How wide across?", widget=Typed(letters=True))
    height = QuantityField(dimension="length", required=False, label="How high?", widget=Typed(letters=True))
    length = QuantityField(dimension="length", required=False, label="How long?", widget=Typed(letters=True))
    width = QuantityField(
        dimension="length", required=False, label="How wide the other way?", widget=Typed(letters=True)
    )
    mass = QuantityField(dimension="mass", unit="g", label="The scale shows", help_text="In grams.", widget=Typed())
    at = MomentField()
    fieldsets = (
        ("Its weight", ("mass",)),
        ("How large it is", ("diameter", "height")),
        ("Where it is not round", ("length", "width")),
        ("", ("at",)),
    )

    def refuse(self, refused: Any) -> None:
        # the operation calls a measure by its unit: height_um is the field height
        refused.field = (refused.field or "").removesuffix("_um") or None
        super().refuse(refused)


class Measure(Tick):
    form_class, heading, button = MeasureForm, "Measure and weigh it", "That is it"

    def initial(self) -> dict[str, Any]:
        sizes = {name.removesuffix("_um"): getattr(self.piece, name) for name in SIZES}
        return {**sizes, "mass": self.piece.mass_mg}

    def do(self, data: dict[str, Any]) -> str:
        piece = operations.measure(
            piece=self.piece,
            at=moment_or_now(data["at"], self.now),
            mass_mg=data["mass"],
            **{name: data[name.removesuffix("_um")] for name in SIZES},
            sure=bool(data.get("sure")),
            **self.stamp,
        )
        words = size_words(piece)
        self.say_left(
            f"{self.piece.workpiece.number} is {words} and weighs {show(data['mass'], 'mass', unit='g')}.", piece
        )
        return self.home


class SignForm(StudioForm):
    number = forms.CharField(
        max_length=60,
        required=False,
        label="Its number",
        help_text="The next one. Write another only if another stands on the piece.",
        widget=forms.TextInput(attrs={"class": "typed", "autocomplete": "off", "inputmode": "text"}),
    )
    offered = forms.CharField(max_length=60, required=False, widget=forms.HiddenInput)
    with_what = forms.CharField(max_length=200, required=False, label="Signed with what?")
    at = MomentField(label="When was it signed?")

    def __init__(self, *args: Any, tools: tuple[str, ...] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["with_what"].widget = Suggest(tools, {"maxlength": 200})


class Sign(Tick):
    form_class, heading, button = SignForm, "Sign it", "It is signed"

    def find(self, pk: int, **_: Any) -> None:
        super().find(pk)
        self.tools = tuple(
            Piece.objects.exclude(signed_with="").order_by("-signed_at").values_list("signed_with", flat=True)[:20]
        )
        self.offered = queries.number_to_offer(self.piece, answers.local_date(self.now))

    def form_kwargs(self) -> dict[str, Any]:
        return {"tools": tuple(dict.fromkeys(self.tools))}

    def initial(self) -> dict[str, Any]:
        return {"number": self.offered, "offered": self.offered, "with_what": self.tools[0] if self.tools else ""}

    def do(self, data: dict[str, Any]) -> str:
        # left as offered means: the next, whatever it is in this moment
        number = "" if data["number"] == data["offered"] else data["number"]
        piece = operations.sign(
            piece=self.piece,
            number=number,
            with_what=data["with_what"],
            at=moment_or_now(data["at"], self.now),
            **self.stamp,
        )
        self.say_left(f"{self.piece.workpiece.number} is signed {piece.signed_number}.", piece)
        return self.home


class PictureForm(PhotographForm):
    photo_required = True
    caption = forms.CharField(max_length=200, required=False, label="What does it show?")
    on_card = forms.BooleanField(required=False, label="Put this one on the card")
    fieldsets = (("", ("photo", "caption", "on_card")),)


class TakePicture(Tick):
    form_class, heading, button = PictureForm, "Photograph it", "Keep it"

    def form_kwargs(self) -> dict[str, Any]:
        return {"by": self.by}

    def do(self, data: dict[str, Any]) -> str:
        operations.photograph(
            piece=self.piece,
            picture=data["photo"],
            caption=data["caption"],
            on_card=data["on_card"],
            at=self.now,
            **self.stamp,
        )
        piece = Piece.objects.select_related("workpiece").get(pk=self.piece.pk)
        self.say_left("The photograph is kept.", piece)
        return self.home


class Rest(Tick):
    """One tap from the piece's page."""

    form_class, heading, button = Nothing, "Has it rested?", "It has rested"

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {**super().context(form), "sub": "The finish had its days, and you looked at the piece once more."}

    def do(self, data: dict[str, Any]) -> str:
        piece = operations.rest(piece=self.piece, at=self.now, sure=bool(data.get("sure")), **self.stamp)
        self.say_left(f"{self.piece} has rested.", piece)
        return self.home


class UntickForm(StudioForm):
    tick = forms.ChoiceField(label="Which one?", widget=forms.RadioSelect)

    def __init__(self, *args: Any, piece: Piece, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        made = [tick for tick in NEXT if tick not in piece.ticks_missing]
        self.fields["tick"].choices = [(tick, tick.capitalize()) for tick in made]  # type: ignore[attr-defined]


class Untick(AtPiece):
    form_class, heading, button = UntickForm, "Take a tick back", "Take it back"

    def form_kwargs(self) -> dict[str, Any]:
        return {"piece": self.piece}

    def context(self, form: StudioForm) -> dict[str, Any]:
        left = 4 - len(self.piece.ticks_missing)
        words = f"{in_words(left).capitalize()} of four are made." if left else "None is made yet."
        return {**super().context(form), "sub": f"{words} A finished piece is unfinished again without one of them."}

    def do(self, data: dict[str, Any]) -> str:
        operations.untick(piece=self.piece, tick=data["tick"], at=self.now, **self.stamp)
        self.say(f"{self.piece.workpiece.number} is not {LEFT_WORDS[data['tick']]} any more.")
        return self.home


urlpatterns = [
    path("bench/<int:pk>/piece/", Become.as_view(), name="piece_become"),
    path("pieces/<int:pk>/measure/", Measure.as_view(), name="piece_measure"),
    path("pieces/<int:pk>/sign/", Sign.as_view(), name="piece_sign"),
    path("pieces/<int:pk>/photograph/", TakePicture.as_view(), name="piece_photograph"),
    path("pieces/<int:pk>/rest/", Rest.as_view(), name="piece_rest"),
    path("pieces/<int:pk>/untick/", Untick.as_view(), name="piece_untick"),
]
