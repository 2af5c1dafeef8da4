"""Putting in, taking out, and what a machine refuses."""

import pytest
from django.db import IntegrityError, transaction

from studio.equipment import operations, queries
from studio.equipment.errors import AlreadyEnded, AlreadyRunning, LoadRefused, NeedsConfirm
from studio.equipment.models import Load, LoadPlace
from studio.ledger.accounts import Kind, pool
from studio.ledger.errors import InTheFuture
from studio.ledger.operations import close_account
from studio.people.roles import NotAllowed
from tests.equipment.conftest import BEGAN, HOUR

NOW = BEGAN + 1000 * HOUR


def start(owner, machine, purpose="dry", **given):
    given = {"at": BEGAN, "now": NOW, **given}
    return operations.start_load(machine=machine, purpose=purpose, by=owner, **given)


def test_one_oven_load_holds_several_places(owner, oven, blanks):
    wood = blanks(3)
    load = start(owner, oven, places=[(account, None) for account in wood], set_point_mdegc=103_000)
    assert load.step == "dry"
    assert [place.account for place in load.places.all()] == wood
    assert set(queries.inside_now(account.pk for account in wood)) == {account.pk for account in wood}


def test_a_second_load_is_sent_into_the_running_one(owner, oven):
    start(owner, oven)
    with pytest.raises(AlreadyRunning, match="Put it into the running load") as stop:
        start(owner, oven, at=BEGAN + HOUR)
    assert stop.value.code == "already_running"


def test_without_the_question_the_database_still_holds_one_load_to_a_machine(owner, oven):
    start(owner, oven)
    with pytest.raises(IntegrityError), transaction.atomic():
        Load.objects.create(machine=oven, purpose="dry", step="dry", started_at=BEGAN, started_by=owner)


def test_a_load_never_begins_while_another_was_inside(owner, oven):
    operations.end_load(load=start(owner, oven), at=BEGAN + 5 * HOUR, by=owner, now=NOW)
    with pytest.raises(LoadRefused, match="another load") as stop:
        start(owner, oven, at=BEGAN + 4 * HOUR)
    assert stop.value.field == "at"
    earlier = start(owner, oven, at=BEGAN - 5 * HOUR)
    with pytest.raises(LoadRefused, match="next load"):
        operations.end_load(load=earlier, at=BEGAN + HOUR, by=owner, now=NOW)
    assert operations.end_load(load=earlier, at=BEGAN, by=owner, now=NOW).ended_at == BEGAN


def test_what_is_still_to_come_is_refused(owner, oven, blanks):
    with pytest.raises(InTheFuture):
        start(owner, oven, now=BEGAN - HOUR)
    load = start(owner, oven)
    with pytest.raises(InTheFuture):
        operations.put_in(load=load, account=blanks(1)[0], at=BEGAN + HOUR, by=owner, now=BEGAN)
    with pytest.raises(InTheFuture):
        operations.end_load(load=load, at=BEGAN + HOUR, by=owner, now=BEGAN)


@pytest.mark.parametrize("purpose", ["pressure", "vacuum", "", "party"])
def test_an_oven_is_not_used_for_what_it_is_not(owner, oven, purpose):
    with pytest.raises(LoadRefused) as stop:
        start(owner, oven, purpose)
    assert stop.value.field == "purpose"


def test_a_lathe_takes_no_load_and_a_retired_oven_none_either(owner, oven):
    lathe = operations.add_machine(kind="lathe", name="The long lathe", by=owner, at=BEGAN)
    with pytest.raises(LoadRefused, match="takes no load"):
        start(owner, lathe)
    operations.retire_machine(machine=oven, on=BEGAN.date(), by=owner, at=BEGAN)
    with pytest.raises(LoadRefused, match="retired"):
        start(owner, oven)


@pytest.mark.parametrize("heat", [200_001, -1, 103.0])
def test_an_oven_is_not_set_where_it_does_not_go(owner, oven, heat):
    with pytest.raises(LoadRefused) as stop:
        start(owner, oven, set_point_mdegc=heat)
    assert stop.value.field == "set_point_mdegc"
    load = start(owner, oven, set_point_mdegc=200_000)
    with pytest.raises(LoadRefused):
        operations.change_load(load=load, at=BEGAN, by=owner, set_point_mdegc=heat, now=NOW)


def test_what_is_shared_by_weight_must_be_weighed(owner, oven, blanks):
    (account,) = blanks(1)
    for weight in (None, 0, -5, 1.5):
        with pytest.raises(LoadRefused, match="weigh this one") as stop:
            start(owner, oven, share_by="mass", places=[(account, weight)])
        assert stop.value.field == "weight"
    assert not Load.objects.exists()
    assert start(owner, oven, share_by="mass", places=[(account, 812_000)]).places.get().weight == 812_000


def test_a_workpiece_lies_in_one_place_at_a_time(owner, oven, blanks):
    (account,) = blanks(1)
    second = operations.add_machine(kind="oven", name="Second oven", by=owner, at=BEGAN)
    here, there = start(owner, oven, places=[(account, None)]), start(owner, second)
    with pytest.raises(LoadRefused, match="The brick oven"):
        operations.put_in(load=there, account=account, at=BEGAN + HOUR, by=owner, now=NOW)
    with pytest.raises(LoadRefused, match="already"):
        operations.put_in(load=here, account=account, at=BEGAN + HOUR, by=owner, now=NOW)
    with pytest.raises(IntegrityError), transaction.atomic():
        LoadPlace.objects.create(load=there, account=account, weight=1, put_in_at=BEGAN, put_in_by=owner)
    operations.take_out(place=here.places.get(), at=BEGAN + 2 * HOUR, by=owner, now=NOW)
    with pytest.raises(LoadRefused, match="later time"):
        operations.put_in(load=there, account=account, at=BEGAN + HOUR, by=owner, now=NOW)
    operations.put_in(load=there, account=account, at=BEGAN + 2 * HOUR, by=owner, now=NOW)
    assert queries.inside_now([account.pk])[account.pk].load == there


def test_only_a_workpiece_that_is_still_there_goes_in(owner, oven, blanks):
    load = start(owner, oven)
    with pytest.raises(LoadRefused, match="Only workpieces"):
        operations.put_in(load=load, account=pool(Kind.CASH), at=BEGAN, by=owner, now=NOW)
    (account,) = blanks(1)
    close_account(account=account, successor=Kind.LOSS_EXPECTED, at=BEGAN)
    with pytest.raises(LoadRefused, match="what it has become"):
        operations.put_in(load=load, account=account, at=BEGAN, by=owner, now=NOW)


def test_in_and_out_keep_to_their_order(owner, oven, blanks):
    (account,) = blanks(1)
    load = start(owner, oven)
    with pytest.raises(LoadRefused, match="began"):
        operations.put_in(load=load, account=account, at=BEGAN - HOUR, by=owner, now=NOW)
    place = operations.put_in(load=load, account=account, at=BEGAN + 2 * HOUR, by=owner, now=NOW)
    with pytest.raises(LoadRefused, match="went in"):
        operations.take_out(place=place, at=BEGAN + HOUR, by=owner, now=NOW)
    with pytest.raises(LoadRefused, match="ended before"):
        operations.end_load(load=load, at=BEGAN + HOUR, by=owner, now=NOW)
    operations.take_out(place=place, at=BEGAN + 3 * HOUR, by=owner, now=NOW)
    with pytest.raises(LoadRefused, match="already"):
        operations.take_out(place=place, at=BEGAN + 3 * HOUR, by=owner, now=NOW)
    with pytest.raises(LoadRefused, match="minute"):
        operations.end_load(load=start(owner, _other(owner)), at=BEGAN, by=owner, now=NOW)


def test_opening_early_asks_first_and_a_loss_does_not(owner, oven, blanks):
    wood = blanks(2)
    load = start(owner, oven, places=[(a, None) for a in wood], not_before=BEGAN + 10 * HOUR)
    first, second = load.places.all()
    with pytest.raises(NeedsConfirm) as stop:
        operations.take_out(place=first, at=BEGAN + HOUR, by=owner, now=NOW)
    assert stop.value.codes == ("too_early",)
    operations.take_out(place=first, at=BEGAN + HOUR, by=owner, confirm=True, now=NOW)
    operations.take_out(place=second, at=BEGAN + HOUR, by=owner, why="lost", now=NOW)
    with pytest.raises(NeedsConfirm):
        operations.end_load(load=load, at=BEGAN + 2 * HOUR, by=owner, now=NOW)
    assert operations.end_load(load=load, at=BEGAN + 2 * HOUR, by=owner, confirm=True, now=NOW).ended_at
    with pytest.raises(LoadRefused, match="before it began"):
        start(owner, oven, at=BEGAN + 20 * HOUR, not_before=BEGAN)


def test_nothing_goes_in_or_out_of_a_load_that_has_ended(owner, oven, blanks):
    wood = blanks(2)
    load = start(owner, oven, places=[(wood[0], None)])
    operations.end_load(load=load, at=BEGAN + HOUR, by=owner, now=NOW)
    for late in (
        lambda: operations.put_in(load=load, account=wood[1], at=BEGAN, by=owner, now=NOW),
        lambda: operations.take_out(place=load.places.get(), at=BEGAN + HOUR, by=owner, now=NOW),
        lambda: operations.change_load(load=load, at=BEGAN, by=owner, set_point_mdegc=90_000, now=NOW),
    ):
        with pytest.raises(AlreadyEnded, match="in the books"):
            late()


def test_a_visitor_starts_nothing(visitor, oven):
    with pytest.raises(NotAllowed):
        start(visitor, oven)


def _other(owner):
    return operations.add_machine(kind="oven", name="Another oven", by=owner, at=BEGAN)
