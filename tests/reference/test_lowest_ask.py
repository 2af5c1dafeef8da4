"""The worked example of the studio's own first sketch, out of the real operations.

A bog-oak jar: 369.60 all in when finished, 45 % to the gallery, 730 asked, 7 hours at 28. The sketch says
lowest ask 369.60 / .55 = 672.00, and an hour earns (730 · .55 − 173.60) / 7 = 32.56. Wood, resin, colour, power
and wear are the sketch's; finish and share of lost pieces are chosen so that the sum is its 369.60.
"""

from datetime import UTC, date, datetime, timedelta

import pytest

from studio.equipment import operations as equipment
from studio.ledger import audit, queries
from studio.ledger.accounts import Component
from studio.people import operations as people
from studio.pictures.models import Picture
from studio.pieces import operations as pieces
from studio.pieces.errors import BelowLowest
from studio.pricing import queries as pricing
from studio.stores import operations as stores
from studio.work import operations as work

BEGAN = datetime(2025, 3, 10, 8, 0, tzinfo=UTC)
NOW = datetime(2025, 12, 1, 12, 0, tzinfo=UTC)
DAY = timedelta(days=1)
HOUR = timedelta(hours=1)
HOUR_S = 3600
MONEY = 1_000_000
GRAM = 1000


def cents(text: str) -> int:
    whole, part = text.split(".")
    return int(whole) * MONEY + int(part) * 10_000


@pytest.fixture
def maker(db):
    user = people.set_up_studio(
        studio_name="Skerry Turning Room",
        currency="EUR",
        length_unit="mm",
        temperature_unit="°C",
        pressure_unit="bar",
        time_zone="UTC",
        username="ines",
        display_name="Ines",
        password="soft wet shavings fly",
        at=BEGAN,
    )
    first = date(2025, 1, 1)
    for key, value in (
        ("tariff_micro", 316_000),
        ("overhead_year_micro", 6_500 * MONEY),
        ("normal_hours_s", 1000 * HOUR_S),
        ("loss_allowance_ppm", 120_000),
        ("gallery_share_ppm", 450_000),
        ("card_fee_ppm", 0),
        ("cost_to_sell_micro", 0),
    ):
        people.set_setting(key=key, value=value, by=user, at=BEGAN, from_on=first)
    people.set_wage(person=user, rate_micro=28 * MONEY, paid=False, from_on=first, by=user, at=BEGAN)
    return user


def bought(name, kind, grams_mg, money, maker):
    material = stores.add_material(name=name, kind=kind, by=maker, at=BEGAN)
    stores.buy(material=material, amount=grams_mg, paid_micro=cents(money), by=maker, at=BEGAN)
    return material


def cast_and_dried(maker):
    """A third of lump 33 at 115.50, 50 hours in the oven, 1,104 g of resin and 6.2 g of colour."""
    lump = work.take_in_lump(number="33", paid_micro=cents("115.50"), at=BEGAN, by=maker)
    blank = work.cut(parent=lump, blanks=[work.BlankSpec(weight=1)] * 3, at=BEGAN + HOUR, by=maker, now=NOW)[0]
    oven = equipment.add_machine(
        kind="oven", name="The oven", power_w=2000, duty_ppm=250_000, price_micro=420 * MONEY,
        life_s=6000 * HOUR_S, by=maker, at=BEGAN,
    )  # fmt: skip
    load = work.load_up(machine=oven, workpieces=[blank], purpose="dry", at=BEGAN + DAY, by=maker, now=NOW)
    work.unload(load=load, at=BEGAN + DAY + 50 * HOUR, by=maker, now=NOW)
    part_a = bought("Clear A", "resin_a", 552 * GRAM, "15.60", maker)
    part_b = bought("Clear B", "resin_b", 552 * GRAM, "15.60", maker)
    grey = bought("Grey", "colorant", 6200, "1.15", maker)
    system = stores.add_resin_system(
        name="Clear casting resin", part_a=part_a, part_b=part_b, parts_a=1000, parts_b=1000,
        mixed_density_kgm3=1050, demould_s=HOUR_S, full_cure_s=HOUR_S, smallest_mg=GRAM, largest_mg=5000 * GRAM,
        ratio_tolerance_ppm=20_000, colorant_limit_ppm=30_000, by=maker, at=BEGAN,
    )  # fmt: skip
    work.cast_all_the_same(workpiece=blank, words="kept in its bag", at=BEGAN + 5 * DAY, by=maker, now=NOW)
    pour = work.pour(
        wood_sure=True,
        system=system, fills=[work.Fill(planned_mg=1104 * GRAM, blanks=[blank])], planned_a_mg=552 * GRAM,
        planned_b_mg=552 * GRAM, poured_a_mg=552 * GRAM, poured_b_mg=552 * GRAM,
        colorants=[work.ColourIn(grey, 6200)], at=BEGAN + 5 * DAY, by=maker,
    )  # fmt: skip
    work.demould(pour=pour, at=BEGAN + 6 * DAY, by=maker)
    oil = bought("Hardening oil", "finish", 100 * GRAM, "6.25", maker)
    work.use_material(
        workpieces=[blank], material=oil, amount=100 * GRAM, step="finish", at=BEGAN + 7 * DAY, by=maker, now=NOW
    )
    return blank


def book(blank, maker, hours, day):
    work.add_hours(
        person=maker, workpieces=[blank], code="turn", seconds=hours * HOUR_S, at=BEGAN + day * DAY, by=maker, now=NOW
    )


def test_the_sketch_s_jar_must_bring_672_and_at_730_an_hour_earns_32_56(maker):
    blank = cast_and_dried(maker)
    work.plan_steps(workpiece=blank, codes=["turn"])
    work.set_usual_minutes(person=maker, code="turn", seconds=7 * HOUR_S)
    book(blank, maker, 4, day=7)
    piece = pieces.become_piece(workpiece=blank, title="Bog-oak jar", at=BEGAN + 8 * DAY, by=maker, now=NOW)
    with pytest.raises(BelowLowest):
        pieces.set_asking_price(
            piece=piece, amount_micro=cents("671.99"), lowest_micro=cents("672.00"), at=NOW, by=maker, now=NOW
        )
    pieces.set_asking_price(
        piece=piece, amount_micro=730 * MONEY, lowest_micro=cents("672.00"), at=NOW, by=maker, now=NOW
    )

    begun = pricing.offer(piece, on=NOW.date(), now=NOW, person=maker)
    assert begun.to_come.seconds == 3 * HOUR_S
    assert_the_sketch(begun)

    book(blank, maker, 3, day=9)
    finish(piece, maker)
    done = pricing.offer(piece, on=NOW.date(), now=NOW, person=maker)
    assert (done.to_come.seconds, done.allowance_to_come_micro) == (0, 0)
    assert_the_sketch(done)
    assert queries.cost_of(blank.account).parts == {
        Component.WOOD: cents("38.50"),
        Component.RESIN: cents("31.20"),
        Component.COLORANT: cents("1.15"),
        Component.FINISH: cents("6.25"),
        Component.ENERGY: cents("7.90"),
        Component.WEAR: cents("3.50"),
        Component.OWN_LABOUR: cents("196.00"),
        Component.OVERHEAD: cents("45.50"),
        Component.ALLOWANCE: cents("39.60"),
    }
    assert audit.run().differences == ()


def assert_the_sketch(found):
    assert found.all_in_micro == cents("369.60")
    assert found.all_in_micro - found.own_labour_micro == cents("173.60")
    assert found.own_seconds == 7 * HOUR_S
    assert found.lowest_ask_micro == cents("672.00")
    assert (found.asking_micro, found.below_lowest) == (730 * MONEY, False)
    assert found.wage_micro == 32_557_143
    assert found.wage_at_lowest_micro == 28 * MONEY


def finish(piece, maker):
    stamp = {"at": BEGAN + 20 * DAY, "by": maker, "now": NOW}
    shot = Picture.objects.create(
        sha256="a" * 64, name="a" * 32, width=4, height=3, large_sha256="b" * 64, small_sha256="c" * 64,
        uploaded_by=maker, at=BEGAN,
    )  # fmt: skip
    pieces.measure(piece=piece, height_um=180_000, mass_mg=900 * GRAM, sure=True, **stamp)
    pieces.sign(piece=piece, with_what="burned with a wire", **stamp)
    pieces.photograph(piece=piece, picture=shot, **stamp)
    pieces.rest(piece=piece, **stamp)
