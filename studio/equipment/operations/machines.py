"""Adding, changing and retiring machines."""

from datetime import date, datetime
from typing import Any

from django.db import transaction

from studio.equipment import figures as rules
from studio.equipment.errors import MachineRefused
from studio.equipment.models import Known, Load, Machine, MachineKind, Upkeep
from studio.equipment.operations.upkeep import usual_lines
from studio.equipment.rates import USUAL_DUTY_PPM
from studio.people import settings as studio_settings
from studio.people.models import User
from studio.people.names import fold
from studio.people.roles import require

# What a pot's verdict hangs on: not to be changed while a load stands under pressure.
SAFETY = ("certified_pa", "relief_pa", "unaltered")
OTHERS = ("unaltered", "last_inspected_on", "inspect_by", "note")


def add_machine(*, kind: str, name: str, by: User, at: datetime, **figures: Any) -> Machine:
    """Will add a machine. `figures` are its columns by name in stored units (`power_w`, `certified_pa`, …).

    Only kind and name are needed; the duty is the usual one of its kind until another is given. Its diary begins
    with what its kind usually wants. Raises `MachineRefused` beside the field that can't be right.
    """
    require(by, "equipment")
    if kind not in MachineKind.values:
        raise MachineRefused("Choose what kind of machine it is.", field="kind")
    kept = _figures(figures, at)
    kept.setdefault("duty_ppm", USUAL_DUTY_PPM[kind])
    with transaction.atomic():
        title = _free_name(name)
        row = Machine.objects.create(kind=kind, name=title, added_by=by, added_at=at, **kept)
        Upkeep.objects.bulk_create(usual_lines(row, at))
        return row


def change_machine(*, machine: Machine, by: User, at: datetime, **changes: Any) -> Machine:
    """Will change a machine's name or figures; loads that have ended keep the cost they were posted with.

    A pot's certificate, relief valve and "unaltered" can't be changed while a load is in it: let the air off
    and end the load first. Raises `MachineRefused`.
    """
    require(by, "equipment")
    with transaction.atomic():
        held = Machine.objects.select_for_update().get(pk=machine.pk)
        name = changes.pop("name", None)
        if name is not None:
            held.name = _free_name(name, besides=held)
        kept = _figures(changes, at)
        touches = [field for field in SAFETY if field in kept and kept[field] != getattr(held, field)]
        if touches and Load.objects.running().filter(machine=held).exists():
            raise MachineRefused(
                f"There is a load in {held}. Let the air off and end that load, "
                "then change what stands on the plate.",
                field=touches[0],
                code="load_running",
            )
        for field, value in kept.items():
            setattr(held, field, value)
        held.save()
    return held


def retire_machine(*, machine: Machine, on: date, by: User, at: datetime) -> Machine:
    """Will take a machine out of use from a day on. Refused while a load is in it or one ended later."""
    require(by, "equipment")
    with transaction.atomic():
        held = Machine.objects.select_for_update().get(pk=machine.pk)
        if held.retired_on is not None:
            raise MachineRefused(f"{held} was retired on {held.retired_on:%d %B %Y} already.", field="on")
        rules.not_after(on, studio_settings.local_date(at), "on", MachineRefused)
        if Load.objects.running().filter(machine=held).exists():
            raise MachineRefused(f"There is a load in {held}. End it first.", field="on", code="load_running")
        last = Load.objects.ended().filter(machine=held).order_by("-ended_at").first()
        if last is not None and last.ended_at is not None and studio_settings.local_date(last.ended_at) > on:
            raise MachineRefused(
                f"{held} had a load in it until {studio_settings.local_date(last.ended_at):%d %B %Y}. "
                "Give that day or a later one.",
                field="on",
            )
        held.retired_on = on
        held.save(update_fields=["retired_on"])
    return held


def bring_back_machine(*, machine: Machine, by: User) -> Machine:
    """Will put a retired machine into use again. Refused where another in use has its name now."""
    require(by, "equipment")
    with transaction.atomic():
        held = Machine.objects.select_for_update().get(pk=machine.pk)
        _free_name(held.name, besides=held)
        held.retired_on = None
        held.save(update_fields=["retired_on"])
    return held


def _free_name(text: str, *, besides: Machine | None = None) -> str:
    name = rules.name_of(text, MachineRefused)
    others = Machine.objects.in_use().filter(name_search=fold(name))
    if besides is not None:
        others = others.exclude(pk=besides.pk)
    if others.exists():
        raise MachineRefused(
            f"There is a machine called {name} in use. Give this one another name, or retire that one.",
            field="name",
        )
    return name


def _figures(figures: dict[str, Any], at: datetime) -> dict[str, Any]:
    unknown = set(figures) - set(rules.MACHINE_BOUNDS) - set(OTHERS)
    if unknown:
        raise TypeError(f"A machine has no {', '.join(sorted(unknown))}.")
    numbers = {name: value for name, value in figures.items() if name in rules.MACHINE_BOUNDS}
    if numbers.get("duty_ppm", 0) is None:
        raise MachineRefused(rules.MACHINE_BOUNDS["duty_ppm"].says, field="duty_ppm")
    kept = rules.checked(numbers, rules.MACHINE_BOUNDS, MachineRefused)
    today = studio_settings.local_date(at)
    if "unaltered" in figures:
        kept["unaltered"] = rules.known(figures["unaltered"] or Known.UNKNOWN, "unaltered", MachineRefused)
    if "last_inspected_on" in figures:
        kept["last_inspected_on"] = rules.not_after(
            figures["last_inspected_on"], today, "last_inspected_on", MachineRefused
        )
    if "inspect_by" in figures:
        kept["inspect_by"] = figures["inspect_by"]
    if "note" in figures:
        kept["note"] = rules.words(figures["note"] or "", "note", MachineRefused)
    return kept
