"""At the mould before the mix: ticks, the screw's place, the seal coat; and cups for swirls after it."""

from types import SimpleNamespace

import pytest
from django.test import Client

from studio.stores import operations as stores
from studio.work.models import MouldReady, Pour, PourFill, PourSwirl
from tests.web.pour_shop import a_pour_shop, at, plan
from tests.web.shop import GRAM, KILO, MONEY, every_trap, key_of, send, signed_in, text


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    return a_pour_shop()


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


def tap(desk: Client, shop: SimpleNamespace, tick: str) -> object:
    key = key_of(desk.get(at("pour_plan", plan(shop))))
    return desk.post(at("pour_ready", plan(shop)), {"tick": tick, "submission": key}, follow=True)


def test_one_tap_ticks_and_the_same_tap_takes_it_back(desk, shop):
    page = tap(desk, shop, "0 level on")
    assert page.status_code == 200 and 'value="0 level off"' in page.content.decode()
    assert MouldReady.objects.get().level_at and "At Long box" in text(page)
    tap(desk, shop, "0 level off")
    assert MouldReady.objects.get().level_at is None


def test_a_tap_sent_twice_is_one(desk, shop):
    key = key_of(desk.get(at("pour_plan", plan(shop))))
    for _ in range(2):
        answer = desk.post(at("pour_ready", plan(shop)), {"tick": "0 sealed on", "submission": key})
        assert answer.status_code == 303
    assert MouldReady.objects.count() == 1


def test_what_is_not_ticked_is_asked_before_the_mix_and_once_all_is_it_is_not(desk, shop):
    tap(desk, shop, "0 released on")
    asked = text(desk.get(at("pour_mix", plan(shop))))
    assert "Long box: seams not sealed, wood not held down, no seal coat, not levelled." in asked
    assert "Part A until it shows" in text(desk.get(at("pour_mix", plan(shop, step="a"))))
    tap(desk, shop, "0 all on")
    assert "Part A until it shows" in text(desk.get(at("pour_mix", plan(shop))))


@pytest.mark.parametrize(
    "tick", ["", "0", "0 level", "9 level on", "x level on", "0 painted on", "<b>x", "х", "0 level up"]
)
def test_no_trap_in_a_tick_is_a_fault(desk, shop, tick):
    key = key_of(desk.get(at("pour_plan", plan(shop))))
    answer = desk.post(at("pour_ready", plan(shop)), {"tick": tick, "submission": key})
    assert answer.status_code in (303, 404, 422) and not MouldReady.objects.exists()


def test_a_screw_is_said_in_words_and_stays_with_the_casting(desk, shop):
    page = send(desk, at("pour_held", plan(shop, place=0)), {"screw_words": "in the foot, 20 mm deep"})
    assert "Screw: in the foot, 20 mm deep" in text(page)
    send(desk, at("pour_book", plan(shop)), {"poured_a": "220", "poured_b": "220"})
    assert PourFill.objects.get().screw_words == "in the foot, 20 mm deep"


def test_a_seal_coat_is_drawn_and_its_window_is_asked_about_at_the_mix(desk, shop):
    data = {"of": f"r{shop.resin.pk}", "mass": "12", "from_s": "1", "until": "4"}
    page = text(send(desk, at("pour_coat", plan(shop, place=0)), data))
    assert "12 g of seal coat on the wood in Long box" in page and "Seal coat: 12 g of Slow clear, not before" in page
    shop.a_batch.account.refresh_from_db()
    assert shop.a_batch.account.amount == 4 * KILO - 6 * GRAM
    assert "Long box: the seal coat wants until" in text(desk.get(at("pour_mix", plan(shop))))


def test_no_trap_in_a_coat_or_a_screw_is_a_fault(desk, shop):
    good = {"of": f"r{shop.resin.pk}", "mass": "1"}
    every_trap(desk, at("pour_coat", plan(shop, place=0)), good, ("of", "mass", "from_s", "until", "at"))
    every_trap(desk, at("pour_held", plan(shop, place=0)), {}, ("screw_words",))
    for trap in ("", "7", "-1", "x", "½"):
        assert desk.get(at("pour_coat", plan(shop, place=trap))).status_code in (200, 404), trap


def test_a_coat_the_stores_can_not_cover_asks_what_is_there(desk, shop):
    page = send(desk, at("pour_coat", plan(shop, place=0)), {"of": f"r{shop.resin.pk}", "mass": "9500"})
    assert page.status_code == 422 and "is really there?" in text(page) and not MouldReady.objects.exists()


# swirls


@pytest.fixture
def red(shop: SimpleNamespace) -> object:
    material = stores.add_material(name="Brick red", kind="colorant", by=shop.owner, at=shop.began)
    stores.buy(material=material, amount=20 * GRAM, paid_micro=7 * MONEY, by=shop.owner, at=shop.began)
    return material


def swirled(shop: SimpleNamespace, red: object, **more: object) -> dict[str, object]:
    cup = {"cups": 1, "takes_0": "25", "colour_0_0": red.pk, "strength_0_0": "2"}
    return plan(shop, warmth="25 °C", **{**cup, **more})


def test_a_swirl_cup_is_planned_mixed_in_its_window_and_booked(desk, shop, red):
    stores.change_resin_system(
        system=shop.resin, at=shop.began, work_time_at_mdegc=25_000, work_time_mass_mg=500 * GRAM
    )
    query = swirled(shop, red)
    page = text(desk.get(at("pour_plan", query)))
    assert "Swirl cup 1: 110 g of the mix, 2.2 g of Brick red stirred in." in page
    assert "They go in not before 10 min and not after 20 min from when A meets B." in page
    walk = {**query, "step": "book", "a": 220 * GRAM, "shown_b": "440", "t0": "2026-05-04T10:00:00+00:00"}
    cups = desk.get(at("pour_mix", walk), follow=True)
    assert "not before 10:10 and not after 10:20" in text(cups)
    url = at("pour_book", query)
    answer = send(desk, url, {"poured_a": "220", "poured_b": "220", "taken_0": "110", "taken_0_0": "2.3"})
    assert answer.status_code == 200 and PourSwirl.objects.get().taken_mg == 110 * GRAM
    assert Pour.objects.get().colorants.get().mass_mg == 2_300


def test_a_cup_that_was_never_taken_is_left_out(desk, shop, red):
    send(desk, at("pour_book", swirled(shop, red)), {
        "poured_a": "220", "poured_b": "220", "taken_0": "0", "taken_0_0": "0",
    })  # fmt: skip
    assert Pour.objects.exists() and not PourSwirl.objects.exists()


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"strength_0_0": "9"}, "the data sheet's most is 3 %"),
        ({"strength_0_0": ""}, "Say how much of it"),
        ({"colour_0_0": ""}, "Choose the colour of this cup"),
        ({"takes_0": "0"}, "takes_0"),
        ({"takes_0": "0.1", "strength_0_0": "0.1"}, "too small for your scales"),
    ],
)
def test_a_swirl_that_can_not_be_says_what_to_do(desk, shop, red, more, says):
    page = desk.get(at("pour_plan", swirled(shop, red, **more)))
    assert says in text(page) or says in page.content.decode()
    assert "To the scale" not in text(page)


def test_a_cup_into_a_mould_nothing_is_poured_into_is_asked_about(desk, shop, red):
    query = swirled(shop, red, rows=2, mould_1="none", into_0="1")
    assert "Nothing is poured into that mould" in text(desk.get(at("pour_plan", query)))


def test_another_cup_can_be_asked_for_and_what_was_chosen_stays(desk, shop, red):
    page = desk.get(at("pour_plan", {**swirled(shop, red), "swirl": 1}))
    assert "Swirl cup 2" in text(page) and 'value="25"' in page.content.decode()
