from datetime import date

import pytest

from studio.ledger import queries as ledger
from studio.ledger.accounts import Account, Kind
from studio.stores import operations
from studio.stores.errors import CountedBeforeTheLast, NothingLeft, NotLikeThat
from studio.stores.models import Count, WhyGone

from .conftest import COIN, GRAM, day


def held(row) -> tuple[int, int]:
    account = Account.objects.get(pk=row.account_id)
    return account.amount, account.value_micro


def test_a_surplus_comes_in_at_the_last_cost_on_the_newest_batch(owner, resin, buy):
    old = buy(resin, 100, 10)
    new = buy(resin, 100, 20, on=1, carriage_micro=2 * COIN)
    row = operations.count(material=resin, really_there=250 * GRAM, at=day(2), by=owner)
    assert (row.was_amount, row.counted_amount, row.value_micro) == (200 * GRAM, 250 * GRAM, 11 * COIN)
    assert (held(old), held(new)) == ((100 * GRAM, 10 * COIN), (150 * GRAM, 33 * COIN))
    assert ledger.pool_sums()[Kind.FOUND] == -11 * COIN


def test_a_surplus_of_one_batch_stays_with_that_batch_at_the_last_cost(owner, resin, buy):
    old = buy(resin, 100, 10)
    buy(resin, 100, 20, on=1)
    operations.count(batch=old, really_there=110 * GRAM, at=day(2), by=owner)
    assert held(old) == (110 * GRAM, 12 * COIN)


def test_a_shortage_goes_to_shrinkage_at_the_batches_own_cost(owner, resin, buy):
    early = buy(resin, 100, 10, use_by=date(2025, 6, 1))
    late = buy(resin, 100, 30, use_by=date(2025, 9, 1))
    row = operations.count(material=resin, really_there=80 * GRAM, at=day(1), by=owner)
    assert row.value_micro == -16 * COIN
    assert (held(early), held(late)) == ((0, 0), (80 * GRAM, 24 * COIN))
    assert ledger.pool_sums()[Kind.SHRINKAGE] == 16 * COIN


def test_a_count_of_nothing_empties_the_batch_to_the_last_millionth(owner, resin, buy, blank):
    batch = buy(resin, 3, 1)
    operations.draw(material=resin, amount=GRAM, shares=[(blank, 1)], at=day(1), by=owner)
    operations.count(batch=batch, really_there=0, at=day(2), by=owner)
    assert held(batch) == (0, 0)
    assert ledger.pool_sums()[Kind.SHRINKAGE] == 666_667


def test_a_count_that_agrees_is_kept_and_posts_nothing(owner, resin, buy):
    batch = buy(resin, 100, 10)
    before = ledger.newest_entry_id()
    row = operations.count(batch=batch, really_there=100 * GRAM, at=day(1), by=owner)
    assert row.entry_id is None
    assert ledger.newest_entry_id() == before
    assert Count.objects.count() == 1


def test_an_emptied_batch_can_be_found_again(owner, resin, buy):
    batch = buy(resin, 100, 10)
    operations.count(batch=batch, really_there=0, at=day(1), by=owner)
    operations.count(batch=batch, really_there=40 * GRAM, at=day(2), by=owner)
    assert held(batch) == (40 * GRAM, 4 * COIN)


def test_a_count_dated_before_the_last_draw_is_refused(owner, resin, buy, blank):
    batch = buy(resin, 100, 10)
    operations.draw(material=resin, amount=50 * GRAM, shares=[(blank, 1)], at=day(5), by=owner)
    with pytest.raises(CountedBeforeTheLast) as refused:
        operations.count(batch=batch, really_there=100 * GRAM, at=day(3), by=owner)
    assert refused.value.field == "at"
    assert "15 March 2025" in refused.value.message
    assert held(batch) == (50 * GRAM, 5 * COIN), "the 50 g drawn since were not found again"


def test_what_was_never_bought_has_no_cost_to_count_at(owner, resin):
    with pytest.raises(NothingLeft):
        operations.count(material=resin, really_there=GRAM, at=day(1), by=owner)


@pytest.mark.parametrize("wrong", [-1, 1.5, True, None])
def test_a_count_below_nothing_or_in_fractions_is_refused(owner, resin, buy, wrong):
    batch = buy(resin, 100, 10)
    with pytest.raises(NotLikeThat):
        operations.count(batch=batch, really_there=wrong, at=day(1), by=owner)


def test_a_write_off_takes_its_share_of_cost_and_says_why(owner, resin, buy):
    batch = buy(resin, 100, 10)
    row = operations.write_off(batch=batch, amount=25 * GRAM, why=WhyGone.SPILT, note="cup fell", at=day(1), by=owner)
    assert (row.amount, row.value_micro, row.words) == (25 * GRAM, 2_500_000, "cup fell")
    assert held(batch) == (75 * GRAM, 7_500_000)
    assert ledger.pool_sums()[Kind.SHRINKAGE] == 2_500_000


def test_without_an_amount_all_that_is_left_is_written_off(owner, resin, buy):
    batch = buy(resin, 100, 10)
    row = operations.write_off(batch=batch, why=WhyGone.OLD, at=day(1), by=owner)
    assert (row.amount, held(batch)) == (100 * GRAM, (0, 0))
    with pytest.raises(NothingLeft):
        operations.write_off(batch=batch, why=WhyGone.OLD, at=day(1), by=owner)


def test_more_than_there_is_and_no_reason_are_refused(owner, resin, buy):
    batch = buy(resin, 100, 10)
    with pytest.raises(NotLikeThat) as refused:
        operations.write_off(batch=batch, amount=101 * GRAM, why=WhyGone.SPILT, at=day(1), by=owner)
    assert "100\u00a0g" in refused.value.message
    with pytest.raises(NotLikeThat):
        operations.write_off(batch=batch, amount=GRAM, why="", at=day(1), by=owner)


def test_a_late_bill_on_what_was_written_off_lies_where_its_value_went(owner, resin, buy):
    batch = buy(resin, 100, 10)
    operations.write_off(batch=batch, why=WhyGone.SET, at=day(1), by=owner)
    operations.add_late_bill(batch=batch, value_micro=2 * COIN, at=day(2), by=owner)
    assert ledger.pool_sums()[Kind.SHRINKAGE] == 12 * COIN
