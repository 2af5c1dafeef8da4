"""How much room a blank takes: a bucket on the scale, a dry fill of the mould, its own density."""

from collections.abc import Sequence
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.http import QueryDict
from django.urls import path, reverse

from studio.equipment import queries as equipment
from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.listing import listed
from studio.fields.quantity import show
from studio.web.forms import StudioForm, Typed
from studio.web.screens.bench_base import AtWorkpiece
from studio.web.screens.pour_forms import LONGEST_ROOM_MM3
from studio.work import operations as work
from studio.work import queries as work_queries
from studio.work.models import RoomReading, Workpiece

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
    alone = forms.BooleanField(required=False, label="")
    own_density = QuantityField(
        dimension="density", required=False, least=1, widget=Typed(letters=True), label="Its own density, oven-dry",
        help_text="From a sample of the same lump.",
    )  # fmt: skip
    at = MomentField(label="When did you measure it?")

    def __init__(self, *args: Any, beside: Sequence[Workpiece] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if beside:
            numbers = listed(one.number for one in beside)
            self.fields["alone"].label = f"It lay in the mould by itself, without {numbers}"
        else:
            del self.fields["alone"]
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
        self.beside = beside(self.request.GET, self.piece.pk)
        kept = self.request.GET.copy()
        if "go" in kept:
            self.back = f"{reverse('pour_plan')}?{kept.urlencode()}"
        else:
            self.back = f"{reverse('pour_plan')}?{urlencode({'workpiece': self.piece.pk})}"

    def form_kwargs(self) -> dict[str, Any]:
        return {"beside": self.beside}

    def do(self, data: dict[str, Any]) -> str:
        bucket = data["bucket"]
        moulds = {str(one.pk): one for one in equipment.moulds()}
        rows = work.measure_room(
            workpiece=self.piece,
            beside=() if data.get("alone") else self.beside,
            bucket_mm3=bucket * MM3_PER_MG if bucket is not None else None,
            beads_mm3=data["beads"],
            mould=moulds.get(data["mould"]),
            own_kgm3=data["own_density"],
            at=moment_or_now(data["at"], self.now),
            by=self.by,
            now=self.now,
        )
        fill = " and ".join([self.piece.number, *(one.number for one in self.beside)])
        words = [_words(fill if row.together > 1 else self.piece.number, row)
                 for row in rows if row.workpiece_id == self.piece.pk]  # fmt: skip
        self.say(" ".join(words))
        return self.back


def beside(query: QueryDict, pk: int) -> list[Workpiece]:
    """The blanks that lie in one mould with this one, by the plan in the address. One query at most."""
    for name in query:
        keys = [key for key in query.getlist(name) if key.isdecimal() and len(key) < 12]
        if name.startswith("blanks_") and str(pk) in keys and len(keys) > 1:
            return list(work_queries.on_the_bench().filter(pk__in=keys).exclude(pk=pk))
    return []


def _words(number: str, row: RoomReading) -> str:
    if row.way == RoomReading.Way.BUCKET:
        return f"{number} takes {show(row.mm3 or 0, 'volume')} by the bucket."
    if row.way == RoomReading.Way.BEADS:
        return f"With {number} in it {row.mould} took {show(row.mm3 or 0, 'volume')}."
    return f"{number} weighs {show(row.kgm3 or 0, 'density')}."


urlpatterns = [path("pour/room/<int:pk>/", Room.as_view(), name="pour_room")]
