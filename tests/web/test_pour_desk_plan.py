"""What the plan of a pour says: how far off, what lifts, in how many cups, by when; and measuring a blank's room."""

import re
from datetime import timedelta
from html import unescape
from types import SimpleNamespace
from urllib.parse import urlencode

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.people import operations as people
from studio.stores import operations as stores
from studio.work.models import Pour, PourFill, RoomReading
from tests.web.pour_shop import a_pour_shop, at, plan
from tests.web.shop import GRAM, key_of, send, signed_in, text


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    return a_pour_shop()


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


def tell(shop: SimpleNamespace, **answers: int) -> None:
    for key, value in answers.items():
        people.set_setting(key=key, value=value, by=shop.owner, at=timezone.now())


def sheet(shop: SimpleNamespace, **figures: int) -> None:
    stores.change_resin_system(system=shop.resin, at=timezone.now(), **figures)


def test_the_plan_says_how_far_off_it_may_be_and_where_that_comes_from(desk, shop):
    page = text(desk.get(at("pour_plan", plan(shop))))
    assert "The moulds take 400 g, give or take 270 g, 9 times in 10" in page
    assert "41/1, 800 g at 500 kg/m³, as its wood usually is: −1600 ml , give or take 263 ml" in page
    assert "40 g, your 10 %; no pour of yours was weighed yet" in page


def test_the_lift_is_printed_with_what_to_do(desk, shop):
    page = text(desk.get(at("pour_plan", plan(shop))))
    assert "In Long box, 1600 ml of wood at 500 kg/m³ lifts 800 g: screw, wedge or weight." in page


def test_a_bucket_narrows_it_and_leads_back_to_the_plan(desk, shop):
    url = f"{reverse('pour_room', args=[shop.blanks[0].pk])}?{urlencode(plan(shop))}"
    answer = send(desk, url, {"bucket": "1500"})
    assert RoomReading.objects.get().mm3 == 1_500_000
    page = text(answer)
    assert "The moulds take 500 g, give or take 70 g" in page and "41/1 by the bucket on the scale" in page


def test_a_dry_fill_asks_which_mould_and_keeps_what_was_typed(desk, shop):
    url = reverse("pour_room", args=[shop.blanks[0].pk])
    asked = send(desk, url, {"beads": "450 ml"})
    assert asked.status_code == 422 and "Say which mould you filled" in text(asked)
    assert 'value="450 ml"' in asked.content.decode() and not RoomReading.objects.exists()
    send(desk, url, {"beads": "450 ml", "mould": shop.mould.pk})
    assert "Filled dry with the wood in it" in text(desk.get(at("pour_plan", plan(shop))))


def test_a_reading_sent_twice_is_one_and_nothing_typed_is_asked_for(desk, shop):
    url = reverse("pour_room", args=[shop.blanks[0].pk])
    assert "Give one of these" in text(send(desk, url, {}))
    data = {"own_density": "640 kg/m³", "submission": key_of(desk.get(url))}
    assert {desk.post(url, data).status_code, desk.post(url, data).status_code} == {303}
    assert RoomReading.objects.get().kgm3 == 640


@pytest.mark.parametrize("trap", ["0", "-3", "1,5", "<b>x", "o'clock", "x" * 200, "Дуб", "楓"])
def test_no_trap_in_a_reading_or_a_plan_is_a_fault(desk, shop, trap):
    url = reverse("pour_room", args=[shop.blanks[0].pk])
    for name in ("bucket", "beads", "mould", "own_density", "at"):
        assert send(desk, url, {name: trap}, follow=False).status_code in (303, 422), name
    for name in ("warmth", "extra_0"):
        assert desk.get(at("pour_plan", plan(shop, **{name: trap}))).status_code in (200, 422), name
    for moment in ("0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00"):
        walk = plan(shop, step="b", a=220 * GRAM, t0=moment)
        assert desk.get(at("pour_mix", walk)).status_code == 200
        assert desk.get(at("pour_book", walk)).status_code == 200
    for name in ("cup", "done_a", "done_b"):
        assert desk.get(at("pour_mix", plan(shop, **{name: trap}))).status_code in (200, 302, 422), name


def test_cups_are_mixed_one_after_the_other_and_booked_together(desk, shop):
    tell(shop, scale_most_mg=300 * GRAM)
    page = text(desk.get(at("pour_plan", plan(shop))))
    assert "On paper" in page
    assert "Mix it in 2 cups" in page and "110 g of A, 110 g of B" in page
    first = text(desk.get(at("pour_mix", plan(shop, step="a"))))
    assert "Cup 1 of 2" in first and "A 110 B 220" in first
    second = desk.get(at("pour_mix", {**plan(shop), "step": "book", "a": 111 * GRAM, "shown_b": "221"}), follow=True)
    assert "Cup 2 of 2" in text(second)
    walked = second.request["QUERY_STRING"]
    walked = walked.replace("step=a", "step=book")
    last = desk.get(f"{reverse('pour_mix')}?{walked}&a={110 * GRAM}&shown_b=220", follow=True)
    initial = last.context["form"].initial
    assert (initial["poured_a"], initial["poured_b"]) == (221 * GRAM, 220 * GRAM)


def test_a_batch_above_the_sheets_largest_is_booked_in_cups(desk, shop):
    sheet(shop, largest_mg=300 * GRAM)
    answer = send(desk, at("pour_book", plan(shop)), {"poured_a": "220", "poured_b": "220"})
    assert answer.status_code == 200 and Pour.objects.get().poured_mg == 440 * GRAM
    assert PourFill.objects.get().reckoned_mg == 400 * GRAM


def test_cups_that_would_be_too_small_are_refused_with_what_would_fit(desk, shop):
    sheet(shop, smallest_mg=250 * GRAM)
    tell(shop, scale_most_mg=300 * GRAM)
    page = text(desk.get(at("pour_plan", plan(shop))))
    assert "440 g is more than what your scale takes, 300 g" in page and "500 g and more in 2" in page
    assert "To the scale" not in page


def test_the_lid_is_shut_by_a_time_at_the_scale(desk, shop):
    sheet(shop, work_time_at_mdegc=25_000, work_time_mass_mg=500 * GRAM)
    tell(shop, pot_fill_s=240)
    query = plan(shop, warmth="25 °C")
    assert "20 min for 440 g: lid shut within 16 min of A meeting B" in text(desk.get(at("pour_plan", query)))
    walk = {**query, "step": "b", "a": 220 * GRAM, "t0": "2026-05-04T10:00:00+00:00"}
    page = text(desk.get(at("pour_mix", walk)))
    assert "Lid shut by 10:16 , at pressure by 10:20" in page


def test_an_unknown_mass_is_said_to_be_unknown(desk, shop):
    page = text(desk.get(at("pour_plan", plan(shop))))
    assert "Unknown for 440 g: 20 min is for about 100 g, as labels mean it" in page
    walk = {**plan(shop), "step": "b", "a": 220 * GRAM, "t0": "2026-05-04T10:00:00+00:00"}
    assert "In the mould by 10:20 at the latest: unknown for 440 g" in text(desk.get(at("pour_mix", walk)))


def test_a_plan_that_can_not_make_it_says_so(desk, shop):
    tell(shop, pour_hands_s=1500)
    assert "It can't be poured in time like that" in text(desk.get(at("pour_plan", plan(shop))))


def test_one_tap_says_that_it_thickened_and_the_next_plan_knows(desk, shop):
    began = (timezone.now() - timedelta(minutes=15)).isoformat()
    send(desk, at("pour_book", plan(shop, warmth="25 °C", t0=began)), {"poured_a": "220", "poured_b": "220"})
    pour = Pour.objects.get()
    assert pour.resin_mdegc == 25_000
    url = reverse("pour_thickened", args=[pour.pk])
    assert url in desk.get(reverse("pour", args=[pour.pk])).content.decode()
    said = send(desk, url, {}).content.decode().replace("\u00a0", " ")
    assert "440 g thickened in 15 min. The next plan reckons with that." in said
    page = desk.get(reverse("pour", args=[pour.pk]))
    assert "It thickened" in text(page) and url not in page.content.decode()
    assert "noted already" in text(send(desk, url, {}))
    again = {"system": shop.resin.pk, "rows": 1, "mould_0": "none", "room_0": "380 ml", "warmth": "25 °C", "go": 1}
    assert "by what thickened at your bench" in text(desk.get(at("pour_plan", again)))


def test_bark_is_a_choice_of_the_plan_with_its_share_and_whose_figure_that_is(desk, shop):
    assert "The moulds take 400 g" in text(desk.get(at("pour_plan", plan(shop, bark_0="none"))))
    page = text(desk.get(at("pour_plan", plan(shop, bark_0="gone"))))
    assert "The moulds take 480 g" in page
    assert "Where bark was cleaned out of 41/1, 5 % of its room (common practice, no source):" in page
    tell(shop, bark_share_ppm=100_000)
    page = text(desk.get(at("pour_plan", plan(shop, bark_0="gone"))))
    assert "The moulds take 560 g" in page and "10 % of its room (your figure): 160 ml" in page
    left_in = text(desk.get(at("pour_plan", plan(shop, bark_0="in"))))
    assert "The moulds take 400 g" in left_in and "Bark left in 41/1, 5 % of its room either way" in left_in
    assert desk.get(at("pour_plan", plan(shop, bark_0="<b>x"))).status_code == 422


def test_a_refused_plan_leads_back_to_the_form_as_it_was_with_all_of_it_in_sight(desk, shop):
    page = desk.get(at("pour_plan", plan(shop, colorant=shop.blue.pk, share="4"))).content.decode()
    (back,) = re.findall(r'<a class="do" href="([^"]+)">Change it</a>', page)
    form = desk.get(unescape(back)).content.decode()
    assert "<details open><summary>Other numbers" in form and 'name="share" value="4"' in form
    closed = desk.get(reverse("pour_plan")).content.decode()
    assert "<details><summary>Other numbers" in closed


def test_two_answers_to_what_a_mould_holds_are_asked_about_and_both_stay(desk, shop):
    answer = desk.get(at("pour_plan", plan(shop, room_0="450 ml")))
    html = answer.content.decode()
    assert answer.status_code == 422 and "What Long box holds is known." in text(answer)
    assert 'name="room_0" value="450 ml"' in html and "<details open><summary>Other numbers" in html


def test_what_lies_in_its_mould_is_not_offered_again_and_a_refused_plan_shows_no_grams_to_weigh(desk, shop):
    assert "41/1, Field ash" in text(desk.get(reverse("pour_plan")))
    refused = text(desk.get(at("pour_plan", plan(shop, colorant=shop.blue.pk, share="4"))))
    assert "It can't be poured like that" in refused and "Mix, by weight" not in refused and "220" not in refused
    send(desk, at("pour_book", plan(shop)), {"poured_a": "220", "poured_b": "220"})
    page = text(desk.get(reverse("pour_plan")))
    assert "Still in the mould" in page and "41/1, Field ash" not in page
    again = text(desk.get(f"{reverse('pour_plan')}?workpiece={shop.blanks[0].pk}"))
    assert "41/1, Field ash" in again
