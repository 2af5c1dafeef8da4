"""How much room a blank takes: a bucket on the scale, a dry fill of the mould, its own density."""

from typing import Any
from urllib.parse import urlencode

from django import forms
from django.urls import path, reverse

from studio.equipment import queries as equipment
from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.web.forms import StudioForm, Typed
from studio.web.screens.bench_base import AtWorkpiece
from studio.web.screens.pour_forms import LONGEST_ROOM_MM3
from studio.work import operations as work
from studio.work.models import RoomReading

# A gram of water is a millilitre.
MM3_PER_MG = 1


class RoomForm(StudioForm):
    """Any one of these is enough."""

    bucket = QuantityField(
        dimension="mass", required=False, least=1, most=LONGEST_ROOM_MM3, widget=Typed(),
        label="Bucket: how many grams did the scale gain?",
        help_text="Water in a bucket on the scale; push the wrapped blank just under, touching nothing.",
    )  # fmt: skip
    beads = QuantityField(
        dimension="volume", required=False, least=1, most=LONGEST_ROOM_MM3, widget=Typed(letters=True),
        label="Measured fill with the wood in", help_text="Beads or rice to the rim, then poured into a jug.",
    )  # fmt: skip
    mould = forms.ChoiceField(required=False, label="In which mould?")
    own_density = QuantityField(
        dimension="density", required=False, least=1, widget=Typed(letters=True), label="Its own density, oven-dry",
        help_text="From a sample of the same lump.",
    )  # fmt: skip
    at = MomentField(label="When did you measure it?")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.moulds = {str(one.pk): one for one in equipment.moulds()}
        field = self.fields["mould"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [("", "Not filled"), *((pk, one.name) for pk, one in self.moulds.items())]


class Room(AtWorkpiece):
    """`plan` in the address leads back to the plan it was asked from."""

    form_class, button = RoomForm, "Reckon with that"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        super().find(pk, **kwargs)
        self.heading = f"How much room does {self.piece.number} take?"
        kept = self.request.GET.copy()
        if "go" in kept:
            self.back = f"{reverse('pour_plan')}?{kept.urlencode()}"
        else:
            self.back = f"{reverse('pour_plan')}?{urlencode({'workpiece': self.piece.pk})}"

    def do(self, data: dict[str, Any]) -> str:
        bucket = data["bucket"]
        moulds = {str(one.pk): one for one in equipment.moulds()}
        rows = work.measure_room(
            workpiece=self.piece,
            bucket_mm3=bucket * MM3_PER_MG if bucket is not None else None,
            beads_mm3=data["beads"],
            mould=moulds.get(data["mould"]),
            own_kgm3=data["own_density"],
            at=moment_or_now(data["at"], self.now),
            by=self.by,
            now=self.now,
        )
        self.say(" ".join(_words(self.piece.number, row) for row in rows))
        return self.back


def _words(number: str, row: RoomReading) -> str:
    if row.way == RoomReading.Way.BUCKET:
        return f"{number} takes {show(row.mm3 or 0, 'volume')} by the bucket."
    if row.way == RoomReading.Way.BEADS:
        return f"With {number} in it {row.mould} took {show(row.mm3 or 0, 'volume')}."
    return f"{number} weighs {show(row.kgm3 or 0, 'density')}."


urlpatterns = [path("pour/room/<int:pk>/", Room.as_view(), name="pour_room")]
