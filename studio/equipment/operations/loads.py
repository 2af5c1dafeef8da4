"""A load goes in: the door or the lid is closed on it, more is put in, something is taken out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Q

from studio.equipment import figures as rules
from studio.equipment import pots
from studio.equipment.errors import AlreadyEnded, AlreadyRunning, LoadRefused, NeedsConfirm
from studio.equipment.models import (
    WHY_LENGTH,
    Load,
    LoadPlace,
    Machine,
    MachineKind,
    OutWhy,
    Purpose,
    ShareBy,
)
from studio.equipment.times import moment_words, refuse_future
from studio.fields.writing import show
from studio.ledger.accounts import Account, Kind
from studio.people import settings as studio_settings
from studio.people.models import User
from studio.people.roles import require

HEAT = (Purpose.SEASON, Purpose.DRY, Purpose.WARM, Purpose.BAKE, Purpose.POST_CURE, Purpose.OTHER)
PURPOSES: dict[str, tuple[str, ...]] = {
    MachineKind.OVEN: HEAT,
    MachineKind.VACUUM_CHAMBER: (Purpose.VACUUM,),
    MachineKind.PRESSURE_POT: (Purpose.PRESSURE,),
    MachineKind.OTHER: (*HEAT, Purpose.VACUUM),
}
STEPS: dict[str, str] = {
    Purpose.SEASON: "season",
    Purpose.DRY: "dry",
    Purpose.WARM: "dry",
    Purpose.BAKE: "stabilize",
    Purpose.VACUUM: "stabilize",
    Purpose.PRESSURE: "cast",
    Purpose.POST_CURE: "cast",
    Purpose.OTHER: "other",
}
COLDEST_MDEGC, MOST_VACUUM_PA = 0, 110_000
WEIGHED_BY = {
    ShareBy.VOLUME: "This load is shared by volume: measure this one, or share the load equally.",
    ShareBy.MASS: "This load is shared by weight: weigh this one, or share the load equally.",
    ShareBy.EQUAL: "",
}


@dataclass(frozen=True)
class _Setting:
    """What the machine is set to, and what was warned about and gone ahead with."""

    set_point_mdegc: int | None
    gauge_pa: int | None
    warned: str
    why: str


def start_load(
    *,
    machine: Machine,
    purpose: str,
    at: datetime,
    by: User,
    places: Sequence[tuple[Account, int | None]] = (),
    set_point_mdegc: int | None = None,
    gauge_pa: int | None = None,
    share_by: str = ShareBy.EQUAL,
    not_before: datetime | None = None,
    step: str = "",
    confirm: bool = False,
    why: str = "",
    now: datetime | None = None,
) -> Load:
    """Will begin a load with what lies in it: (account, what its share goes by), mm³, milligrams or nothing.

    `gauge_pa` is the pressure above the air, or in a vacuum chamber below it. `not_before` is when it may be
    opened at the earliest. Raises `AlreadyRunning` for a machine that has a load, `PotRefused` for a pot that
    may not be used or not at that pressure (nobody overrules it), `NeedsConfirm` for what is warned about
    (`confirm=True` goes ahead; over a pot's warning also words in `why`), `LoadRefused` for the rest.
    """
    require(by, "bench")
    refuse_future(at, now)
    with transaction.atomic():
        held = Machine.objects.select_for_update().get(pk=machine.pk)
        _refuse_wrong_machine(held, purpose, at)
        _refuse_busy(held, at)
        if share_by not in ShareBy.values:
            raise LoadRefused("Share its hours by volume, by weight or equally.", field="share_by")
        _refuse_not_before(not_before, at)
        setting = _setting(held, set_point_mdegc, gauge_pa, at, confirm, why)
        load = Load.objects.create(
            machine=held,
            purpose=purpose,
            step=step or STEPS[purpose],
            started_at=at,
            share_by=share_by,
            not_before=not_before,
            started_by=by,
            **vars(setting),
        )
        for account, weight in places:
            put_in(load=load, account=account, weight=weight, at=at, by=by, now=now)
    return load


def change_load(
    *,
    load: Load,
    at: datetime,
    by: User,
    set_point_mdegc: int | None = None,
    gauge_pa: int | None = None,
    not_before: datetime | None = None,
    confirm: bool = False,
    why: str = "",
    now: datetime | None = None,
) -> Load:
    """Will set a running load's temperature, pressure or earliest opening anew; what isn't named stays.

    A pot's new pressure is judged like the first. Raises as `start_load`.
    """
    require(by, "bench")
    refuse_future(at, now)
    with transaction.atomic():
        held = running(load)
        if not_before is not None:
            _refuse_not_before(not_before, at)
            held.not_before = not_before
        if set_point_mdegc is not None or gauge_pa is not None:
            heat = held.set_point_mdegc if set_point_mdegc is None else set_point_mdegc
            gauge = held.gauge_pa if gauge_pa is None else gauge_pa
            setting = _setting(held.machine, heat, gauge, at, confirm, why)
            held.set_point_mdegc, held.gauge_pa = setting.set_point_mdegc, setting.gauge_pa
            if setting.warned:
                held.warned = " ".join(dict.fromkeys([*held.warned_codes, *setting.warned.split()]))
                held.why = "; ".join(filter(None, [held.why, setting.why]))[:WHY_LENGTH]
        held.save()
    return held


def put_in(
    *,
    load: Load,
    account: Account,
    at: datetime,
    by: User,
    weight: int | None = None,
    now: datetime | None = None,
) -> LoadPlace:
    """Will put a workpiece into a running load, at its start or later.

    `weight` is mm³ or milligrams as the load is shared, and not asked for where it is shared equally. Raises
    `AlreadyEnded`, or `LoadRefused` for something that is elsewhere, closed, or has nothing to share by.
    """
    require(by, "bench")
    refuse_future(at, now)
    with transaction.atomic():
        held = running(load)
        if at < held.started_at:
            raise LoadRefused(
                f"This load began on {moment_words(held.started_at)}. Give that time or a later one.",
                field="at",
            )
        share = _share(held, weight)
        fresh = Account.objects.select_for_update().get(pk=account.pk)
        if fresh.kind != Kind.WORKPIECE:
            raise LoadRefused("Only workpieces go into a load: choose one from the bench.", field="account")
        if fresh.closed_at is not None:
            raise LoadRefused("That one is cut up, joined, lost or gone. Choose what it has become.", field="account")
        _refuse_elsewhere(fresh, held, at)
        return LoadPlace.objects.create(load=held, account=fresh, weight=share, put_in_at=at, put_in_by=by)


def take_out(
    *,
    place: LoadPlace,
    at: datetime,
    by: User,
    why: str = OutWhy.EARLY,
    confirm: bool = False,
    now: datetime | None = None,
) -> LoadPlace:
    """Will take one workpiece out of a running load: early, or lost while inside; it pays for its own hours.

    Taken out before the load may be opened it asks first (`confirm=True` goes ahead); a loss doesn't ask.
    """
    require(by, "bench")
    refuse_future(at, now)
    if why not in (OutWhy.EARLY, OutWhy.LOST):
        raise LoadRefused("Say whether it was taken out or lost.", field="why")
    with transaction.atomic():
        held = running(place.load)
        spot = LoadPlace.objects.select_for_update().get(pk=place.pk)
        if spot.out_at is not None:
            raise LoadRefused(f"That one was out on {moment_words(spot.out_at)} already.", code="already_out")
        if at < spot.put_in_at:
            raise LoadRefused(
                f"It went in on {moment_words(spot.put_in_at)}. Give that time or a later one.", field="at"
            )
        if why == OutWhy.EARLY:
            ask_if_too_early(held, at, confirm)
        spot.out_at, spot.out_why = at, why
        spot.save(update_fields=["out_at", "out_why"])
    return spot


def running(load: Load) -> Load:
    """Return the load held until the transaction ends. Raises `AlreadyEnded` when it has ended."""
    held = Load.objects.select_for_update(of=("self",)).select_related("machine").get(pk=load.pk)
    if held.ended_at is not None:
        raise AlreadyEnded(
            f"That load ended on {moment_words(held.ended_at)} and is in the books. "
            "To put its times right, take the end back first; to use the machine again, start a new load.",
            code="already_ended",
        )
    return held


def ask_if_too_early(load: Load, at: datetime, confirm: bool) -> None:
    if load.not_before is not None and at < load.not_before and not confirm:
        raise NeedsConfirm(
            f"It was to stay as it is until {moment_words(load.not_before)}. Open it all the same?",
            codes=("too_early",),
            field="at",
        )


def _refuse_wrong_machine(machine: Machine, purpose: str, at: datetime) -> None:
    if machine.retired_on is not None:
        raise LoadRefused(
            f"{machine} was retired on {machine.retired_on:%d %B %Y}. Choose another, or bring it back.",
            field="machine",
        )
    if machine.kind not in PURPOSES:
        raise LoadRefused(f"A {machine.get_kind_display()} takes no load. Choose another.", field="machine")
    if purpose not in Purpose.values:
        raise LoadRefused("Choose what the load is for.", field="purpose")
    if purpose not in PURPOSES[machine.kind]:
        label = Purpose(purpose).label
        raise LoadRefused(
            f"{machine} is {'an' if machine.kind == MachineKind.OVEN else 'a'} {machine.get_kind_display()}: "
            f"not the place to {label}. Choose another machine.",
            field="purpose",
        )


def _refuse_busy(machine: Machine, at: datetime) -> None:
    loads = Load.objects.filter(machine=machine)
    now_in = loads.running().first()
    if now_in is not None:
        raise AlreadyRunning(
            f"{machine} has had a load in it since {moment_words(now_in.started_at)}. "
            "Put it into the running load, or end that one first.",
            field="machine",
            code="already_running",
        )
    later = loads.ended().filter(started_at__lte=at, ended_at__gt=at).first()
    if later is not None and later.ended_at is not None:
        raise LoadRefused(
            f"{machine} had another load in it from {moment_words(later.started_at)} to "
            f"{moment_words(later.ended_at)}. Give the time this one really began.",
            field="at",
            code="overlap",
        )


def _refuse_not_before(not_before: datetime | None, at: datetime) -> None:
    if not_before is not None and not_before < at:
        raise LoadRefused("The earliest time to open it lies before it began.", field="not_before")


def _setting(
    machine: Machine, heat: int | None, gauge: int | None, at: datetime, confirm: bool, why: str
) -> _Setting:
    """Judge what a machine is to be set to."""
    reason = rules.words(why, "why", LoadRefused, most=WHY_LENGTH)
    if heat is not None:
        _refuse_heat(machine, heat)
    if machine.kind == MachineKind.PRESSURE_POT:
        today = studio_settings.local_date(at)
        warnings = pots.judge(machine, gauge, today)
        if warnings and not confirm:
            raise NeedsConfirm(
                " ".join(warning.words for warning in warnings),
                codes=[warning.code for warning in warnings],
                field="gauge_pa",
            )
        if warnings and not reason:
            raise NeedsConfirm(
                "Say in a few words why it is safe all the same.",
                codes=[warning.code for warning in warnings],
                field="why",
            )
        return _Setting(heat, gauge, " ".join(w.code for w in warnings), reason if warnings else "")
    if gauge is not None and (type(gauge) is not int or not 0 <= gauge <= MOST_VACUUM_PA):
        raise LoadRefused(
            "A vacuum is at most one atmosphere below the air outside. Give how far the gauge fell.",
            field="gauge_pa",
        )
    return _Setting(heat, gauge, "", "")


def _refuse_heat(machine: Machine, heat: int) -> None:
    if type(heat) is not int or heat < COLDEST_MDEGC:
        raise LoadRefused("Give a set-point above freezing.", field="set_point_mdegc")
    if machine.highest_mdegc is not None and heat > machine.highest_mdegc:
        raise LoadRefused(
            f"{machine} goes up to {show(machine.highest_mdegc, 'temperature')}. Give a lower set-point.",
            field="set_point_mdegc",
        )


def _share(load: Load, weight: int | None) -> int:
    if load.share_by == ShareBy.EQUAL:
        return 1
    if type(weight) is not int or weight < 1:
        raise LoadRefused(WEIGHED_BY[ShareBy(load.share_by)], field="weight")
    return weight


def _refuse_elsewhere(account: Account, load: Load, at: datetime) -> None:
    clash: Any = (
        LoadPlace.objects.filter(account=account)
        .filter(Q(out_at=None) | Q(out_at__gt=at))
        .select_related("load__machine")
        .first()
    )
    if clash is None:
        return
    if clash.load_id == load.pk and clash.out_at is None:
        raise LoadRefused("That one is in this load already.", field="account", code="already_inside")
    until = f"was in {clash.load.machine} until {moment_words(clash.out_at)}" if clash.out_at else ""
    raise LoadRefused(
        f"That one {until or f'is in {clash.load.machine} since {moment_words(clash.put_in_at)}'}. "
        f"{'Give a later time.' if until else 'Take it out there first.'}",
        field="at" if until else "account",
        code="already_inside",
    )
