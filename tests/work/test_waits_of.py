"""What waits for one workpiece: the same words as in the round, only about this one."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.equipment import operations as equipment
from studio.stores import operations as stores
from studio.work import operations as work
from studio.work import queries
from studio.work.models import Step, StepState
from studio.work.queries.waits import waits_of
from tests.work.conftest import BEGAN, DAY, GRAM, HOUR, KILO, NOW

AT = BEGAN + 2 * HOUR


def said(wait):
    return wait.place, wait.what, wait.kind, wait.at, wait.reason, wait.until, wait.about


def in_the_round(now, piece):
    return [wait for wait in queries.waits(now) if piece.number in [tag.number for tag in getattr(wait, "tags", ())]]


@pytest.fixture
def in_oven(blanks, oven, owner):
    work.load_up(machine=oven, workpieces=blanks[:2], purpose="dry", at=AT, by=owner)
    return blanks


@pytest.fixture
def in_bath(blanks, owner):
    resin = stores.add_material(name="Bath resin", kind="stabilizing", by=owner, at=BEGAN)
    stores.buy(material=resin, amount=5 * KILO, paid_micro=150_000_000, by=owner, at=BEGAN)
    bath = stores.start_bath(name="The tall chamber", material=resin, at=BEGAN, by=owner)
    stores.fill_bath(bath=bath, amount=2 * KILO, at=BEGAN, by=owner)
    for blank in blanks[:2]:
        work.end_step(workpiece=blank, code="dry", at=AT, person=owner)
        work.weigh(workpiece=blank, mass_mg=900 * GRAM, condition="dry", at=AT, by=owner, now=NOW, sure=True)
    soaked = [(blank, 900 * GRAM) for blank in blanks[:2]]
    work.start_stabilizing(bath=bath, dry=soaked, at=AT + HOUR, by=owner, cooled=True, sure=True)
    return blanks


@pytest.mark.parametrize("where", ["in_oven", "in_bath"])
def test_a_piece_that_lies_somewhere_is_told_of_as_the_round_tells_of_it(where, request):
    blanks = request.getfixturevalue(where)
    now = AT + 5 * HOUR
    (own,) = waits_of(blanks[1], now)
    (round_,) = in_the_round(now, blanks[1])
    assert said(own)[:1] + said(own)[1:6] == said(round_)[:1] + said(round_)[1:6]
    assert [tag.number for tag in own.tags] == ["41/2"] and own.more == 0
    assert waits_of(blanks[2], now) == []


def test_a_piece_that_rests_says_until_when_and_one_that_could_go_on_says_nothing(blanks, owner):
    assert waits_of(blanks[0], AT) == []
    work.end_step(workpiece=blanks[0], code="clean", at=AT, person=owner)
    until = AT + 3 * DAY
    Step.objects.filter(workpiece=blanks[0], state=StepState.DONE).update(not_before=until)
    (rests,) = waits_of(blanks[0], AT + HOUR)
    assert (rests.kind, rests.at, rests.what) == ("not before", until, "dry")
    assert waits_of(blanks[0], until) == []


def test_it_reads_no_more_for_a_full_oven(in_oven, oven, owner, lump):
    def count():
        with CaptureQueriesContext(connection) as told:
            waits_of(in_oven[0], AT + HOUR)
        return len(told)

    few = count()
    more = [work.take_in_lump(number=str(60 + n), mass_mg=KILO, at=BEGAN, by=owner) for n in range(5)]
    second = equipment.add_machine(kind="oven", name="The other", by=owner, at=BEGAN)
    work.load_up(machine=second, workpieces=more, purpose="dry", at=AT + timedelta(minutes=1), by=owner, confirm=True)
    assert count() == few <= 20
