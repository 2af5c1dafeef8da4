import pytest

from studio.ledger import queries as ledger
from studio.ledger.accounts import Account, Component, Kind
from studio.ledger.operations import Draw, use_up
from studio.stores import operations
from studio.stores.errors import BathClosed, NotLikeThat, SomethingLeft, StoresRunShort
from studio.stores.models import WhyGone

from .conftest import AT, COIN, GRAM, day


def held(row) -> tuple[int, int]:
    account = Account.objects.get(pk=row.account_id)
    return account.amount, account.value_micro


@pytest.fixture
def bath(owner, stabilizer):
    return operations.start_bath(name="Small chamber", material=stabilizer, at=AT, by=owner)


def test_filling_moves_grams_and_cost_from_batches_to_the_bath(owner, stabilizer, buy, bath):
    one, two = buy(stabilizer, 1000, 30), buy(stabilizer, 1000, 40)
    row = operations.fill_bath(bath=bath, amount=1500 * GRAM, at=day(1), by=owner)
    assert (row.amount, row.value_micro) == (1500 * GRAM, 50 * COIN)
    assert (held(one), held(two)) == ((0, 0), (500 * GRAM, 20 * COIN))
    assert held(bath) == (1500 * GRAM, 50 * COIN)


def test_uptake_leaves_the_bath_at_its_average_cost(owner, stabilizer, buy, bath, blank):
    buy(stabilizer, 1000, 30)
    buy(stabilizer, 1000, 40)
    operations.fill_bath(bath=bath, amount=2000 * GRAM, at=day(1), by=owner)
    use_up(
        draws=[Draw(bath.account, 200 * GRAM, Component.STABILIZING)],
        shares=[(blank, 1)],
        at=day(2),
        kind="stabilize",
    )
    assert ledger.cost_of(blank).parts == {Component.STABILIZING: 7 * COIN}
    assert held(bath) == (1800 * GRAM, 63 * COIN)


def test_a_bath_is_not_filled_with_more_than_there_is(owner, stabilizer, buy, bath):
    buy(stabilizer, 1000, 30)
    with pytest.raises(StoresRunShort):
        operations.fill_bath(bath=bath, amount=1001 * GRAM, at=day(1), by=owner)
    assert held(bath) == (0, 0)


def test_what_is_missing_from_a_bath_is_shrinkage_at_its_average(owner, stabilizer, buy, bath):
    buy(stabilizer, 1000, 30)
    operations.fill_bath(bath=bath, amount=1000 * GRAM, at=day(1), by=owner)
    row = operations.count_bath(bath=bath, really_there=900 * GRAM, at=day(2), by=owner)
    assert (row.value_micro, held(bath)) == (-3 * COIN, (900 * GRAM, 27 * COIN))
    assert ledger.entry(row.entry_id).kind == "bath_loss"
    assert ledger.pool_sums()[Kind.SHRINKAGE] == 3 * COIN


def test_more_in_a_bath_than_booked_comes_in_at_its_average(owner, stabilizer, buy, bath):
    buy(stabilizer, 1000, 30)
    buy(stabilizer, 500, 50)
    operations.fill_bath(bath=bath, amount=1000 * GRAM, at=day(1), by=owner)
    operations.count_bath(bath=bath, really_there=1100 * GRAM, at=day(2), by=owner)
    assert held(bath) == (1100 * GRAM, 33 * COIN)


def test_what_stands_in_a_bath_booked_empty_comes_in_at_the_last_cost(owner, stabilizer, buy, bath):
    buy(stabilizer, 500, 50)
    operations.count_bath(bath=bath, really_there=10 * GRAM, at=day(2), by=owner)
    assert held(bath) == (10 * GRAM, COIN)


def test_a_bath_is_closed_empty_and_not_used_after(owner, stabilizer, buy, bath):
    buy(stabilizer, 1000, 30)
    operations.fill_bath(bath=bath, amount=100 * GRAM, at=day(1), by=owner)
    with pytest.raises(SomethingLeft):
        operations.close_bath(bath=bath, at=day(2), by=owner)
    row = operations.throw_away_bath(bath=bath, why=WhyGone.SET, at=day(2), by=owner)
    assert (row.amount, row.value_micro, row.bath) == (100 * GRAM, 3 * COIN, bath)
    operations.close_bath(bath=bath, at=day(3), by=owner)
    for verb in (operations.fill_bath, operations.count_bath):
        with pytest.raises(BathClosed):
            verb(
                bath=bath,
                at=day(4),
                by=owner,
                **({"amount": GRAM} if verb is operations.fill_bath else {"really_there": 0}),
            )


def test_a_late_bill_reaches_a_closed_bath_through_its_successor(owner, stabilizer, buy, bath):
    batch = buy(stabilizer, 100, 10)
    operations.fill_bath(bath=bath, amount=100 * GRAM, at=day(1), by=owner)
    operations.throw_away_bath(bath=bath, why=WhyGone.OLD, at=day(2), by=owner)
    operations.close_bath(bath=bath, at=day(3), by=owner)
    operations.add_late_bill(batch=batch, value_micro=COIN, at=day(4), by=owner)
    assert ledger.pool_sums()[Kind.SHRINKAGE] == 11 * COIN


def test_a_bath_holds_stabilizing_resin_only_and_has_its_own_name(owner, resin, stabilizer, bath):
    with pytest.raises(NotLikeThat):
        operations.start_bath(name="Another", material=resin, at=AT, by=owner)
    with pytest.raises(NotLikeThat) as refused:
        operations.start_bath(name="Small chamber", material=stabilizer, at=AT, by=owner)
    assert refused.value.code == "name_taken"
