from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction

from studio.ledger import queries as ledger
from studio.ledger.accounts import Account, Kind
from studio.stores import operations
from studio.stores.errors import MaterialInUse, NotLikeThat, NotYetHere
from studio.stores.models import Batch

from .conftest import AT, COIN, DAY_S, GRAM, day


def test_a_batch_holds_what_came_and_what_it_and_its_carriage_cost(resin, buy):
    batch = buy(resin, 5000, 90, carriage_micro=10 * COIN)
    account = Account.objects.get(pk=batch.account_id)
    assert (account.amount, account.value_micro) == (5000 * GRAM, 100 * COIN)
    assert batch.cost_micro == 100 * COIN
    assert ledger.pool_sums()[Kind.CASH] == -100 * COIN


def test_batches_are_numbered_on_across_materials(resin, hardener, buy):
    assert [buy(one, 10, 1).number for one in (resin, hardener, resin)] == [1, 2, 3]


def test_two_batches_cannot_have_one_number(resin, buy):
    first, second = buy(resin, 10, 1), buy(resin, 10, 1)
    with pytest.raises(IntegrityError), transaction.atomic():
        Batch.objects.filter(pk=second.pk).update(number=first.number)


def test_a_buyer_who_looked_at_the_same_number_gets_the_next(resin, buy, monkeypatch):
    """Another batch is stored between looking and saving: without the second try this would fail."""
    buy(resin, 10, 1)
    really = Batch.objects.aggregate
    stale = iter([{"last": 0}])
    manager = type(Batch.objects)
    monkeypatch.setattr(manager, "aggregate", lambda self, **kw: next(stale, None) or really(**kw))
    assert buy(resin, 10, 1).number == 2


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"amount": 0}, "amount"),
        ({"amount": -5}, "amount"),
        ({"amount": 1.5}, "amount"),
        ({"paid_micro": -COIN}, "paid"),
        ({"paid_micro": 5}, "paid"),
        ({"carriage_micro": 1}, "carriage"),
        ({"use_by": date(2025, 3, 9)}, "use_by"),
        ({"opened_on": date(2025, 3, 9)}, "opened_on"),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field_and_nothing_is_stored(owner, resin, wrong, field):
    given = {"amount": GRAM, "paid_micro": COIN, **wrong}
    with pytest.raises((NotLikeThat, NotYetHere)) as refused:
        operations.buy(material=resin, at=AT, by=owner, **given)
    assert refused.value.field == field
    assert not Batch.objects.exists()
    assert not Account.objects.exists()


def test_a_material_put_away_is_not_bought(owner, resin):
    operations.change_material(material=resin, at=AT, by=owner, archived=True)
    resin.refresh_from_db()
    with pytest.raises(MaterialInUse):
        operations.buy(material=resin, amount=GRAM, paid_micro=COIN, at=AT, by=owner)


def test_given_material_comes_in_at_nothing(resin, buy):
    batch = buy(resin, 100, 0)
    assert Account.objects.get(pk=batch.account_id).value_micro == 0


def test_the_last_good_day_is_the_earlier_of_printed_and_opened(owner, resin, buy):
    operations.change_material(material=resin, at=AT, by=owner, use_by_after_open_s=30 * DAY_S)
    resin.refresh_from_db()
    batch = buy(resin, 100, 5, use_by=date(2025, 12, 31))
    assert batch.use_by_now == date(2025, 12, 31)
    operations.open_batch(batch=batch, at=day(20), by=owner)
    assert batch.use_by_now == date(2025, 3, 30) + timedelta(days=30)
    assert batch.use_by_on(date(2025, 3, 15)) == date(2025, 12, 31), "not yet opened on that day"


def test_without_a_printed_day_the_shelf_life_counts_from_the_day_it_came(owner, resin, buy):
    operations.change_material(material=resin, at=AT, by=owner, shelf_life_s=180 * DAY_S)
    resin.refresh_from_db()
    assert buy(resin, 100, 5).use_by_now == date(2025, 3, 10) + timedelta(days=180)


def test_a_batch_is_opened_neither_before_it_came_nor_tomorrow(owner, resin, buy):
    batch = buy(resin, 100, 5)
    with pytest.raises(NotYetHere):
        operations.open_batch(batch=batch, at=day(5), by=owner, opened_on=date(2025, 3, 1))
    with pytest.raises(NotLikeThat):
        operations.open_batch(batch=batch, at=day(5), by=owner, opened_on=date(2025, 4, 1))


def test_a_late_bill_is_shared_between_what_is_left_and_who_drew(owner, resin, buy, blank):
    batch = buy(resin, 1000, 10)
    operations.draw(material=resin, amount=250 * GRAM, shares=[(blank, 1)], at=day(1), by=owner)
    operations.add_late_bill(batch=batch, value_micro=4 * COIN, what="duty", at=day(2), by=owner)
    assert Account.objects.get(pk=batch.account_id).value_micro == 7_500_000 + 3 * COIN
    assert Account.objects.get(pk=blank.pk).value_micro == 2_500_000 + COIN
    batch.refresh_from_db()
    assert batch.cost_micro == 14 * COIN


def test_a_price_put_right_downward_takes_the_difference_back(owner, resin, buy, blank):
    batch = buy(resin, 1000, 10, carriage_micro=2 * COIN)
    operations.draw(material=resin, amount=500 * GRAM, shares=[(blank, 1)], at=day(1), by=owner)
    bill = operations.correct_price(batch=batch, paid_micro=8 * COIN, at=day(2), by=owner)
    assert (bill.value_micro, bill.price_put_right) == (-2 * COIN, True)
    assert Account.objects.get(pk=batch.account_id).value_micro == 5 * COIN
    assert Account.objects.get(pk=blank.pk).value_micro == 5 * COIN
    batch.refresh_from_db()
    assert (batch.paid_micro, batch.cost_micro) == (8 * COIN, 10 * COIN)
    assert ledger.entry(bill.entry_id).kind == "late_cost"


def test_a_bill_of_nothing_and_the_same_price_again_are_refused(owner, resin, buy):
    batch = buy(resin, 1000, 10)
    with pytest.raises(NotLikeThat):
        operations.add_late_bill(batch=batch, value_micro=0, at=day(1), by=owner)
    with pytest.raises(NotLikeThat):
        operations.correct_price(batch=batch, paid_micro=10 * COIN, at=day(1), by=owner)
    with pytest.raises(NotYetHere):
        operations.add_late_bill(batch=batch, value_micro=COIN, at=day(-3), by=owner)
