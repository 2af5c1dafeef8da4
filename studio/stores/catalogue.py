"""Adding and changing materials and resin systems: what there can be in the stores."""

from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction

from studio.ledger.operations import new_commodity
from studio.people.models import User
from studio.stores.errors import MaterialInUse, NotLikeThat, SomethingLeft
from studio.stores.models import (
    MAY_BE_COUNTED,
    NAME_LENGTH,
    NOTE_LENGTH,
    ColourInto,
    Material,
    MaterialKind,
    ResinSystem,
)
from studio.stores.typed import above_nothing, choice, words

WARMEST_CURE_MDEGC = 200_000
DENSITIES = (100, 20_000)
_MATERIAL_FIGURES = {
    "reorder_level": "a level to reorder at",
    "use_by_after_open_s": "how long it lasts once opened",
    "shelf_life_s": "how long it lasts unopened",
}
_SHEET_FIGURES = {
    "work_time_s": "a work time",
    "work_time_mass_mg": "the weight the work time is for",
    "second_time_s": "a second work time",
    "second_mass_mg": "the weight the second work time is for",
    "demould_s": "a time to the demould",
    "full_cure_s": "a time to full cure",
    "recoat_to_s": "a time for a second pour",
    "post_cure_s": "a time in the warm",
    "smallest_mg": "a smallest batch",
    "largest_mg": "a largest batch",
    "max_depth_um": "a largest depth",
}
SHEET = (
    *_SHEET_FIGURES,
    "mixed_density_kgm3",
    "work_time_at_mdegc",
    "recoat_from_s",
    "post_cure_mdegc",
    "colorant_limit_ppm",
    "ratio_tolerance_ppm",
    "shrink_ppm",
)


def add_material(
    *,
    name: str,
    kind: str,
    at: datetime,
    by: User | None = None,
    counted: bool = False,
    density_kgm3: int | None = None,
    reorder_level: int | None = None,
    use_by_after_open_s: int | None = None,
    shelf_life_s: int | None = None,
    note: str = "",
) -> Material:
    """Will add a material, weighed (milligrams) unless `counted` (thousandths of a piece).

    Raises Refused beside the field: a name that is taken, a resin counted in pieces, a figure of nothing.
    """
    choice(kind, MaterialKind.values, "kind")
    if counted and kind not in MAY_BE_COUNTED:
        raise NotLikeThat("This is weighed, not counted: it is mixed by weight.", field="counted")
    with transaction.atomic():
        row = Material(commodity=new_commodity(counted=counted))
        _set_material(
            row,
            {
                "name": name,
                "kind": kind,
                "density_kgm3": density_kgm3,
                "reorder_level": reorder_level,
                "use_by_after_open_s": use_by_after_open_s,
                "shelf_life_s": shelf_life_s,
                "note": note,
            },
        )
        _save(row, f"There is a material called {row.name} already. Use that one, or choose another name.")
    return row


def change_material(*, material: Material, at: datetime, by: User | None = None, **changes: Any) -> Material:
    """Will change what is named: name, kind, density_kgm3, reorder_level, use_by_after_open_s, shelf_life_s,
    note, archived.

    Raises MaterialInUse for another kind once some was bought, SomethingLeft when put away with some left.
    """
    with transaction.atomic():
        row = Material.objects.select_for_update(of=("self",)).select_related("commodity").get(pk=material.pk)
        kind = changes.get("kind", row.kind)
        if kind != row.kind and row.batches.exists():
            raise MaterialInUse(
                "Some was bought as what it is now. Put this one away and add it anew as the other kind.",
                field="kind",
            )
        if row.counted and kind not in MAY_BE_COUNTED:
            raise NotLikeThat("This is counted in pieces, so it can't be that.", field="kind")
        if changes.get("archived") and not row.archived:
            _refuse_while_some_is_left(row)
        _set_material(row, changes)
        _save(row, f"There is a material called {row.name} already. Use that one, or choose another name.")
    return row


def _refuse_while_some_is_left(row: Material) -> None:
    left = row.batches.with_something_left().exists()
    bath = row.baths.filter(closed_on=None, account__amount__gt=0).exists()
    if left or bath:
        raise SomethingLeft(
            f"There is still some {row.name} {'in the stores' if left else 'in a bath'}. "
            "Count it as nothing or write it off first.",
            field="archived",
        )
    if ResinSystem.objects.filter(archived=False, part_a=row).exists() or (
        ResinSystem.objects.filter(archived=False, part_b=row).exists()
    ):
        raise MaterialInUse(f"{row.name} is a part of a casting resin. Put that resin away first.", field="archived")


def _set_material(row: Material, changes: dict[str, Any]) -> None:
    allowed = {"name", "kind", "density_kgm3", "note", "archived", *_MATERIAL_FIGURES}
    _refuse_unknown(changes, allowed)
    for field, value in changes.items():
        if field == "name":
            value = words(value, "name", most=NAME_LENGTH, missing="Write what it is called.")
        elif field == "note":
            value = words(value, "note", most=NOTE_LENGTH)
        elif field == "kind":
            choice(value, MaterialKind.values, "kind")
        elif field == "density_kgm3":
            _density(value, field)
        elif field in _MATERIAL_FIGURES:
            above_nothing(value, field, _MATERIAL_FIGURES[field])
        setattr(row, field, value)


def add_resin_system(
    *,
    name: str,
    part_a: Material,
    part_b: Material,
    parts_a: int,
    parts_b: int,
    at: datetime,
    by: User | None = None,
    colour_into: str = ColourInto.EITHER,
    source: str = "",
    note: str = "",
    **sheet: int | None,
) -> ResinSystem:
    """Will add a casting resin: Part A and Part B by weight (thousandths of a part, or any whole numbers in
    the same ratio) and what its data sheet says, under the names in `SHEET`. Raises Refused beside the field.
    """
    with transaction.atomic():
        row = ResinSystem()
        changes = {
            "name": name,
            "part_a": part_a,
            "part_b": part_b,
            "parts_a": parts_a,
            "parts_b": parts_b,
            "colour_into": colour_into,
            "source": source,
            "note": note,
        }
        _set_system(row, {**changes, **sheet})
        _save(row, f"There is a casting resin called {row.name} already. Choose another name.")
    return row


def change_resin_system(*, system: ResinSystem, at: datetime, by: User | None = None, **changes: Any) -> ResinSystem:
    """Will change what is named. What was poured before keeps the grams that were weighed then."""
    with transaction.atomic():
        row = ResinSystem.objects.select_for_update().get(pk=system.pk)
        _set_system(row, changes)
        _save(row, f"There is a casting resin called {row.name} already. Choose another name.")
    return row


def _set_system(row: ResinSystem, changes: dict[str, Any]) -> None:
    plain = {"name", "part_a", "part_b", "parts_a", "parts_b", "colour_into", "source", "note", "archived"}
    _refuse_unknown(changes, plain | set(SHEET))
    for field, value in changes.items():
        if field == "name":
            value = words(value, "name", most=NAME_LENGTH, missing="Write what the resin is called.")
        elif field in ("source", "note"):
            value = words(value, field, most=200 if field == "source" else NOTE_LENGTH)
        elif field == "colour_into":
            choice(value, ColourInto.values, field)
        elif field in ("parts_a", "parts_b"):
            if type(value) is not int or not 0 < value <= 10**9:
                raise NotLikeThat("Give parts by weight above zero, as the sheet has them.", field=field)
        elif field in _SHEET_FIGURES:
            above_nothing(value, field, _SHEET_FIGURES[field])
        elif field == "mixed_density_kgm3":
            _density(value, field)
        elif field in ("colorant_limit_ppm", "ratio_tolerance_ppm", "shrink_ppm") and value is not None:
            if type(value) is not int or not 0 <= value <= 1_000_000:
                raise NotLikeThat("Give a percentage from 0 to 100.", field=field)
        elif field == "work_time_at_mdegc" and value is not None and not 0 <= value <= 100_000:
            raise NotLikeThat("Give the room's warmth that the work time is for.", field=field)
        elif field == "recoat_from_s" and value is not None and (type(value) is not int or value < 0):
            raise NotLikeThat("Give a time from 0 on, as the sheet has it.", field=field)
        elif field == "post_cure_mdegc" and value is not None and not 0 < value <= WARMEST_CURE_MDEGC:
            raise NotLikeThat("Give the oven's heat for that, from the sheet.", field=field)
        setattr(row, field, value)
    _refuse_parts_that_do_not_fit(row)


def _refuse_parts_that_do_not_fit(row: ResinSystem) -> None:
    for field, part, kind, printed in (
        ("part_a", row.part_a, MaterialKind.RESIN_A, "Part A"),
        ("part_b", row.part_b, MaterialKind.RESIN_B, "Part B"),
    ):
        if part.kind != kind:
            raise NotLikeThat(
                f"{part.name} is kept as {part.get_kind_display()}. Choose the bottle that says {printed}.",
                field=field,
            )
    if row.smallest_mg and row.largest_mg and row.smallest_mg > row.largest_mg:
        raise NotLikeThat("The smallest batch is above the largest. Put one right.", field="smallest_mg")
    if row.recoat_from_s and row.recoat_to_s and row.recoat_from_s >= row.recoat_to_s:
        raise NotLikeThat("A second pour ends before it begins. Put one right.", field="recoat_to_s")
    if row.post_cure_mdegc is not None and row.post_cure_s is None:
        raise NotLikeThat("Say for how long it stays in that heat, or leave both empty.", field="post_cure_s")


def _density(value: int | None, field: str) -> None:
    if value is not None and not (type(value) is int and DENSITIES[0] <= value <= DENSITIES[1]):
        raise NotLikeThat(
            "That is no density of something poured or sprinkled: water is 1 g/ml (1000 kg/m³).", field=field
        )


def _refuse_unknown(changes: dict[str, Any], allowed: set[str]) -> None:
    strange = set(changes) - allowed
    if strange:
        raise TypeError(f"Nothing here is called {', '.join(sorted(strange))}.")


def _save(row: Material | ResinSystem, taken: str) -> None:
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError as error:
        raise NotLikeThat(taken, field="name", code="name_taken") from error
