"""What a load costs and who carries it: one entry, shares that add up to the hour."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import settings as trials
from hypothesis import strategies as st

from studio.craft.costing import Place, share_hours
from studio.equipment import operations, queries
from studio.equipment.errors import AlreadyEnded, LoadRefused
from studio.ledger import queries as journal
from studio.ledger.accounts import Component, Kind
from studio.ledger.operations import close_account
from studio.people import operations as people
from studio.people.queries import MissingWage
from studio.people.settings import MissingSetting
from tests.equipment.conftest import BEGAN, HOUR, MONEY

NOW = BEGAN + 1000 * HOUR


def start(owner, oven, places=(), **given):
    return operations.start_load(machine=oven, purpose="dry", at=BEGAN, by=owner, places=places, now=NOW, **given)


def end(owner, load, hours, **given):
    return operations.end_load(load=load, at=BEGAN + hours * HOUR, by=owner, now=NOW, **given)


def parts(account):
    return dict(journal.cost_of(account).parts)


def test_power_wear_and_hands_come_in_one_entry_with_a_leg_for_each_place(owner, oven, blanks):
    wood = blanks(2)
    load = end(owner, start(owner, oven, [(a, None) for a in wood]), 10, hands_on_s=1200)
    view = journal.entry(load.entry_id)
    assert (view.kind, view.step, view.effective_at) == ("load", "dry", load.ended_at)
    # 10 kWh at 0.30, 10 hours at 0.10 wear, 20 minutes at 30 wage and 12 overhead: half each.
    each = {
        Component.ENERGY: 1_500_000,
        Component.WEAR: 500_000,
        Component.OWN_LABOUR: 5 * MONEY,
        Component.OVERHEAD: 2 * MONEY,
    }
    assert [parts(account) for account in wood] == [each, each]
    assert {line.account_id for line in view.lines} >= {account.pk for account in wood}
    assert journal.pool_sums() == {
        Kind.ENERGY: -3_000_000,
        Kind.WEAR: -1_000_000,
        Kind.OWN_LABOUR: -10 * MONEY,
        Kind.OVERHEAD: -4 * MONEY,
    }


def test_hours_go_by_weight_while_both_are_inside(owner, oven, blanks):
    heavy, light = blanks(2)
    load = end(owner, start(owner, oven, [(heavy, 3000), (light, 1000)], share_by="mass"), 4)
    assert (parts(heavy)[Component.ENERGY], parts(light)[Component.ENERGY]) == (900_000, 300_000)
    assert load.places.get(account=heavy).out_why == "ended"


def test_late_early_and_lost_ones_share_so_that_it_adds_up_to_the_hour(owner, oven, blanks):
    stays, late, early, lost = blanks(4)
    load = start(owner, oven, [(stays, None), (early, None), (lost, None)])
    operations.put_in(load=load, account=late, at=BEGAN + 3 * HOUR, by=owner, now=NOW)
    place = load.places.get(account=early)
    operations.take_out(place=place, at=BEGAN + 3 * HOUR, by=owner, now=NOW)
    close_account(account=lost, successor=Kind.LOSS_EXPECTED, at=BEGAN + 6 * HOUR)
    load = end(owner, load, 9)
    # hours 0-3: three inside; 3-6: stays, lost, late; 6-9: stays, late
    hour = 300_000
    assert parts(stays)[Component.ENERGY] == (1 + 1) * hour + 3 * hour // 2
    assert parts(late)[Component.ENERGY] == 1 * hour + 3 * hour // 2
    assert parts(early)[Component.ENERGY] == hour
    sums = journal.pool_sums()
    assert sums[Kind.ENERGY] == -9 * hour
    assert sums[Kind.LOSS_EXPECTED] == 2 * (hour + 100_000)
    assert parts(lost) == {}
    gone = load.places.get(account=lost)
    assert (gone.out_at, gone.out_why) == (BEGAN + 6 * HOUR, "lost")


def test_a_workpiece_cut_up_while_inside_hands_its_share_to_what_it_became(owner, oven, blanks):
    before, after = blanks(2)
    load = start(owner, oven, [(before, None)])
    close_account(account=before, successor=after, at=BEGAN + HOUR)
    load = end(owner, load, 2)
    assert parts(after)[Component.ENERGY] == 600_000
    assert load.places.get().out_why == "early"


def test_an_empty_load_costs_nobody_anything(owner, oven):
    load = end(owner, start(owner, oven), 5, hands_on_s=600)
    assert (load.entry_id, journal.pool_sums()) == (None, {})


def test_a_load_ends_once(owner, oven, blanks):
    load = end(owner, start(owner, oven, [(blanks(1)[0], None)]), 2)
    with pytest.raises(AlreadyEnded, match="in the books") as stop:
        end(owner, load, 3)
    assert stop.value.code == "already_ended"
    assert journal.pool_sums()[Kind.ENERGY] == -600_000


def test_without_a_tariff_the_end_asks_for_it_and_stores_nothing(db, owner, oven, blanks):
    from studio.people.models import DatedSetting

    DatedSetting.objects.filter(key="tariff_micro").delete()
    load = start(owner, oven, [(blanks(1)[0], None)])
    with pytest.raises(MissingSetting) as stop:
        end(owner, load, 2)
    assert stop.value.key == "tariff_micro"
    load.refresh_from_db()
    assert load.ended_at is None
    assert load.places.get().out_at is None
    oven = operations.change_machine(machine=oven, by=owner, at=BEGAN, power_w=None)
    assert end(owner, load, 2).entry_id, "wear is posted all the same"


def test_a_person_without_a_wage_is_asked_about(owner, oven, blanks):
    other = people.add_user(
        username="jo",
        display_name="Jo",
        role="maker",
        password="soft wet shavings fly",  # noqa: S106  an invented one, for tests
        by=owner,
        at=BEGAN,
    )
    load = start(owner, oven, [(blanks(1)[0], None)])
    with pytest.raises(MissingWage):
        end(owner, load, 2, hands_on_s=60, person=other)


@pytest.mark.parametrize("hands_on", [-1, 90_000, 1.5, True])
def test_hands_on_time_that_cannot_be_is_refused(owner, oven, hands_on):
    with pytest.raises(LoadRefused) as stop:
        end(owner, start(owner, oven), 2, hands_on_s=hands_on)
    assert stop.value.field == "hands_on_s"


def test_the_tariff_of_the_day_it_ended_counts(owner, oven, blanks):
    (account,) = blanks(1)
    people.set_setting(key="tariff_micro", value=500_000, by=owner, at=BEGAN + 48 * HOUR, from_on=date(2025, 3, 11))
    end(owner, start(owner, oven, [(account, None)]), 24)
    assert parts(account)[Component.ENERGY] == 24 * 500_000


def test_an_end_taken_back_leaves_nothing_and_can_be_given_again(owner, oven, blanks):
    stays, early = blanks(2)
    load = start(owner, oven, [(stays, None), (early, None)])
    operations.take_out(place=load.places.get(account=early), at=BEGAN + HOUR, by=owner, now=NOW)
    load = end(owner, load, 90, hands_on_s=600)
    load = operations.take_back_end(load=load, at=NOW, by=owner, now=NOW)
    assert (load.ended_at, load.entry_id, load.hands_on_s) == (None, None, 0)
    assert parts(stays) == parts(early) == {}
    assert [place.account for place in load.places.filter(out_at=None)] == [stays]
    end(owner, load, 9)
    assert parts(stays)[Component.ENERGY] == 8 * 300_000 + 150_000
    with pytest.raises(LoadRefused, match="no end to take back"):
        operations.take_back_end(load=start_again(owner, oven), at=NOW, by=owner, now=NOW)


def test_an_end_is_not_taken_back_once_the_oven_is_in_use_again(owner, oven, blanks):
    (account,) = blanks(1)
    load = end(owner, start(owner, oven, [(account, None)]), 9)
    start_again(owner, oven)
    with pytest.raises(LoadRefused, match="another load"):
        operations.take_back_end(load=load, at=NOW, by=owner, now=NOW)


def test_an_end_is_not_taken_back_once_the_wood_is_elsewhere(owner, oven, blanks):
    (account,) = blanks(1)
    load = end(owner, start(owner, oven, [(account, None)]), 9)
    other = operations.add_machine(kind="oven", name="Second oven", by=owner, at=BEGAN)
    operations.start_load(
        machine=other, purpose="dry", at=BEGAN + 9 * HOUR, by=owner, places=[(account, None)], now=NOW
    )
    with pytest.raises(LoadRefused, match="in another load"):
        operations.take_back_end(load=load, at=NOW, by=owner, now=NOW)


def test_the_preview_says_to_the_millionth_what_the_end_will_post(owner, oven, blanks):
    wood = blanks(3)
    load = start(owner, oven, [(a, w) for a, w in zip(wood, (700, 1300, 900), strict=True)], share_by="mass")
    operations.take_out(place=load.places.get(account=wood[1]), at=BEGAN + timedelta(minutes=95), by=owner, now=NOW)
    seen = queries.cost_preview(load, BEGAN + 7 * HOUR, hands_on_s=700, person=owner)
    end(owner, load, 7, hands_on_s=700)
    assert seen.missing == ()
    assert [place.total_micro for place in seen.places] == [journal.cost_of(a).all_in for a in wood]
    assert seen.seconds == 7 * 3600
    assert seen.total_micro == sum(journal.cost_of(a).all_in for a in wood)


def test_the_preview_counts_a_lost_one_until_it_was_lost(owner, oven, blanks):
    stays, lost = blanks(2)
    load = start(owner, oven, [(stays, None), (lost, None)])
    close_account(account=lost, successor=Kind.LOSS_EXPECTED, at=BEGAN + 2 * HOUR)
    seen = queries.cost_preview(queries.load(load.pk), BEGAN + 6 * HOUR)
    assert [place.seconds for place in seen.places] == [5 * 3600, 3600]
    end(owner, load, 6)
    assert parts(stays)[Component.ENERGY] == seen.places[0].energy_micro


def test_the_preview_names_what_is_wanting(owner, oven, blanks):
    from studio.people.models import DatedSetting, WageRate

    DatedSetting.objects.filter(key="tariff_micro").delete()
    WageRate.objects.all().delete()
    load = start(owner, oven, [(blanks(1)[0], None)])
    seen = queries.cost_preview(load, BEGAN + HOUR, hands_on_s=60, person=owner)
    assert seen.missing == ("tariff_micro", "wage")
    assert seen.places[0].wear_micro == 100_000


@given(
    st.lists(st.tuples(st.integers(1, 10**9), st.integers(0, 10**5), st.integers(0, 10**5)), min_size=1, max_size=8),
    st.integers(60, 10**5),
)
@trials(max_examples=200)
def test_whatever_goes_in_and_out_the_shares_add_up_to_the_load(rows, length):
    places = [Place(weight, min(a, b), max(a, b)) for weight, a, b in rows]
    assert sum(share_hours(places, 0, length)) == length


def start_again(owner, oven):
    return operations.start_load(machine=oven, purpose="dry", at=BEGAN + 500 * HOUR, by=owner, now=NOW)
