from datetime import date

import pytest

from studio.ledger import queries as ledger
from studio.ledger.accounts import Account, Component, Kind
from studio.ledger.errors import InTheFuture
from studio.stores import operations, queries
from studio.stores.errors import NotLikeThat, StoresRunShort
from studio.stores.models import Batch
from studio.stores.planning import stock_of
from studio.stores.using import RanOutOnALaterDay

from .conftest import DAY_S, GRAM, day


def taken(result) -> list[tuple[int, int]]:
    return [(take.batch.number, take.amount // GRAM) for take in result.takes]


def left(batch: Batch) -> tuple[int, int]:
    account = Account.objects.get(pk=batch.account_id)
    return account.amount // GRAM, account.value_micro


@pytest.fixture
def draw(owner, blank):
    def _draw(material, grams, *, on=1, **more):
        more.setdefault("shares", [(blank, 1)])
        return operations.draw(material=material, amount=grams * GRAM, at=day(on), by=owner, **more)

    return _draw


def test_a_draw_takes_the_earliest_use_by_first(resin, buy, draw):
    late = buy(resin, 100, 10, use_by=date(2025, 12, 1))
    unknown = buy(resin, 100, 10)
    early = buy(resin, 100, 10, use_by=date(2025, 6, 1))
    assert taken(draw(resin, 250)) == [(early.number, 100), (late.number, 100), (unknown.number, 50)]


def test_of_equals_the_opened_bottle_is_used_up_first(owner, resin, buy, draw):
    sealed = buy(resin, 100, 10, use_by=date(2025, 6, 1))
    opened = buy(resin, 100, 10, use_by=date(2025, 6, 1))
    operations.open_batch(batch=opened, at=day(0), by=owner)
    assert taken(draw(resin, 120)) == [(opened.number, 100), (sealed.number, 20)]


def test_a_draw_across_batches_says_which_and_charges_each_at_its_own_cost(resin, buy, draw, blank):
    cheap = buy(resin, 100, 10, use_by=date(2025, 6, 1))
    dear = buy(resin, 100, 30, use_by=date(2025, 7, 1))
    result = draw(resin, 150)
    assert taken(result) == [(cheap.number, 100), (dear.number, 50)]
    assert (left(cheap), left(dear)) == ((0, 0), (50, 15_000_000))
    assert ledger.cost_of(blank).parts == {Component.RESIN: 25_000_000}
    assert ledger.used_by([blank.pk])[blank.pk] == {resin.commodity_id: 150 * GRAM}


def test_two_workpieces_share_a_draw_by_weight(resin, buy, draw, blank, other_blank):
    buy(resin, 100, 10)
    draw(resin, 40, shares=[(blank, 3), (other_blank, 1)])
    costs = ledger.costs_of([blank.pk, other_blank.pk])
    assert [costs[one.pk].all_in for one in (blank, other_blank)] == [3_000_000, 1_000_000]


def test_a_draw_on_a_sealed_batch_opens_it_that_day(resin, buy, draw):
    batch = buy(resin, 100, 10)
    draw(resin, 10, on=4)
    batch.refresh_from_db()
    assert batch.opened_on == date(2025, 3, 14)


def test_a_short_draw_says_what_there_is_and_draws_nothing(resin, buy, draw):
    batch = buy(resin, 100, 10)
    with pytest.raises(StoresRunShort) as short:
        draw(resin, 412)
    assert (short.value.code, short.value.field) == ("short", "amount")
    assert (short.value.material, short.value.has, short.value.wants) == (resin, 100 * GRAM, 412 * GRAM)
    assert "100\u00a0g" in short.value.message
    assert "412\u00a0g" in short.value.message
    assert left(batch) == (100, 10_000_000)
    batch.refresh_from_db()
    assert batch.opened_on is None


def test_counting_what_is_really_there_lets_the_same_draw_pass(owner, resin, buy, draw):
    batch = buy(resin, 100, 10)
    with pytest.raises(StoresRunShort):
        draw(resin, 110)
    operations.count(material=resin, really_there=120 * GRAM, at=day(1), by=owner)
    assert taken(draw(resin, 110)) == [(batch.number, 110)]


def test_every_material_that_runs_short_is_named_at_once(resin, hardener, buy):
    buy(resin, 10, 1)
    with pytest.raises(StoresRunShort) as short:
        queries.plan_draw(hardener, GRAM, date(2025, 3, 11))
    assert "none" in short.value.message
    with pytest.raises(StoresRunShort) as both:
        operations.lock_plan([(resin, 20 * GRAM), (hardener, GRAM)], at=day(1))
    assert [one.material for one in both.value.shortages] == [resin, hardener]


def test_a_batch_past_its_day_is_left_alone_unless_told(resin, buy, draw):
    old = buy(resin, 100, 10, use_by=date(2025, 3, 12))
    fresh = buy(resin, 50, 10, use_by=date(2025, 9, 1))
    with pytest.raises(StoresRunShort) as short:
        draw(resin, 60, on=5)
    assert short.value.past == 100 * GRAM
    assert "past their use-by day" in short.value.message
    assert taken(draw(resin, 60, on=5, allow_past=True)) == [(fresh.number, 50), (old.number, 10)]


def test_on_its_last_good_day_a_batch_is_still_good(resin, buy, draw):
    old = buy(resin, 100, 10, use_by=date(2025, 3, 12))
    assert taken(draw(resin, 10, on=2)) == [(old.number, 10)]
    with pytest.raises(StoresRunShort):
        draw(resin, 10, on=3)


def test_the_bottle_in_the_hand_is_taken_first(resin, buy, draw):
    buy(resin, 100, 10, use_by=date(2025, 6, 1))
    in_hand = buy(resin, 100, 10, use_by=date(2025, 7, 1))
    assert taken(draw(resin, 30, first=in_hand)) == [(in_hand.number, 30)]


def test_a_draw_dated_before_a_batch_came_does_not_take_from_it(resin, buy, draw):
    buy(resin, 100, 10, on=10)
    with pytest.raises(StoresRunShort) as short:
        draw(resin, 10, on=5)
    assert short.value.has == 0


def test_a_back_dated_draw_that_a_later_day_cannot_bear_names_the_batch(owner, resin, buy, draw):
    batch = buy(resin, 100, 10)
    draw(resin, 90, on=4)
    operations.count(material=resin, really_there=100 * GRAM, at=day(6), by=owner)
    with pytest.raises(RanOutOnALaterDay) as refused:
        draw(resin, 50, on=2)
    assert f"Batch {batch.number} of Clear A" in refused.value.message
    assert left(batch)[0] == 100


def test_a_draw_to_come_is_refused(resin, buy, draw):
    buy(resin, 100, 10)
    with pytest.raises(InTheFuture):
        draw(resin, 10, on=2, now=day(1))


def test_a_draw_of_nothing_or_for_nobody_is_refused(resin, buy, draw):
    buy(resin, 100, 10)
    with pytest.raises(NotLikeThat):
        draw(resin, 0)
    with pytest.raises(NotLikeThat):
        draw(resin, 1, shares=[])


def test_the_last_gram_is_drawn_once(resin, buy, draw):
    """The second draw plans under lock. Planned on what was read before the first, it would be let through
    as far as the journal, which is the last guard."""
    buy(resin, 1, 1)
    stale = stock_of([resin])
    draw(resin, 1)
    with pytest.raises(StoresRunShort):
        draw(resin, 1)
    assert stale[0].account.amount == GRAM, "what an unguarded plan would still believe in"


def test_inserts_are_drawn_by_the_piece(owner, inserts, blank):
    batch = operations.buy(material=inserts, amount=20_000, paid_micro=12_000_000, at=day(0), by=owner)
    operations.draw(material=inserts, amount=2000, shares=[(blank, 1)], at=day(1), by=owner)
    account = Account.objects.get(pk=batch.account_id)
    assert (account.amount, account.value_micro) == (18_000, 10_800_000)
    assert ledger.cost_of(blank).parts == {Component.CONSUMABLE: 1_200_000}
    with pytest.raises(StoresRunShort) as short:
        operations.draw(material=inserts, amount=30_000, shares=[(blank, 1)], at=day(1), by=owner)
    assert "18\u00a0pieces" in short.value.message


def test_what_the_shop_uses_is_overhead_and_gone(owner, resin, buy):
    buy(resin, 100, 10)
    result = operations.use_in_shop(material=resin, amount=20 * GRAM, at=day(1), by=owner)
    assert ledger.pool_sums()[Kind.OVERHEAD] == 2_000_000
    gone = [line for line in ledger.entry(result.entry_id).lines if line.account_kind == Kind.GONE]
    assert [line.amount for line in gone] == [20 * GRAM]


def test_a_bill_that_comes_late_for_what_the_shop_used_is_overhead_and_no_loss_of_the_stores(owner, resin, buy):
    batch = buy(resin, 100, 10)
    operations.use_in_shop(material=resin, amount=20 * GRAM, at=day(1), by=owner)
    operations.write_off(batch=batch, why="spilt", amount=10 * GRAM, at=day(2), by=owner)
    before = ledger.pool_sums()
    operations.add_late_bill(batch=batch, value_micro=10_000_000, what="carriage", at=day(3), by=owner)
    after = ledger.pool_sums()
    assert after[Kind.OVERHEAD] - before[Kind.OVERHEAD] == 2_000_000
    assert after[Kind.SHRINKAGE] - before[Kind.SHRINKAGE] == 1_000_000
    operations.add_late_bill(batch=batch, value_micro=-10_000_000, what="refund", at=day(4), by=owner)
    assert ledger.pool_sums() == before


def test_opened_resin_ages_by_the_day_it_was_first_drawn(owner, resin, buy, draw):
    operations.change_material(material=resin, at=day(0), by=owner, use_by_after_open_s=14 * DAY_S)
    resin.refresh_from_db()
    buy(resin, 100, 10, use_by=date(2026, 1, 1))
    draw(resin, 10, on=1)
    draw(resin, 10, on=15)
    with pytest.raises(StoresRunShort):
        draw(resin, 10, on=16)
