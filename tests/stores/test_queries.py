from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.craft.waits import in_walking_order
from studio.ledger.accounts import Account, Commodity, Component, Kind, Measure
from studio.stores import operations, queries
from studio.stores.happenings import happenings
from studio.stores.models import Batch, Bath, Count, Material, MaterialKind, ResinSystem, WhyGone

from .conftest import AT, COIN, GRAM, day

ON = date(2025, 3, 20)


@pytest.fixture
def clear(owner, resin, hardener):
    return operations.add_resin_system(
        name="Clear",
        part_a=resin,
        part_b=hardener,
        parts_a=100_000,
        parts_b=83_000,
        at=AT,
        by=owner,
    )


def test_the_scarcer_part_decides_how_much_mixed_resin_there_is(clear, resin, hardener, buy):
    buy(resin, 1000, 20)
    buy(hardener, 415, 20)
    assert queries.mixable(clear, ON) == 915 * GRAM
    assert queries.mix(clear, ON).scarcer == "b"
    buy(hardener, 1000, 20)
    assert queries.mixable(clear, ON) == 1830 * GRAM
    assert queries.mix(clear, ON).scarcer == "a"


def test_without_one_part_there_is_no_mixed_resin(clear, resin, buy):
    buy(resin, 1000, 20)
    assert queries.mixable(clear, ON) == 0


def test_resin_past_its_day_makes_no_mixed_resin(clear, resin, hardener, buy):
    buy(resin, 1000, 20, use_by=date(2025, 3, 19))
    buy(hardener, 1000, 20)
    assert queries.mixable(clear, date(2025, 3, 19)) == 1830 * GRAM
    assert queries.mixable(clear, ON) == 0


def test_what_has_not_come_yet_makes_no_mixed_resin(clear, resin, hardener, buy):
    buy(resin, 1000, 20, on=15)
    buy(hardener, 1000, 20)
    assert queries.mixable(clear, ON) == 0


def test_the_page_shows_what_is_left_what_ages_and_what_it_is_worth(owner, clear, resin, hardener, buy):
    operations.change_material(material=resin, at=AT, by=owner, reorder_level=500 * GRAM)
    old = buy(resin, 100, 10, use_by=date(2025, 3, 15))
    soon = buy(resin, 200, 20, use_by=date(2025, 4, 3))
    later = buy(resin, 200, 20, use_by=date(2025, 4, 4))
    operations.open_batch(batch=soon, at=day(1), by=owner)
    page = queries.stores_page(ON)
    row = next(one for one in page.materials if one.material == resin)
    assert (row.left, row.past, row.value_micro) == (400 * GRAM, 100 * GRAM, 50 * COIN)
    assert [one.batch for one in row.batches] == [soon, later, old]
    assert [one.batch for one in row.ageing] == [soon, old]
    assert [one.batch for one in row.opened] == [soon]
    assert row.below_reorder
    assert page.value_micro == 50 * COIN
    assert [(mix.system, mix.mixed_mg, mix.scarcer) for mix in page.mixes] == [(clear, 0, "b")]


def test_the_page_says_the_same_mixed_resin_as_the_question_for_one(clear, resin, hardener, buy):
    buy(resin, 730, 20)
    buy(hardener, 611, 20)
    assert [mix.mixed_mg for mix in queries.stores_page(ON).mixes] == [queries.mixable(clear, ON)]


def test_what_stands_in_a_bath_counts_in_the_value_of_the_stores(owner, stabilizer, buy):
    buy(stabilizer, 1000, 30)
    bath = operations.start_bath(name="Chamber", material=stabilizer, at=AT, by=owner)
    operations.fill_bath(bath=bath, amount=400 * GRAM, at=day(1), by=owner)
    page = queries.stores_page(ON)
    assert page.value_micro == 30 * COIN
    assert [(row.bath, row.left, row.value_micro) for row in page.baths] == [(bath, 400 * GRAM, 12 * COIN)]


def test_without_costs_no_cost_is_read_at_all(owner, clear, stabilizer, resin, buy):
    buy(resin, 100, 77)
    operations.start_bath(name="Chamber", material=stabilizer, at=AT, by=owner)
    with CaptureQueriesContext(
        connection,
    ) as seen:
        page = queries.stores_page(ON, costs=False)
        rows = queries.batches(resin, ON, costs=False)
        row = queries.material_row(resin.pk, ON, costs=False)
        queries.baths(costs=False)
        queries.shortages(ON)
    assert page.value_micro is None
    assert {one.value_micro for one in (*page.materials, *page.baths, *rows, row)} == {None}
    sql = " ".join(query["sql"] for query in seen.captured_queries)
    assert "value_micro" not in sql
    assert "paid_micro" not in sql
    assert "carriage_micro" not in sql


def test_a_material_at_its_reorder_level_is_not_short_and_one_gram_less_is(owner, resin, hardener, buy):
    operations.change_material(material=resin, at=AT, by=owner, reorder_level=100 * GRAM)
    batch = buy(resin, 100, 10)
    assert queries.shortages(ON) == []
    operations.count(batch=batch, really_there=99 * GRAM, at=day(1), by=owner)
    assert [row.material for row in queries.shortages(ON)] == [resin]


def test_a_plan_says_what_a_draw_would_take_and_takes_nothing(resin, buy):
    first = buy(resin, 100, 10, use_by=date(2025, 6, 1))
    second = buy(resin, 100, 10)
    draws = queries.plan_draw(resin, 130 * GRAM, ON)
    assert [(one.account.pk, one.amount, one.component) for one in draws] == [
        (first.account_id, 100 * GRAM, Component.RESIN),
        (second.account_id, 30 * GRAM, Component.RESIN),
    ]
    assert [(one.batch.number, one.amount) for one in queries.takes_of(draws)] == [
        (first.number, 100 * GRAM),
        (second.number, 30 * GRAM),
    ]
    assert Account.objects.get(pk=first.account_id).amount == 100 * GRAM


def test_commodities_and_accounts_have_names_for_the_cost_page(owner, resin, inserts, stabilizer, buy):
    batch = buy(resin, 100, 10)
    bath = operations.start_bath(name="Chamber", material=stabilizer, at=AT, by=owner)
    names = queries.names_of_commodities()
    assert (names[resin.commodity_id].name, names[resin.commodity_id].component) == ("Clear A", Component.RESIN)
    assert not names[resin.commodity_id].counted
    assert names[inserts.commodity_id].counted
    assert queries.names_of_accounts([batch.account_id, bath.account_id]) == {
        batch.account_id: "Clear A, batch 1",
        bath.account_id: "Chamber",
    }


def test_a_materials_page_tells_what_was_done_to_it_newest_first(owner, resin, buy):
    batch = buy(resin, 100, 10)
    operations.count(batch=batch, really_there=90 * GRAM, at=day(1), by=owner)
    operations.write_off(batch=batch, amount=GRAM, why=WhyGone.SPILT, at=day(2), by=owner)
    operations.add_late_bill(batch=batch, value_micro=COIN, what="duty", at=day(3), by=owner)
    told = happenings(resin)
    assert [(row.what, row.amount) for row in told] == [
        ("bill since", None),
        ("written off", -GRAM),
        ("counted", -10 * GRAM),
    ]
    assert [row.by for row in told] == [owner] * 3
    with CaptureQueriesContext(connection) as seen:
        without = happenings(resin, costs=False)
    assert not [query for query in seen.captured_queries if "value_micro" in query["sql"]]
    assert [row.what for row in without] == ["written off", "counted"]
    assert {row.value_micro for row in without} == {None}


def test_the_round_hears_what_runs_short_and_what_ages(owner, resin, hardener, buy):
    operations.change_material(material=hardener, at=AT, by=owner, reorder_level=500 * GRAM)
    buy(resin, 100, 10, use_by=date(2025, 3, 19))
    buy(resin, 100, 10, use_by=date(2025, 3, 22), opened_on=AT.date())
    buy(resin, 100, 10, use_by=date(2026, 3, 22))
    now = day(10)
    told = in_walking_order(now, queries.waits(now))
    assert [(one.place, one.what, one.subject, one.kind) for one in told] == [
        ("stores", "throw away or use all the same", "Clear A, batch 1", "since"),
        ("stores", "use up", "Clear A, batch 2", "by"),
        ("desk", "order", "Clear B", "since"),
    ]
    assert told[1].reason == "opened, good until 22 March 2025; 100\u00a0g left"
    assert told[2].reason == "none left fit for use; you order below 500\u00a0g"
    assert told[1].at is not None
    assert told[1].at > now
    assert not told[1].late(day(12)), "on its last good day it is not late yet"
    assert told[1].late(day(13))


def test_a_quiet_store_asks_for_nothing(resin, buy):
    buy(resin, 100, 10)
    assert queries.waits(day(10)) == []


def _many(owner, entry_id, start, until):
    """Materials with a batch each, written straight into the tables: the reading is what is measured."""
    commodities = Commodity.objects.bulk_create(Commodity(measure=Measure.WEIGHED) for _ in range(start, until))
    names = [f"material {n}" for n in range(start, until)]
    kinds = [list(MaterialKind)[n % 2] for n in range(start, until)]
    made = Material.objects.bulk_create(
        Material(name=name, name_search=name, kind=kind, commodity=commodity, reorder_level=10_000 * GRAM)
        for name, kind, commodity in zip(names, kinds, commodities, strict=True)
    )
    accounts = Account.objects.bulk_create(
        Account(kind=Kind.BATCH, commodity=one, amount=GRAM, value_micro=COIN) for one in commodities
    )
    batches = Batch.objects.bulk_create(
        Batch(
            material=material,
            number=1000 + start + n,
            account=account,
            received_on=AT.date(),
            opened_on=AT.date(),
            use_by=date(2025, 3, 22),
            bought_amount=GRAM,
            paid_micro=COIN,
            entry_id=entry_id,
            at=AT,
            by=owner,
        )
        for n, (material, account) in enumerate(zip(made, accounts, strict=True))
    )
    Count.objects.bulk_create(
        Count(material=made[0], batch=batches[0], was_amount=1, counted_amount=1, at=AT, by=owner)
        for _ in range(start, until)
    )
    ResinSystem.objects.bulk_create(
        ResinSystem(name=f"resin {a.pk}", part_a=a, part_b=b, parts_a=1, parts_b=1)
        for a, b in zip(made[::2], made[1::2], strict=False)
    )
    baths = Account.objects.bulk_create(Account(kind=Kind.BATH, commodity=one) for one in commodities)
    Bath.objects.bulk_create(
        Bath(name=f"bath {account.pk}", material=material, account=account, started_on=AT.date())
        for material, account in zip(made, baths, strict=True)
    )
    return made[0]


def test_every_list_takes_as_many_queries_at_1000_rows_as_at_10(owner, resin, buy):
    entry_id = buy(resin, 1, 1).entry_id

    def everything(material):
        asked = {
            "stores_page": lambda: queries.stores_page(ON),
            "without costs": lambda: queries.stores_page(ON, costs=False),
            "materials": lambda: [(one.counted, one.component) for one in queries.materials()],
            "systems": lambda: [(one.part_a.counted, one.part_b.name) for one in queries.resin_systems()],
            "baths": lambda: [(row.bath.material.counted, row.left) for row in queries.baths()],
            "batches": lambda: [row.batch.material.name for row in queries.batches(material, ON, emptied=True)],
            "shortages": lambda: queries.shortages(ON),
            "waits": lambda: queries.waits(day(10)),
            "names": queries.names_of_commodities,
            "happenings": lambda: [str(row.by) for row in happenings(material)],
        }
        counted = {}
        for name, ask in asked.items():
            with CaptureQueriesContext(connection) as seen:
                ask()
            counted[name] = len(seen)
        return counted

    ten = everything(_many(owner, entry_id, 0, 10))
    thousand = everything(_many(owner, entry_id, 10, 1000))
    assert thousand == ten
    assert ten["stores_page"] == 4
    assert ten["batches"] == 1
