"""Resin that cures, on the pages: the lathe that waits, the oven that shortens it, more resin poured on in time."""

from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.stores import operations as stores
from studio.work import operations as work
from studio.work.models import ClockRun
from tests.web.pour_shop import a_pour_shop, at, plan
from tests.web.shop import GRAM, HOUR, send, signed_in, text

MINUTE = timedelta(minutes=1)


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    """41/1 was poured six hours ago and is out of its mould; more bonds to it from 2 to 20 hours after the pour."""
    there = a_pour_shop()
    stores.change_resin_system(
        system=there.resin, at=there.began, recoat_from_s=2 * 3600, recoat_to_s=20 * 3600, post_cure_s=4 * 3600,
        post_cure_mdegc=60_000,
    )  # fmt: skip
    there.poured_at = timezone.now() - 6 * HOUR
    pour = work.pour(
        system=there.resin, fills=[work.Fill(planned_mg=400 * GRAM, blanks=[there.blanks[0]], wood_mg=800 * GRAM)],
        planned_a_mg=200 * GRAM, planned_b_mg=200 * GRAM, poured_a_mg=200 * GRAM, poured_b_mg=200 * GRAM,
        at=there.poured_at, by=there.owner, wood_sure=True,
    )  # fmt: skip
    work.demould(pour=pour, at=timezone.now() - HOUR, by=there.owner)
    there.casting = pour.fills.get().casting
    return there


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


def page_of(desk: Client, shop: SimpleNamespace) -> str:
    return text(desk.get(reverse("workpiece", args=[shop.casting.pk])))


def test_its_page_says_until_when_more_bonds_and_what_the_lathe_waits_for(desk, shop):
    page = page_of(desk, shop)
    assert "More resin bonds to it by itself until" in page and "later it is scuffed first" in page
    told = text(desk.get(reverse("round")))
    assert "the resin cures" in told and "not before" in told


def test_past_its_window_the_page_says_that_it_is_scuffed_first(desk, shop):
    stores.change_resin_system(system=shop.resin, at=shop.began, recoat_to_s=3 * 3600)
    assert "It is cured for more resin: scuff it first, and wipe the dust off." in page_of(desk, shop)


def test_without_a_window_on_its_sheet_the_page_says_nothing_of_it(desk, shop):
    stores.change_resin_system(system=shop.resin, at=shop.began, recoat_from_s=None, recoat_to_s=None)
    assert "More resin" not in page_of(desk, shop)


def test_the_clock_asks_before_soft_resin_is_turned(desk, shop):
    there = reverse("clock_start", args=[shop.casting.pk])
    asked = send(desk, there, {"code": "rough"})
    assert asked.status_code == 422
    assert "41/1 still cures, until" in text(asked) and 'name="sure"' in asked.content.decode()
    assert not ClockRun.objects.exists()
    assert "The clock runs on 41/1" in text(send(desk, there, {"code": "rough", "sure": "on"}))
    assert ClockRun.objects.get().code == "rough"


def test_the_oven_is_asked_for_with_time_and_heat_of_the_sheet(desk, shop):
    html = desk.get(reverse("workpiece", args=[shop.casting.pk])).content.decode()
    link = next(part.split('"')[0] for part in html.split('href="') if "purpose=post_cure" in part.split('"')[0])
    link = link.replace("&amp;", "&")
    assert f"workpiece={shop.casting.pk}" in link and "set_point=60000" in link
    form = desk.get(f"{link}&machine={shop.oven.pk}").context["form"]
    assert form["purpose"].value() == "post_cure" and form["set_point_mdegc"].value() == "60"
    until = timezone.localtime(timezone.now() + 4 * HOUR)
    assert form["not_before"].value() in {f"{until + nth * MINUTE:%Y-%m-%dT%H:%M}" for nth in (-1, 0, 1)}


@pytest.mark.parametrize("heat", ["", "x", "-5", "99999999", "½"])
def test_a_heat_that_is_none_in_the_address_is_left_out(desk, shop, heat):
    there = f"{reverse('load_start')}?machine={shop.oven.pk}&purpose=post_cure&set_point={heat}"
    answer = desk.get(there)
    assert answer.status_code == 200 and answer.context["form"]["set_point_mdegc"].value() in (None, "")


def test_the_oven_is_offered_no_longer_when_it_is_cured(desk, shop):
    shop.casting.steps.filter(code="cast").update(not_before=timezone.now() - MINUTE)
    assert "Cure it in the warm" not in page_of(desk, shop)


def test_the_plan_of_a_second_pour_says_what_the_booking_will_ask(desk, shop):
    stores.change_resin_system(system=shop.resin, at=shop.began, recoat_to_s=3 * 3600)
    told = text(desk.get(at("pour_plan", plan(shop, wood_0="1200 ml"))))
    assert "It is cured: scuff it first, and wipe the dust off." in told


def test_the_plan_inside_the_window_says_nothing_of_it(desk, shop):
    assert "scuff" not in text(desk.get(at("pour_plan", plan(shop, wood_0="1200 ml"))))
