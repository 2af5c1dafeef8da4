"""What machines want every so often: by the calendar, by hours run, the studio's own figure, and what was done."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.equipment import operations, queries, upkeep
from studio.equipment.errors import UpkeepRefused
from studio.equipment.models import Load, Machine, Upkeep, UpkeepDone
from studio.equipment.upkeep_usual import DAY_S, HOUR_S, MONTH_S, USUAL
from studio.ledger.errors import InTheFuture
from studio.people.roles import NotAllowed
from tests.equipment.conftest import BEGAN, HOUR

DAY = timedelta(days=1)


@pytest.fixture
def pot(owner):
    return operations.add_machine(kind="pressure_pot", name="The grey pot", by=owner, at=BEGAN)


@pytest.fixture
def chamber(owner):
    return operations.add_machine(kind="vacuum_chamber", name="The tall chamber", by=owner, at=BEGAN)


def lines(machine, now=BEGAN + HOUR):
    return {row.upkeep.what: row for row in upkeep.upkeep_rows(now, machine)}


def the(machine, what):
    return Upkeep.objects.get(machine=machine, what=what, dropped=False)


def ran(machine, owner, start, hours):
    return Load.objects.create(
        machine=machine, purpose="vacuum", step="stabilize", started_at=start, ended_at=start + hours * HOUR,
        started_by=owner,
    )  # fmt: skip


def waiting(now, name):
    return [wait for wait in queries.waits(now) if wait.what == "look after" and wait.subject == name]


@pytest.mark.parametrize("kind", USUAL)
def test_a_new_machine_begins_with_what_its_kind_usually_wants_and_says_it_is_common_practice(owner, kind):
    machine = operations.add_machine(kind=kind, name="New", by=owner, at=BEGAN)
    rows = upkeep.upkeep_rows(BEGAN, machine)
    assert [(row.upkeep.what, row.upkeep.every_s, row.upkeep.run_s) for row in rows] == list(USUAL[kind])
    assert all(row.usual and row.last is None and not row.due.now for row in rows)


def test_a_lathe_asks_for_nothing_until_somebody_writes_it_down(owner):
    lathe = operations.add_machine(kind="lathe", name="The long lathe", by=owner, at=BEGAN)
    assert upkeep.upkeep_rows(BEGAN, lathe) == []
    with pytest.raises(UpkeepRefused, match="yourself"):
        operations.begin_diary(machine=lathe, by=owner, at=BEGAN)
    operations.add_upkeep(machine=lathe, what="Grease the bearings", every_s=90 * DAY_S, by=owner, at=BEGAN)
    (row,) = upkeep.upkeep_rows(BEGAN, lathe)
    assert not row.usual and row.how_often == "every 3 months"


def test_a_diary_is_begun_with_what_it_lacks_and_once(pot, owner):
    Upkeep.objects.filter(machine=pot).exclude(what="Try the relief valve").delete()
    assert upkeep.begins_with(pot, list(lines(pot).values())) == (
        "Look over the lid gasket", "Look over clamps and their threads",
    )  # fmt: skip
    assert len(operations.begin_diary(machine=pot, by=owner, at=BEGAN)) == 2
    with pytest.raises(UpkeepRefused, match="already"):
        operations.begin_diary(machine=pot, by=owner, at=BEGAN)
    assert len(lines(pot)) == 3 and upkeep.begins_with(pot, list(lines(pot).values())) == ()


def test_what_is_due_by_the_calendar_stands_in_the_round_until_it_is_done(pot, owner):
    month = BEGAN + timedelta(seconds=MONTH_S)
    assert waiting(month - 2 * DAY, "The grey pot") == []
    (wait,) = waiting(month + DAY, "The grey pot")
    assert (wait.place, wait.kind, wait.at) == ("pressure pot", "by", month) and wait.late(month + DAY)
    assert wait.reason == "look over the lid gasket and look over clamps and their threads"
    for what in ("Look over the lid gasket", "Look over clamps and their threads"):
        operations.upkeep_done(
            upkeep=the(pot, what), at=month + DAY, by=owner, words="as new", now=month + DAY
        )
    assert waiting(month + DAY, "The grey pot") == []
    (again,) = waiting(month + DAY + timedelta(seconds=MONTH_S), "The grey pot")
    assert again.at == month + DAY + timedelta(seconds=MONTH_S)
    assert [done.words for done in upkeep.done_at(pot)] == ["as new", "as new"]


def test_pump_oil_is_due_after_its_hours_of_running_counted_from_the_last_change(chamber, owner):
    oil, ahead = the(chamber, "Change the pump oil"), BEGAN + 20 * DAY
    for n in range(3):
        ran(chamber, owner, BEGAN + n * 2 * DAY, 33)
    assert lines(chamber, ahead)["Change the pump oil"].due.left_s == HOUR_S
    ran(chamber, owner, BEGAN + 10 * DAY, 1)
    row = lines(chamber, ahead)["Change the pump oil"]
    assert row.ran_s == 100 * HOUR_S and row.due.now and row.due.left_s == 0
    (wait,) = waiting(ahead, "The tall chamber")
    assert (wait.kind, wait.at, wait.note) == ("since", None, "ran 100\u00a0h since")
    operations.upkeep_done(upkeep=oil, at=BEGAN + 10 * DAY + HOUR, by=owner, now=ahead)
    assert lines(chamber, ahead)["Change the pump oil"].ran_s == 0
    assert waiting(ahead, "The tall chamber") == []


def test_a_load_that_runs_now_counts_and_one_that_was_running_at_the_change_counts_from_then(chamber, owner):
    oil = the(chamber, "Change the pump oil")
    ran(chamber, owner, BEGAN, 10)
    operations.upkeep_done(upkeep=oil, at=BEGAN + 4 * HOUR, by=owner, now=BEGAN + DAY)
    Load.objects.create(
        machine=chamber, purpose="vacuum", step="stabilize", started_at=BEGAN + 20 * HOUR, started_by=owner
    )
    assert lines(chamber, BEGAN + 23 * HOUR)["Change the pump oil"].ran_s == (6 + 3) * HOUR_S


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"what": "  ", "every_s": DAY_S}, "what"),
        ({"what": "w" * 121, "every_s": DAY_S}, "what"),
        ({"what": "Oil\x00", "every_s": DAY_S}, "what"),
        ({"what": "Oil"}, "every_s"),
        ({"what": "Oil", "every_s": 0}, "every_s"),
        ({"what": "Oil", "every_s": -DAY_S}, "every_s"),
        ({"what": "Oil", "every_s": 30 * 366 * DAY_S}, "every_s"),
        ({"what": "Oil", "run_s": 0}, "run_s"),
        ({"what": "Oil", "run_s": 3599}, "run_s"),
        ({"what": "Oil", "run_s": 100_001 * HOUR_S}, "run_s"),
        ({"what": "Try the relief valve", "every_s": DAY_S}, "what"),
    ],
)
def test_what_can_t_be_wanted_is_refused_beside_its_field(pot, owner, wrong, field):
    with pytest.raises(UpkeepRefused) as refused:
        operations.add_upkeep(machine=pot, by=owner, at=BEGAN, **wrong)
    assert refused.value.field == field and Upkeep.objects.filter(machine=pot).count() == 3
    gasket = the(pot, "Look over the lid gasket")
    with pytest.raises(UpkeepRefused):
        operations.change_upkeep(upkeep=gasket, by=owner, **wrong)


def test_changing_an_interval_makes_it_the_studio_s_own(pot, owner):
    gasket = the(pot, "Look over the lid gasket")
    operations.change_upkeep(upkeep=gasket, what=gasket.what, every_s=14 * DAY_S, run_s=50 * HOUR_S, by=owner)
    row = lines(pot)["Look over the lid gasket"]
    assert not row.usual and row.how_often == "every 2 weeks, or after 50\u00a0h of running"


def test_what_is_dropped_is_asked_for_no_more_and_its_history_stays(pot, owner):
    valve = the(pot, "Try the relief valve")
    operations.upkeep_done(upkeep=valve, at=BEGAN + HOUR, by=owner, words="lifts at 4.1 bar", now=BEGAN + DAY)
    operations.drop_upkeep(upkeep=valve, by=owner)
    assert "Try the relief valve" not in lines(pot)
    assert [done.words for done in upkeep.done_at(pot)] == ["lifts at 4.1 bar"]
    for again in (
        lambda: operations.drop_upkeep(upkeep=valve, by=owner),
        lambda: operations.upkeep_done(upkeep=valve, at=BEGAN + 2 * HOUR, by=owner, now=BEGAN + DAY),
    ):
        with pytest.raises(UpkeepRefused, match="isn’t asked for"):
            again()
    operations.begin_diary(machine=pot, by=owner, at=BEGAN + DAY)
    assert lines(pot)["Try the relief valve"].last is None


def test_done_twice_at_one_moment_counts_once_and_nothing_is_done_tomorrow(pot, owner):
    valve, now = the(pot, "Try the relief valve"), BEGAN + DAY
    done = operations.upkeep_done(upkeep=valve, at=now, by=owner, now=now)
    with pytest.raises(UpkeepRefused, match="noted already"):
        operations.upkeep_done(upkeep=valve, at=now, by=owner, now=now)
    with pytest.raises(InTheFuture):
        operations.upkeep_done(upkeep=valve, at=now + HOUR, by=owner, now=now)
    with pytest.raises(UpkeepRefused, match="too long ago"):
        operations.upkeep_done(upkeep=valve, at=BEGAN - 20 * 366 * DAY, by=owner, now=now)
    with pytest.raises(UpkeepRefused):
        operations.upkeep_done(upkeep=valve, at=now - HOUR, words="w" * 301, by=owner, now=now)
    assert UpkeepDone.objects.count() == 1
    operations.take_back_done(done=done, by=owner)
    assert lines(pot)["Try the relief valve"].last is None
    with pytest.raises(UpkeepRefused, match="already"):
        operations.take_back_done(done=done, by=owner)


def test_an_earlier_one_noted_later_does_not_turn_the_clock_back(pot, owner):
    valve, now = the(pot, "Try the relief valve"), BEGAN + 9 * DAY
    operations.upkeep_done(upkeep=valve, at=BEGAN + 8 * DAY, by=owner, now=now)
    operations.upkeep_done(upkeep=valve, at=BEGAN + 2 * DAY, by=owner, now=now)
    assert lines(pot, now)["Try the relief valve"].last == BEGAN + 8 * DAY


def test_a_machine_out_of_use_asks_for_nothing(pot, owner):
    operations.retire_machine(machine=pot, on=BEGAN.date(), by=owner, at=BEGAN + HOUR)
    assert waiting(BEGAN + 900 * DAY, "The grey pot") == []
    with pytest.raises(UpkeepRefused, match="out of use"):
        operations.add_upkeep(machine=pot, what="Oil", every_s=DAY_S, by=owner, at=BEGAN)


def test_a_visitor_changes_no_diary(pot, visitor):
    valve = the(pot, "Try the relief valve")
    for deed in (
        lambda: operations.begin_diary(machine=pot, by=visitor, at=BEGAN),
        lambda: operations.add_upkeep(machine=pot, what="Oil", every_s=DAY_S, by=visitor, at=BEGAN),
        lambda: operations.change_upkeep(upkeep=valve, what="Oil", every_s=DAY_S, by=visitor),
        lambda: operations.drop_upkeep(upkeep=valve, by=visitor),
        lambda: operations.upkeep_done(upkeep=valve, at=BEGAN, by=visitor, now=BEGAN + DAY),
    ):
        with pytest.raises(NotAllowed):
            deed()


def test_the_diaries_of_many_machines_are_one_query(owner, pot):
    def count():
        with CaptureQueriesContext(connection) as seen:
            upkeep.upkeep_rows(BEGAN + 900 * DAY)
        return len(seen)

    assert count() == 1
    for n in range(20):
        operations.add_machine(kind="oven", name=f"Oven {n}", by=owner, at=BEGAN)
    assert count() == 1 and Machine.objects.count() == 21
