"""A pour goes into the pot: whether its moulds fit, how long it is held, and never under vacuum."""

from datetime import timedelta

import pytest
from django.utils import timezone

from studio.equipment import operations as equipment
from studio.equipment.errors import NeedsConfirm
from studio.equipment.models import Load
from studio.people import operations as people
from studio.stores import operations as stores
from studio.work import operations as work
from studio.work import queries as work_queries
from studio.work.errors import StepTrouble
from tests.web.shop import BAR, GRAM, HOUR, a_shop, to_cast

MM = 1000


@pytest.fixture
def shop(db):
    there = a_shop()
    there.now = timezone.now()
    for blank in there.blanks:
        to_cast(there, blank, 500 * GRAM)
    there.resin = stores.change_resin_system(system=there.resin, at=there.now, work_time_at_mdegc=25_000)
    return there


def measured(shop, length=180, width=100, height=100, name=None):
    sizes = {"outside_length_um": length * MM, "outside_width_um": width * MM, "outside_height_um": height * MM}
    if name is None:
        return equipment.change_mould(mould=shop.mould, by=shop.owner, **sizes)
    return equipment.add_mould(
        name=name, shape="box", length_um=100 * MM, width_um=50 * MM, height_um=50 * MM, by=shop.owner,
        at=shop.now, **sizes,
    )  # fmt: skip


def poured(shop, *pairs, at=None, load=None):
    """Each blank in its mould, one mixing."""
    fills = [work.Fill(planned_mg=200 * GRAM, blanks=[blank], mould=mould, wood_mg=1) for blank, mould in pairs]
    grams = 100 * GRAM * len(pairs)
    return work.pour(
        system=shop.resin, fills=fills, planned_a_mg=grams, planned_b_mg=grams, poured_a_mg=grams, poured_b_mg=grams,
        at=at or shop.now, wood_sure=True, by=shop.owner, now=shop.now, load=load,
    )  # fmt: skip


def into_pot(shop, *rows, **how):
    how = {"machine": shop.pot, "purpose": "pressure", "gauge_pa": 4 * BAR, "at": shop.now, "now": shop.now} | how
    return work.load_up(workpieces=rows, by=shop.owner, **how)


def test_a_mould_that_fits_goes_in_without_a_question(shop):
    poured(shop, (shop.blanks[0], measured(shop)))
    assert into_pot(shop, shop.blanks[0]).places.count() == 1


def test_what_can_not_be_known_or_does_not_go_in_is_asked_about_and_nothing_stored(shop):
    poured(shop, (shop.blanks[0], shop.mould))
    with pytest.raises(StepTrouble, match="How big Long box is outside isn't known.*does the lid close") as stop:
        into_pot(shop, shop.blanks[0])
    assert stop.value.code == "sure" and not Load.objects.exists()
    measured(shop, height=360)
    with pytest.raises(StepTrouble, match="Long box is too tall.*Then mend the measures"):
        into_pot(shop, shop.blanks[0])
    assert into_pot(shop, shop.blanks[0], confirm=True).places.count() == 1


def test_a_mould_put_in_late_is_measured_with_those_inside(shop):
    one, two = measured(shop), measured(shop, 200, 130, name="Second box")
    poured(shop, (shop.blanks[0], one), (shop.blanks[1], two))
    into_pot(shop, shop.blanks[0])
    with pytest.raises(StepTrouble, match="Can't be sure that Long box and Second box lie in The grey pot together"):
        into_pot(shop, shop.blanks[1])
    assert into_pot(shop, shop.blanks[1], confirm=True).places.count() == 2


def test_the_pots_own_question_and_the_fit_are_asked_at_once(shop):
    poured(shop, (shop.blanks[0], shop.mould))
    with pytest.raises(NeedsConfirm, match="close to the limit.*isn't known"):
        into_pot(shop, shop.blanks[0], gauge_pa=470_000)


def test_it_is_held_as_the_sheet_says_in_a_shop_as_cool_and_only_ever_longer(shop):
    people.set_setting(
        key="shop_temperature_mdegc", value=15_000, by=shop.owner, at=shop.now, from_on=shop.began.date()
    )
    pour = poured(shop, (shop.blanks[0], measured(shop)))
    assert pour.demould_not_before == pour.at + 8 * HOUR
    for short in (timedelta(minutes=1), 8 * HOUR - timedelta(minutes=1)):
        with pytest.raises(StepTrouble, match="stays under pressure until") as stop:
            into_pot(shop, shop.blanks[0], not_before=shop.now + short)
        assert stop.value.field == "not_before"
    assert not Load.objects.exists()
    assert into_pot(shop, shop.blanks[0]).not_before == pour.demould_not_before
    assert Load.objects.get().not_before == pour.demould_not_before


def test_longer_than_the_sheet_is_kept(shop):
    poured(shop, (shop.blanks[0], measured(shop)))
    assert into_pot(shop, shop.blanks[0], not_before=shop.now + 30 * HOUR).not_before == shop.now + 30 * HOUR


def test_a_warm_shop_holds_it_no_shorter(shop):
    people.set_setting(
        key="shop_temperature_mdegc", value=35_000, by=shop.owner, at=shop.now, from_on=shop.began.date()
    )
    pour = poured(shop, (shop.blanks[0], shop.mould))
    assert pour.demould_not_before == pour.at + 4 * HOUR


def test_a_later_pour_put_in_holds_the_pot_longer(shop):
    first = poured(shop, (shop.blanks[0], measured(shop)), at=shop.now - HOUR)
    load = into_pot(shop, shop.blanks[0], at=shop.now - HOUR)
    assert load.not_before == first.demould_not_before
    second = poured(shop, (shop.blanks[1], measured(shop, 60, 60, name="Small box")))
    assert into_pot(shop, shop.blanks[1], confirm=True).not_before == second.demould_not_before


def test_a_filled_mould_goes_under_no_vacuum(shop):
    chamber = equipment.add_machine(kind="vacuum_chamber", name="The bell", by=shop.owner, at=shop.began)
    poured(shop, (shop.blanks[0], measured(shop)))
    for confirm in (False, True):
        with pytest.raises(StepTrouble, match="Never a mould with wood in it under vacuum: 41/1"):
            work.load_up(
                machine=chamber, workpieces=[shop.blanks[0]], purpose="vacuum", at=shop.now, by=shop.owner,
                now=shop.now, confirm=confirm,
            )  # fmt: skip
    assert not Load.objects.exists()
    load = work.load_up(
        machine=chamber, workpieces=[shop.blanks[1]], purpose="vacuum", at=shop.now, by=shop.owner, now=shop.now
    )
    assert load.places.count() == 1


@pytest.mark.parametrize("asked", [None, HOUR, 90 * HOUR])
def test_a_pot_shut_before_the_pour_is_booked_stays_shut_as_long_as_its_moulds(shop, asked):
    """The sheet decides, whichever of the two was written down first; a longer time stays."""
    wanted = shop.now + asked if asked else None
    load = into_pot(shop, shop.blanks[0], not_before=wanted, confirm=True)
    pour = poured(shop, (shop.blanks[0], shop.mould), load=load)
    load.refresh_from_db()
    assert pour.demould_not_before > shop.now + HOUR
    assert load.not_before == max(pour.demould_not_before, wanted or shop.now)


def test_a_pot_is_one_thing_to_do_with_all_that_lies_in_it_and_its_latest_time(shop):
    first = poured(shop, (shop.blanks[0], measured(shop)), at=shop.now - 2 * HOUR)
    second = poured(shop, (shop.blanks[1], measured(shop, name="Tray", length=60, width=60, height=60)))
    load = into_pot(shop, *shop.blanks[:2], confirm=True)
    (wait,) = [wait for wait in work_queries.waits(shop.now) if " out" in wait.what]
    assert (wait.place, wait.what) == ("pressure pot", "let the air off and take out")
    assert wait.about == ("equipment.load", load.pk)
    assert [tag.number for tag in wait.tags] == ["41/1", "41/2"]
    assert wait.at == second.demould_not_before > first.demould_not_before
    opened = shop.now + 30 * HOUR
    work.unload(load=load, at=opened, by=shop.owner, air_off=True, confirm=True, now=opened)
    later = [wait for wait in work_queries.waits(opened) if wait.what == "take out of the mould"]
    assert [wait.place for wait in later] == ["mixing bench"] * 2
