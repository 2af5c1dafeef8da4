"""What broke, by step and cause, adding up to what the books say."""

from datetime import date

from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.ledger.accounts import Kind
from studio.ledger.queries import cost_of, pool_sums
from studio.reports.losses import losses
from studio.work import operations as work
from tests.web.people_of_a_studio import open_studio
from tests.web.small_studio import SmallStudio, coins, day

FIRST, LAST = date(2025, 1, 1), date(2025, 12, 31)


def test_nothing_broke_in_an_empty_studio(db: None) -> None:
    open_studio()
    found = losses(FIRST, LAST)
    assert (found.lines, found.count, found.all_in_micro) == ((), 0, 0)


def test_a_loss_stands_at_its_step_and_cause_less_what_was_saved(small: SmallStudio) -> None:
    (line,) = losses(FIRST, LAST).lines
    assert (line.step, line.cause, line.count, line.unusual) == ("Rough", "Catch or blow-out", 1, False)
    saved = cost_of(small.saved.account)
    assert saved.all_in > 0
    pools = pool_sums()
    assert line.all_in_micro == pools[Kind.LOSS_EXPECTED]
    assert line.paid_out_micro < line.all_in_micro


def test_without_taking_off_what_was_saved_the_loss_would_stand_too_high(small: SmallStudio) -> None:
    (line,) = losses(FIRST, LAST).lines
    assert line.all_in_micro + cost_of(small.saved.account).all_in > pool_sums()[Kind.LOSS_EXPECTED]


def test_fire_and_theft_stand_apart_and_dearest_comes_first(small: SmallStudio) -> None:
    work.it_broke(workpiece=small.whole, cause="accident", at=day(40), by=small.owner)
    found = losses(FIRST, LAST)
    assert [line.unusual for line in found.lines] == [
        line.unusual for line in sorted(found.lines, key=lambda line: -line.all_in_micro)
    ]
    unusual = next(line for line in found.lines if line.unusual)
    assert unusual.all_in_micro == coins("57.19") == pool_sums()[Kind.LOSS_UNUSUAL]


def test_a_loss_taken_back_is_gone_from_it(small: SmallStudio) -> None:
    loss = work.it_broke(workpiece=small.whole, cause="checked", at=day(40), by=small.owner)
    assert losses(FIRST, LAST).count == 2
    work.take_back_loss(loss=loss, at=day(41), by=small.owner)
    found = losses(FIRST, LAST)
    assert found.count == 1 and found.late_all_in_micro == 0


def test_a_bill_that_comes_later_is_a_line_of_its_own_and_the_sum_holds(small: SmallStudio) -> None:
    before = losses(FIRST, LAST)
    work.add_wood_bill(purchase=small.purchase, amount_micro=coins("12.00"), what="tax", at=day(50), by=small.owner)
    after = losses(FIRST, LAST)
    assert after.lines == before.lines
    assert after.late_all_in_micro == after.late_paid_out_micro > 0
    pools = pool_sums()
    assert after.all_in_micro == pools[Kind.LOSS_EXPECTED] + pools.get(Kind.LOSS_UNUSUAL, 0)


def test_only_the_days_asked_for_count(small: SmallStudio) -> None:
    assert losses(date(2025, 3, 20), LAST).count == 0
    assert losses(date(2025, 3, 19), date(2025, 3, 19)).count == 1
    assert losses(date(2026, 1, 1), date(2026, 12, 31)).count == 0


def test_it_asks_as_often_for_many_losses_as_for_one(small: SmallStudio) -> None:
    with CaptureQueriesContext(connection) as few:
        losses(FIRST, LAST)
    for number in range(12):
        lump = work.take_in_lump(number=f"9{number:02}", paid_micro=coins("1.00"), at=day(1), by=small.owner)
        work.it_broke(workpiece=lump, cause="void", at=day(30), by=small.owner)
    with CaptureQueriesContext(connection) as many:
        assert losses(FIRST, LAST).count == 13
    assert len(few) == len(many)
