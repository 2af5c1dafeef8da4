"""What the rooms above ask about machines, moulds and loads. Each reads with the SQL queries its docstring
says."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db.models import Count, F, Min, Prefetch, Q, Subquery, Sum

from studio.craft import cast
from studio.craft.costing import split
from studio.craft.rounding import divide
from studio.craft.waits import Wait
from studio.equipment import pots, upkeep
from studio.equipment.cautions import Caution, cautions_for
from studio.equipment.models import (
    Load,
    LoadPlace,
    LoadQuerySet,
    Machine,
    MachineKind,
    Mould,
    MouldQuerySet,
    Shape,
)
from studio.equipment.pot_check import gauge_note, last_read
from studio.equipment.rates import HOUR_S, draws_power, energy_micro, shares_of, wear_micro
from studio.people import queries as people_queries
from studio.people import settings as studio_settings
from studio.people.models import User

INSPECTION_AHEAD = timedelta(days=30)
# Where one stands when a load of that machine is opened.
WALK: dict[str, str] = {
    MachineKind.OVEN: "oven",
    MachineKind.VACUUM_CHAMBER: "vacuum chamber",
    MachineKind.PRESSURE_POT: "pressure pot",
    MachineKind.OTHER: "oven",
}


@dataclass(frozen=True)
class MachineRow:
    """A machine as its list shows it: the load in it, what lies inside, and the hours it has run."""

    machine: Machine
    running: Load | None
    inside: int
    loads: int
    run_s: int


@dataclass(frozen=True)
class Hourly:
    """What an hour costs, in millionths; None where a figure for it is still wanting."""

    energy_micro: int | None
    wear_micro: int | None


@dataclass(frozen=True)
class PlaceCost:
    place: LoadPlace
    seconds: int
    energy_micro: int
    wear_micro: int
    labour_micro: int
    overhead_micro: int

    @property
    def total_micro(self) -> int:
        return self.energy_micro + self.wear_micro + self.labour_micro + self.overhead_micro


@dataclass(frozen=True)
class Preview:
    """What a load would cost if it ended now. `missing` names the answers nobody has given yet."""

    seconds: int
    places: tuple[PlaceCost, ...]
    missing: tuple[str, ...]

    @property
    def total_micro(self) -> int:
        return sum(place.total_micro for place in self.places)


def machines(*, retired: bool = False) -> list[MachineRow]:
    """Return the machines in use (all with `retired`) with what they are doing. Three queries."""
    rows = Machine.objects.all() if retired else Machine.objects.in_use()
    running = {
        load.machine_id: load
        for load in Load.objects.running().annotate(inside=Count("places", filter=Q(places__out_at=None)))
    }
    totals: dict[int, Any] = {
        row["machine"]: row
        for row in Load.objects.ended()
        .values("machine")
        .annotate(loads=Count("pk"), run=Sum(F("ended_at") - F("started_at")))
        .order_by()
    }
    found = []
    for machine in rows:
        now_in = running.get(machine.pk)
        total: dict[str, Any] = totals.get(machine.pk, {})
        ran = total.get("run") or timedelta()
        found.append(
            MachineRow(
                machine,
                now_in,
                getattr(now_in, "inside", 0),
                total.get("loads", 0),
                ran.days * 24 * HOUR_S + ran.seconds,
            )
        )
    return found


def finest_step_mg() -> int | None:
    """Return the smallest step of any scale in use, in milligrams; None where none is known. One query."""
    rows = Machine.objects.in_use().of_kind(MachineKind.SCALE)
    found: int | None = rows.aggregate(least=Min("step_mg"))["least"]
    return found


def hourly(machine: Machine, on: date) -> Hourly:
    """Return what an hour of one machine costs on a day. One query."""
    return hourly_costs([machine], on)[machine.pk]


def hourly_costs(rows: Iterable[Machine], on: date) -> dict[int, Hourly]:
    """Return what an hour of each machine costs on a day, by key. One query, however many."""
    tariff = studio_settings.known("tariff_micro", on)
    return {
        machine.pk: Hourly(
            None
            if machine.power_w is None or (tariff is None and draws_power(machine))
            else energy_micro(machine, HOUR_S, tariff or 0),
            wear_micro(machine, HOUR_S) if machine.price_micro is not None and machine.life_s is not None else None,
        )
        for machine in rows
    }


def running_loads() -> list[Load]:
    """Return what is running, longest first, with `machine` and `places` (their accounts too). Two
    queries."""
    return list(_with_places(Load.objects.running()).order_by("started_at", "pk"))


def load(pk: int) -> Load | None:
    """Return one load with its machine and places, or None. Two queries."""
    return _with_places(Load.objects.filter(pk=pk)).first()


def diary(machine: Machine) -> LoadQuerySet:
    """Return a machine's loads, newest first, with their places: slice it for a page. Two queries."""
    return _with_places(Load.objects.filter(machine=machine))


def inside_now(account_ids: Iterable[int]) -> dict[int, LoadPlace]:
    """Return where each of these workpieces lies now, by account: its place in a running load. One query."""
    rows = LoadPlace.objects.inside().filter(account__in=list(account_ids)).select_related("load__machine")
    return {row.account_id: row for row in rows}


def places_of(account_ids: Iterable[int]) -> dict[int, list[LoadPlace]]:
    """Return every load each of these workpieces lay in, oldest first, by account: when, for what, how hot, and the
    machine's name. One query, no money."""
    rows = (
        LoadPlace.objects.filter(account__in=list(account_ids))
        .select_related("load__machine")
        .only(
            "account_id", "put_in_at", "out_at", "out_why", "load__purpose", "load__started_at", "load__ended_at",
            "load__set_point_mdegc", "load__machine__name", "load__machine__kind",
        )
        .order_by("put_in_at", "pk")
    )  # fmt: skip
    found: dict[int, list[LoadPlace]] = {}
    for row in rows:
        found.setdefault(row.account_id, []).append(row)
    return found


def cost_preview(load: Load, at: datetime, *, hands_on_s: int = 0, person: User | None = None) -> Preview:
    """Return what each place would carry if the load ended at `at`. Changes nothing. Four queries at most.

    The same arithmetic as the posting; where tariff or wage are wanting that part counts as nothing and its
    name stands in `missing`.
    """
    from studio.ledger.labour import overhead_per_hour_micro

    places = list(load.places.all())
    until = load.ended_at or at
    seconds = shares_of(load, places, until) if places and until > load.started_at else (0,) * len(places)
    total_s, on, missing = sum(seconds), studio_settings.local_date(until), []
    tariff = studio_settings.known("tariff_micro", on)
    if tariff is None and draws_power(load.machine):
        missing.append("tariff_micro")
    wage = overhead = 0
    if hands_on_s and person is not None:
        held = people_queries.wages_on(on, [person]).get(person.pk)
        if held is None:
            missing.append("wage")
        wage = divide((held.rate_micro if held else 0) * hands_on_s, HOUR_S)
        try:
            overhead = divide(overhead_per_hour_micro(on) * hands_on_s, HOUR_S)
        except studio_settings.MissingSetting as wanting:
            missing.append(wanting.key)
    parts = [
        _shared(total, seconds)
        for total in (
            energy_micro(load.machine, total_s, tariff or 0),
            wear_micro(load.machine, total_s),
            wage,
            overhead,
        )
    ]
    return Preview(
        total_s,
        tuple(
            PlaceCost(place, share, *costs)
            for place, share, costs in zip(places, seconds, zip(*parts, strict=True), strict=True)
        ),
        tuple(missing),
    )


def moulds(*, retired: bool = False) -> MouldQuerySet:
    """Return the moulds in use (all with `retired`). One query."""
    return Mould.objects.all() if retired else Mould.objects.in_use()


def mould_mm3(mould: Mould) -> int:
    """Return the room in a mould, filled to the rim: as measured where it was, otherwise by geometry. No
    query."""
    if mould.fill_mm3 is not None:
        return mould.fill_mm3
    height = mould.height_um or 0
    if mould.shape == Shape.BOX:
        return cast.box_mm3(mould.length_um or 0, mould.width_um or 0, height)
    if mould.shape == Shape.TAPERED:
        return cast.tapered_mm3(mould.diameter_um or 0, mould.top_diameter_um or 0, height)
    return cast.round_mm3(mould.diameter_um or 0, height)


def pots_in_use() -> list[Machine]:
    """Return the pressure pots in use. One query."""
    return list(Machine.objects.in_use().of_kind(MachineKind.PRESSURE_POT))


def pressure_advice(pot: Machine, on: date) -> pots.Advice:
    """Return what a pressure pot may take, and why not, for the screen beside it. No query.

    Usual pressures are in it only where the nameplate is not lower.
    """
    return pots.advice(pot, on)


def waits(now: datetime) -> list[Wait]:
    """Return what the machines wait for: loads to look after, what their diaries ask for, pots whose plate or
    inspection is wanting.

    Four queries.
    """
    zone = studio_settings.zone()
    today = now.astimezone(zone).date()
    loads = (
        Load.objects.running()
        .select_related("machine")
        .annotate(inside=Count("places", filter=Q(places__out_at=None)), shows_pa=Subquery(last_read()))
        .order_by("pk")
    )
    found = [*(_load_wait(row) for row in loads), *upkeep.waits(now)]
    for pot in Machine.objects.in_use().of_kind(MachineKind.PRESSURE_POT):
        refusals = pots.advice(pot, today).refusals
        if refusals:
            reason = " ".join(refusal.words for refusal in refusals)
            found.append(Wait("desk", "look at the plate of", pot.name, "since", None, reason, about=_about(pot)))
        if pot.inspect_by is not None and pot.inspect_by <= today + INSPECTION_AHEAD:
            by = datetime.combine(pot.inspect_by, time.min, tzinfo=zone)
            reason = f"you want it inspected by {pot.inspect_by:%d %B %Y}"
            found.append(Wait("desk", "have inspected", pot.name, "by", by, reason, about=_about(pot)))
    return found


def wait_of(place: LoadPlace) -> Wait | None:
    """Return until when the load must be left alone that a workpiece lies in (as `inside_now` gives it). No query."""
    return _load_wait(place.load) if place.load.not_before is not None else None


def cautions(machine: Machine, purpose: str = "") -> tuple[Caution, ...]:
    """Return what to mind at this machine, in the order to read it. No query."""
    return cautions_for(machine.kind, purpose)


def _with_places(rows: Any) -> Any:
    # Who opens a load may be one who sees no costs: what the accounts are worth is not read.
    places = LoadPlace.objects.select_related("account").defer("account__value_micro").order_by("put_in_at", "pk")
    return rows.select_related("machine").prefetch_related(Prefetch("places", queryset=places))


def _shared(total: int, seconds: Sequence[int]) -> tuple[int, ...]:
    return split(total, seconds) if total and any(seconds) else (0,) * len(seconds)


def _about(machine: Machine) -> tuple[str, int]:
    return ("equipment.machine", machine.pk)


def _load_wait(load: Load) -> Wait:
    inside = getattr(load, "inside", None)
    what = "let the air off and open" if load.machine.kind == MachineKind.PRESSURE_POT else "open"
    lies = "" if inside is None else f"{inside} inside" if inside else "nothing inside"
    place, about = WALK[load.machine.kind], ("equipment.load", load.pk)
    if load.not_before is not None:
        return Wait(place, what, load.machine.name, "not before", load.not_before, lies, gauge_note(load), about)
    return Wait(place, "look into", load.machine.name, "since", load.started_at, lies, gauge_note(load), about)
