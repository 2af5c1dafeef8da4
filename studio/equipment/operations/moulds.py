"""Adding, changing and retiring moulds."""

from datetime import date, datetime
from typing import Any

from django.db import transaction

from studio.equipment import figures as rules
from studio.equipment.errors import MouldRefused
from studio.equipment.models import Mould, Shape
from studio.people import settings as studio_settings
from studio.people.models import User
from studio.people.names import fold
from studio.people.roles import require

NEEDS: dict[str, tuple[str, ...]] = {
    Shape.BOX: ("length_um", "width_um", "height_um"),
    Shape.ROUND: ("diameter_um", "height_um"),
    Shape.TUBE: ("diameter_um", "height_um"),
    Shape.TAPERED: ("diameter_um", "top_diameter_um", "height_um"),
    Shape.MEASURED: ("fill_mm3",),
}
MISSING = {
    "length_um": "Measure how long it is inside.",
    "width_um": "Measure how wide it is inside.",
    "height_um": "Measure how high it is inside.",
    "diameter_um": "Measure across the inside, at the bottom where it tapers.",
    "top_diameter_um": "Measure across the inside at the rim.",
    "fill_mm3": "Fill it with water and say how much it held.",
}


def add_mould(*, name: str, shape: str, by: User, at: datetime, note: str = "", **figures: Any) -> Mould:
    """Will add a mould by its inside measures (micrometres) or by what it held (`fill_mm3`).

    A measured fill given beside a shape counts before the geometry. Raises `MouldRefused` beside the field
    that is missing or can't be right.
    """
    require(by, "equipment")
    kept = _figures(shape, figures, {})
    with transaction.atomic():
        title = _free_name(name)
        return Mould.objects.create(
            name=title,
            shape=shape,
            note=rules.words(note, "note", MouldRefused),
            added_by=by,
            added_at=at,
            **kept,
        )


def change_mould(*, mould: Mould, by: User, **changes: Any) -> Mould:
    """Will change a mould's name, shape or measures. What was poured before keeps its grams."""
    require(by, "equipment")
    with transaction.atomic():
        held = Mould.objects.select_for_update().get(pk=mould.pk)
        if "name" in changes:
            held.name = _free_name(changes.pop("name"), besides=held)
        if "note" in changes:
            held.note = rules.words(changes.pop("note") or "", "note", MouldRefused)
        shape = changes.pop("shape", held.shape)
        before = {name: getattr(held, name) for name in rules.MOULD_BOUNDS}
        for field, value in _figures(shape, changes, before).items():
            setattr(held, field, value)
        held.shape = shape
        held.save()
    return held


def retire_mould(*, mould: Mould, on: date, by: User, at: datetime) -> Mould:
    """Will take a mould out of use from a day on: worn, leaking, cut open."""
    require(by, "equipment")
    rules.not_after(on, studio_settings.local_date(at), "on", MouldRefused)
    with transaction.atomic():
        held = Mould.objects.select_for_update().get(pk=mould.pk)
        if held.retired_on is not None:
            raise MouldRefused(f"{held} was retired on {held.retired_on:%d %B %Y} already.", field="on")
        held.retired_on = on
        held.save(update_fields=["retired_on"])
    return held


def _figures(shape: str, figures: dict[str, Any], before: dict[str, Any]) -> dict[str, Any]:
    if shape not in Shape.values:
        raise MouldRefused("Choose what shape it is.", field="shape")
    unknown = set(figures) - set(rules.MOULD_BOUNDS)
    if unknown:
        raise TypeError(f"A mould has no {', '.join(sorted(unknown))}.")
    kept = rules.checked(figures, rules.MOULD_BOUNDS, MouldRefused)
    for field in NEEDS[shape]:
        if {**before, **kept}.get(field) is None:
            raise MouldRefused(MISSING[field], field=field)
    return kept


def _free_name(text: str, *, besides: Mould | None = None) -> str:
    name = rules.name_of(text, MouldRefused)
    others = Mould.objects.in_use().filter(name_search=fold(name))
    if besides is not None:
        others = others.exclude(pk=besides.pk)
    if others.exists():
        raise MouldRefused(
            f"There is a mould called {name} in use. Give this one another name, or retire that one.",
            field="name",
        )
    return name
