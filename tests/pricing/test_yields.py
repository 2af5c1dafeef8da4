"""How many come through each step, from what was done and what was lost."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.pricing import queries as pricing
from studio.work import operations as work
from studio.work.models import Loss, Step, Workpiece
from tests.pieces.conftest import BEGAN, DAY, MONEY
from tests.pieces.test_queries import fill


@pytest.fixture
def lumps(owner):
    return [work.take_in_lump(number=str(n), paid_micro=10 * MONEY, at=BEGAN, by=owner) for n in range(1, 11)]


def through(row, *codes):
    for code in codes:
        work.end_step(workpiece=row, code=code, at=BEGAN + DAY)


def broke(row, owner, step, cause="catch"):
    return work.it_broke(workpiece=row, cause=cause, step=step, at=BEGAN + 2 * DAY, by=owner)


def figures():
    return {row.code: (row.good, row.tried) for row in pricing.measured().steps}


def test_nothing_tried_says_nothing(owner):
    found = pricing.measured()
    assert (found.steps, found.anything) == ((), False)


def test_a_step_s_yield_is_what_came_through_of_what_was_tried(lumps, owner):
    for row in lumps:
        through(row, "dry")
    for row in lumps[:8]:
        through(row, "turn")
    for row in lumps[8:]:
        broke(row, owner, "turn")
    found = pricing.measured()
    assert figures() == {"dry": (10, 10), "turn": (8, 10)}
    dry, turn = found.steps
    assert (dry.share_ppm, dry.high_ppm, turn.share_ppm, turn.lost) == (1_000_000, 1_000_000, 800_000, 2)
    assert turn.low_ppm < 800_000 < turn.high_ppm
    assert found.rolled_ppm == 800_000


def test_what_is_found_out_after_the_tick_counts_against_the_step_it_was_lost_at(lumps, owner):
    for row in lumps[:4]:
        through(row, "cast")
    broke(lumps[0], owner, "cast", cause="void")
    assert figures() == {"cast": (3, 4)}


def test_a_step_repeated_counts_its_workpiece_once(lumps, owner):
    through(lumps[0], "sand", "sand", "sand")
    assert figures() == {"sand": (1, 1)}


def test_fire_and_flood_are_no_fault_of_a_step(lumps, owner):
    through(lumps[0], "turn")
    broke(lumps[1], owner, "turn", cause="accident")
    assert figures() == {"turn": (1, 1)}


def test_a_loss_taken_back_is_none(lumps, owner):
    through(lumps[0], "turn")
    loss = broke(lumps[1], owner, "turn")
    assert figures() == {"turn": (1, 2)}
    work.take_back_loss(loss=loss, at=BEGAN + 3 * DAY, by=owner)
    assert figures() == {"turn": (1, 1)}


def test_all_steps_together_are_the_product_of_each(lumps, owner):
    for row in lumps[:5]:
        through(row, "dry", "cast")
    broke(lumps[5], owner, "dry")
    broke(lumps[6], owner, "cast")
    assert pricing.measured().rolled_ppm == 694_444  # 5/6 · 5/6


def test_it_asks_twice_at_ten_and_at_a_thousand(owner):
    def asked():
        Loss.objects.all().delete()
        Step.objects.all().delete()
        rows = list(Workpiece.objects.all())
        Step.objects.bulk_create(Step(workpiece=row, code="turn", position=1, state="done") for row in rows)
        Loss.objects.bulk_create(Loss(workpiece=row, at=BEGAN, step="turn", cause="catch") for row in rows[::2])
        with CaptureQueriesContext(connection) as seen:
            assert pricing.measured().steps[0].tried == len(rows)
        return len(seen)

    fill(owner, 10)
    assert asked() == 2
    fill(owner, 990)
    assert asked() == 2
