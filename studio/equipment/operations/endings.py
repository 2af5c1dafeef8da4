"""A load ends: its hours are shared among what lay in it, and posted once."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from studio.equipment.errors import LoadRefused
from studio.equipment.models import Load, LoadPlace, OutWhy
from studio.equipment.operations.loads import ask_if_too_early, running
from studio.equipment.rates import machine_legs, seconds_of, shares_of
from studio.equipment.times import moment_words, refuse_future
from studio.fields.models import Submission
from studio.ledger.accounts import Account, Kind
from studio.ledger.labour import labour_legs
from studio.ledger.operations import live, post, reverse
from studio.people import settings as studio_settings
from studio.people.models import User
from studio.people.roles import require

SHORTEST_S = 60
MOST_HANDS_ON_S = 24 * 3600
LOSSES = (Kind.LOSS_EXPECTED, Kind.LOSS_UNUSUAL)


def end_load(
    *,
    load: Load,
    at: datetime,
    by: User,
    hands_on_s: int = 0,
    person: User | None = None,
    confirm: bool = False,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Load:
    """Will end a load, share its hours among what lay in it, and post power, wear and hands-on time in one
    entry.

    A workpiece lost or worked on while inside pays until then, and its share goes to its successor. An empty
    load posts nothing: its power stays an expense of the period. Hands-on seconds are `person`'s (or `by`'s),
    at the wage and overhead of the day. Raises `AlreadyEnded` the second time, `NeedsConfirm` before the
    earliest opening, `LoadRefused` for times that can't be, `MissingSetting` or `MissingWage` for a price
    that nobody has given yet; then nothing is stored.
    """
    require(by, "bench")
    refuse_future(at, now)
    if type(hands_on_s) is not int or not 0 <= hands_on_s <= MOST_HANDS_ON_S:
        raise LoadRefused("Give the hands-on time of this load: minutes, up to a day.", field="hands_on_s")
    with transaction.atomic():
        held = running(load)
        ask_if_too_early(held, at, confirm)
        places = list(held.places.select_for_update(of=("self",)).select_related("account__successor"))
        _refuse_times(held, places, at)
        for place in places:
            _out(place, at)
        held.ended_at, held.ended_by, held.hands_on_s = at, by, hands_on_s
        held.hands_on_by = (person or by) if hands_on_s else None
        held.save()
        _post(held, places, submission, now)
    return held


def take_back_end(
    *,
    load: Load,
    at: datetime,
    by: User,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Load:
    """Will take the end of a load back, so that it can be ended at the right time; its entry is reversed.

    What lay in it until the end lies in it again. Raises `LoadRefused` where the machine or one of those
    workpieces has gone into another load since, and what the journal raises where the reversal can't be
    borne.
    """
    require(by, "bench")
    with transaction.atomic():
        held = Load.objects.select_for_update(of=("self",)).select_related("machine").get(pk=load.pk)
        if held.ended_at is None:
            raise LoadRefused("That load is running; there is no end to take back.", code="running")
        if Load.objects.running().filter(machine=held.machine).exists():
            raise LoadRefused(f"{held.machine} has another load in it by now. End that one first.", code="running")
        back = held.places.filter(out_why=OutWhy.ENDED)
        if LoadPlace.objects.inside().filter(account__in=back.values("account")).exists():
            raise LoadRefused(
                "Something that lay in it is in another load by now. Take it out there first.",
                code="already_inside",
            )
        if held.entry_id:
            reverse(entry_id=held.entry_id, at=at, by=by, submission=submission, now=now)
        back.update(out_at=None, out_why="")
        held.ended_at, held.ended_by, held.entry = None, None, None
        held.hands_on_s, held.hands_on_by = 0, None
        held.save()
    return held


def _post(load: Load, places: Sequence[LoadPlace], submission: Submission | None, now: datetime | None) -> None:
    """Post one entry for a load that has just ended, a leg per place and component."""
    assert load.ended_at is not None and load.ended_by is not None
    if not places:
        return
    on = studio_settings.local_date(load.ended_at)
    seconds = shares_of(load, places, load.ended_at)
    shares: list[tuple[Account, int]] = [
        (live(place.account), share) for place, share in zip(places, seconds, strict=True)
    ]
    legs = machine_legs(machine=load.machine, shares=shares, seconds=sum(seconds), on=on)
    if load.hands_on_s and load.hands_on_by is not None:
        legs += labour_legs(person=load.hands_on_by, shares=shares, seconds=load.hands_on_s, on=on)
    if not legs:
        return
    posted = post(
        kind="load",
        legs=legs,
        at=load.ended_at,
        step=load.step,
        by=load.ended_by,
        submission=submission,
        now=now,
    )
    load.entry_id = posted.entry_id  # type: ignore[attr-defined]
    load.save(update_fields=["entry"])


def _out(place: LoadPlace, at: datetime) -> None:
    """Take out what is still inside: at the end, or when it was lost or worked on before."""
    if place.out_at is not None:
        return
    place.out_at, place.out_why = at, OutWhy.ENDED
    closed = place.account.closed_at
    if closed is not None and closed < at:
        heir = place.account.successor
        place.out_at = max(closed, place.put_in_at)
        place.out_why = OutWhy.LOST if heir is not None and heir.kind in LOSSES else OutWhy.EARLY
    place.save(update_fields=["out_at", "out_why"])


def _refuse_times(load: Load, places: Sequence[LoadPlace], at: datetime) -> None:
    if seconds_of(at) - seconds_of(load.started_at) < SHORTEST_S:
        raise LoadRefused(
            f"The load began on {moment_words(load.started_at)}. It can end a minute later at the earliest.",
            field="at",
        )
    last = max((moment for p in places for moment in (p.put_in_at, p.out_at) if moment), default=at)
    if last > at:
        raise LoadRefused(
            f"Something went in or came out on {moment_words(last)}. The load can't have ended before that.",
            field="at",
        )
    later = (
        Load.objects.filter(machine=load.machine, started_at__gte=load.started_at, started_at__lt=at)
        .exclude(pk=load.pk)
        .order_by("started_at")
        .first()
    )
    if later is not None:
        raise LoadRefused(
            f"{load.machine} had the next load in it from {moment_words(later.started_at)}. "
            "Give that time or an earlier one.",
            field="at",
            code="overlap",
        )
