"""Mistyped hours are taken back: once, off the step and off the books, also where their cost has gone on."""

import pytest

from studio.ledger import queries as ledger
from studio.ledger.accounts import Component
from studio.people import operations as people
from studio.work import operations as work
from studio.work.errors import ClockTrouble
from studio.work.models import ClockRun, Step, StepState

from .conftest import BEGAN, DAY, HOUR, MONEY


def book(owner, blanks, hours=2, code="turn", at=BEGAN + DAY):
    return work.add_hours(person=owner, workpieces=blanks, code=code, seconds=hours * 3600, at=at, by=owner)


def labour(piece):
    return ledger.cost_of(piece.account).parts.get(Component.OWN_LABOUR, 0)


def test_hours_taken_back_leave_the_step_and_the_cost_as_they_were_before(blanks, owner):
    before = ledger.cost_of(blanks[0].account)
    run = book(owner, [blanks[0]])
    assert labour(blanks[0]) == 60 * MONEY
    back = work.take_back_hours(run=run, at=BEGAN + 2 * DAY, by=owner)
    assert ledger.cost_of(blanks[0].account) == before
    step = blanks[0].steps.get(code="turn")
    assert (step.hands_on_s, step.state, step.started_at) == (0, StepState.PLANNED, None)
    assert (back.taken_back_at, back.taken_back_by) == (BEGAN + 2 * DAY, owner)


def test_hours_of_several_come_off_each(blanks, owner):
    run = book(owner, blanks[:2])
    work.take_back_hours(run=run, at=BEGAN + 2 * DAY, by=owner)
    assert [labour(blank) for blank in blanks[:2]] == [0, 0]
    assert set(Step.objects.filter(code="turn").values_list("hands_on_s", flat=True)) == {0}


def test_hours_taken_back_twice_are_refused_and_come_off_once(blanks, owner):
    kept = book(owner, [blanks[0]], hours=1)
    run = book(owner, [blanks[0]])
    work.take_back_hours(run=run, at=BEGAN + 2 * DAY, by=owner)
    with pytest.raises(ClockTrouble, match="taken back before"):
        work.take_back_hours(run=run, at=BEGAN + 2 * DAY, by=owner)
    assert labour(blanks[0]) == 30 * MONEY
    assert blanks[0].steps.get(code="turn").hands_on_s == kept.seconds == 3600


def test_what_a_clock_counted_comes_off_the_step_it_went_to(blanks, owner):
    run = work.start_clock(person=owner, workpieces=[blanks[0]], code="turn", at=BEGAN + DAY)
    with pytest.raises(ClockTrouble, match="still runs"):
        work.take_back_hours(run=run, at=BEGAN + DAY + HOUR, by=owner)
    run = work.stop_clock(run=run, at=BEGAN + DAY + HOUR, by=owner)
    work.end_step(workpiece=blanks[0], code="turn", at=BEGAN + DAY + HOUR, person=owner)
    work.repeat_step(workpiece=blanks[0], code="turn")
    work.begin_step(workpiece=blanks[0], code="turn", at=BEGAN + 2 * DAY, person=owner)
    work.take_back_hours(run=run, at=BEGAN + 2 * DAY, by=owner)
    first = blanks[0].steps.get(code="turn", attempt=1)
    assert (first.state, first.hands_on_s, labour(blanks[0])) == (StepState.DONE, 0, 0)


def test_hours_before_their_step_was_written_down_still_come_off_it(blanks, owner):
    run = book(owner, [blanks[0]])
    run.shares.update(step=None)
    work.take_back_hours(run=run, at=BEGAN + 2 * DAY, by=owner)
    assert blanks[0].steps.get(code="turn").hands_on_s == 0


def test_hours_can_not_be_taken_back_before_they_were_booked(blanks, owner):
    run = book(owner, [blanks[0]])
    with pytest.raises(ClockTrouble, match="Give a later time"):
        work.take_back_hours(run=run, at=BEGAN, by=owner)
    assert labour(blanks[0]) == 60 * MONEY


def test_hours_that_cost_nothing_come_off_the_step_all_the_same(blanks, owner):
    friend = people.add_user(
        username="friend", display_name="A friend", role="maker", password="soft wet shavings fly", by=owner, at=BEGAN
    )
    first = (BEGAN - DAY).date()
    people.set_wage(person=friend, rate_micro=0, paid=False, from_on=first, by=owner, at=BEGAN)
    people.set_setting(key="overhead_year_micro", value=0, by=owner, at=BEGAN, from_on=first)
    run = work.add_hours(person=friend, workpieces=[blanks[0]], code="turn", seconds=600, at=BEGAN + DAY, by=friend)
    assert run.entry_id is None
    work.take_back_hours(run=run, at=BEGAN + 2 * DAY, by=friend)
    assert blanks[0].steps.get(code="turn").hands_on_s == 0


def test_hours_of_what_was_lost_since_are_asked_about_then_come_off_the_losses(blanks, owner):
    run = book(owner, blanks[:2])
    work.it_broke(workpiece=blanks[0], cause="catch", at=BEGAN + 2 * DAY, by=owner)
    with pytest.raises(ClockTrouble, match="41/1 was lost") as stop:
        work.take_back_hours(run=run, at=BEGAN + 3 * DAY, by=owner)
    assert stop.value.code == "sure" and labour(blanks[1]) == 30 * MONEY
    assert ClockRun.objects.get().taken_back_at is None
    work.take_back_hours(run=run, at=BEGAN + 3 * DAY, by=owner, sure=True)
    assert ledger.pool_sums()["loss_expected"] == 30 * MONEY  # its wood alone
    assert labour(blanks[1]) == 0 and ledger.pool_sums()["own_labour"] == 0


def test_hours_passed_on_twice_over_stay_and_it_is_said(lump, owner):
    run = book(owner, [lump])
    small, large = work.cut(
        parent=lump, blanks=[work.BlankSpec(weight=1), work.BlankSpec(weight=2)], at=BEGAN + 2 * DAY, by=owner
    )
    for sure in (False, True):
        with pytest.raises(ClockTrouble) as stop:
            work.take_back_hours(run=run, at=BEGAN + 3 * DAY, by=owner, sure=sure)
    assert "passed on again" in str(stop.value)
    assert labour(small) + labour(large) == 60 * MONEY
    assert lump.steps.get(code="turn").hands_on_s == 7200
