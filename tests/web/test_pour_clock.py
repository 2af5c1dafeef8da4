"""The clock of a mix on screen: its stages, what a pot's fill time and degassing do to it, and what stops a plan."""

from datetime import timedelta
from types import SimpleNamespace
from urllib.parse import urlencode

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.equipment import operations as equipment
from studio.people import operations as people
from studio.stores import operations as stores
from tests.web.shop import BAR, GRAM, a_shop, signed_in, text, to_cast

MINUTE = timedelta(minutes=1)
MM = 1000


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    there = a_shop()
    to_cast(there, there.blanks[0], 800 * GRAM)
    first = there.began.date()
    people.set_setting(key="shop_temperature_mdegc", value=20_000, by=there.owner, at=there.began, from_on=first)
    stores.change_resin_system(
        system=there.resin, at=there.began, work_time_at_mdegc=20_000, work_time_mass_mg=3_000 * GRAM
    )
    return there


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


def at(name: str, shop: SimpleNamespace, **more: object) -> str:
    asked = {
        "system": shop.resin.pk, "mould_0": shop.mould.pk, "blanks_0": shop.blanks[0].pk, "rows": 1, "go": 1, **more,
    }  # fmt: skip
    return f"{reverse(name)}?{urlencode(asked)}"


def seen_to_fill(shop: SimpleNamespace, minutes: int) -> None:
    began = shop.began + 3600 * timedelta(seconds=1)
    load = equipment.start_load(machine=shop.pot, purpose="pressure", at=began, by=shop.owner, gauge_pa=4 * BAR)
    equipment.read_gauge(load=load, gauge_pa=4 * BAR, at=began + minutes * MINUTE, by=shop.owner)
    equipment.end_load(load=load, at=began + 300 * MINUTE, by=shop.owner)


def test_the_lid_is_shut_the_learned_fill_time_before_it_thickens(desk, shop):
    people.set_setting(key="pot_fill_s", value=240, by=shop.owner, at=shop.began)
    assert "reckoned to fill in 4 min, by your settings" in text(desk.get(at("pour_plan", shop)))
    seen_to_fill(shop, 5)
    page = text(desk.get(at("pour_plan", shop)))
    assert "lid shut within 15 min of A meeting B" in page and "5 min, The grey pot by your last load" in page
    none = text(desk.get(at("pour_plan", shop, pot="none")))
    assert "lid shut within" not in none


def test_each_stage_has_its_words_and_the_page_shows_where_it_is(desk, shop):
    seen_to_fill(shop, 5)
    # 20 minutes to work, 5 to fill: half after 7:30, lid shut by 15, over after 20
    for minutes, stage in ((1, "early"), (8, "half"), (16, "lid"), (21, "over")):
        since = timezone.now() - minutes * MINUTE
        page = desk.get(at("pour_mix", shop, step="b", a="600000", t0=since.isoformat())).content.decode()
        assert f'data-stage="{stage}"' in page, minutes
        shown = {
            "half": 'data-at="half">', "early": 'data-at="early half">', "lid": 'data-at="lid">',
            "over": 'data-at="over">',
        }  # fmt: skip
        assert shown[stage] in page
        late = ("lid", "over")
        assert [one for one in late if shown[one] in page] == [one for one in late if one == stage]
    book = desk.get(at("pour_book", shop, a="600000", b="600000", t0=since.isoformat())).content.decode()
    assert 'data-stage="over"' in book and "it thickens" in book


def test_a_plan_that_can_not_make_it_says_so_before_anything_is_mixed(desk, shop):
    late = {"degas": "15 min"}
    plan = text(desk.get(at("pour_plan", shop, **late)))
    assert "It can't be poured in time like that" in plan and "15 min under vacuum" in plan
    mix = text(desk.get(at("pour_mix", shop, **late)))
    assert "Before you mix" in mix and "It can't be poured in time like that" in mix and "Add Part A" not in mix
    assert "can't be poured in time" not in text(desk.get(at("pour_plan", shop, degas="5 min")))


def test_degassing_takes_its_minutes_and_a_cup_a_quarter_full_at_most(desk, shop):
    page = text(desk.get(at("pour_plan", shop, degas="5")))
    assert "Degassing takes 5 min of it, in a cup of" in page and "a quarter full at most" in page
    small = text(desk.get(at("pour_plan", shop, degas="5", degas_cup="1 l")))
    assert "A cup of 1000 ml is more than a quarter full" in small and "It can't be poured like that" in small
    assert "It can't be poured like that" not in text(desk.get(at("pour_plan", shop, degas="5", degas_cup="5 l")))


@pytest.mark.parametrize("wrong", ["0", "-1", "<b>x</b>", "x" * 200, "Жук", "1e9"])
def test_nonsense_in_the_boxes_of_pot_and_vacuum_is_kept_and_refused(desk, shop, wrong):
    for name in ("degas", "degas_cup", "pot"):
        answer = desk.get(at("pour_plan", shop, **{name: wrong}))
        assert answer.status_code == 422, (name, wrong)
        assert "<b>x</b>" not in answer.content.decode()


def test_the_plan_says_whether_the_mould_goes_into_the_pot(desk, shop):
    assert "How big Long box is outside isn't known" in text(desk.get(at("pour_plan", shop)))
    sizes = {"outside_length_um": 210 * MM, "outside_width_um": 110 * MM, "outside_height_um": 110 * MM}
    equipment.change_mould(mould=shop.mould, by=shop.owner, **sizes)
    page = text(desk.get(at("pour_plan", shop)))
    assert "The grey pot: Long box goes in by its measures: 62.9 mm to spare beside it, 240 mm under the lid" in page
    equipment.change_mould(mould=shop.mould, by=shop.owner, outside_height_um=345 * MM)
    assert "Long box is too tall" in text(desk.get(at("pour_plan", shop)))
    equipment.change_machine(machine=shop.pot, by=shop.owner, at=timezone.now(), certified_pa=None)
    assert "The grey pot takes no load" in text(desk.get(at("pour_plan", shop)))
