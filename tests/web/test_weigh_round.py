"""The weigh-in round: what it holds, and what it takes from a device."""

import json
import re
from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from studio.craft import moisture
from studio.equipment import operations as equipment
from studio.equipment.models import LoadPlace
from studio.fields.models import Submission
from studio.people import operations as people
from studio.work import operations as work
from studio.work.models import Workpiece
from tests.web.shop import DAY, GRAM, HOUR, KILO, a_shop, of_role, send, signed_in, text

KEY = "a-key-made-on-a-phone"
URL = "/weigh/"


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    """Three blanks, the first two in the oven since yesterday."""
    there = a_shop()
    there.now = timezone.now()
    there.load = work.load_up(
        machine=there.oven, workpieces=there.blanks[:2], purpose="dry", at=there.now - DAY, by=there.owner
    )
    return there


@pytest.fixture
def hand(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


def said(**changes) -> dict:
    usual = {"key": KEY, "number": "41/1", "grams": "880", "at": timezone.now().isoformat(), "sure": True}
    return {**usual, **changes}


def post(client: Client, body: object, **more):
    return client.post(URL, json.dumps(body), content_type="application/json", **more)


def weighed(piece: Workpiece) -> list[int]:
    rows = piece.weighings.filter(condition="oven").order_by("at", "pk")
    return [row.mass_mg // GRAM for row in rows]


def data_of(client: Client) -> dict:
    found = re.search(r'<script id="round-data" type="application/json">(.*?)</script>', _html(client), re.S)
    assert found
    return json.loads(found[1])


def _html(client: Client) -> str:
    return client.get(URL).content.decode()


# --- what it holds


def test_what_lies_in_an_oven_comes_with_its_last_weight_and_what_that_says(shop, hand):
    for hours, grams in ((20, 900), (10, 880), (2, 880)):
        at = shop.now - hours * HOUR
        work.weigh(workpiece=shop.blanks[0], mass_mg=grams * GRAM, at=at, condition="oven", now=shop.now, sure=True)
    first, second = data_of(hand)["rows"]
    assert (first["number"], first["last_mg"], first["words"]) == ("41/1", 880 * GRAM, "steady 2 of 3")
    assert first["where"] == shop.oven.name and first["condition"] == "oven" and not first["fresh"]
    assert second["number"] == "41/2"


def test_a_gain_and_a_loss_are_told_apart(shop, hand):
    for hours, one, two in ((10, 900, 900), (5, 880, 860), (2, 870, 881)):
        at = shop.now - hours * HOUR
        for piece, grams in zip(shop.blanks, (one, two), strict=False):
            work.weigh(workpiece=piece, mass_mg=grams * GRAM, at=at, condition="oven", now=shop.now, sure=True)
    assert [row["words"] for row in data_of(hand)["rows"]] == ["still losing", "gained!"]


def test_a_wet_neighbour_begins_the_counting_anew_in_the_round_too(shop, hand):
    for hours, grams in ((20, 900), (10, 880), (8, 880)):
        at = shop.now - hours * HOUR
        work.weigh(workpiece=shop.blanks[0], mass_mg=grams * GRAM, at=at, condition="oven", now=shop.now, sure=True)
    load = LoadPlace.objects.inside().get(account=shop.blanks[0].account_id).load
    work.load_up(
        machine=load.machine, workpieces=[shop.blanks[2]], purpose="dry", at=shop.now - 5 * HOUR, by=shop.owner,
        confirm=True,
    )  # fmt: skip
    assert data_of(hand)["rows"][0]["words"] == "something wet went in beside it"
    for hours in (2, 0):
        at = shop.now - hours * HOUR
        work.weigh(workpiece=shop.blanks[0], mass_mg=880 * GRAM, at=at, condition="oven", now=shop.now, sure=True)
    assert data_of(hand)["rows"][0]["words"] == "steady 2 of 3"


def test_what_seasons_is_in_it_once_a_month_has_gone_by(shop, hand):
    third = shop.blanks[2]
    Workpiece.objects.filter(pk=third.pk).update(made_at=shop.now - 90 * DAY)
    work.begin_step(workpiece=third, code="season", at=shop.began, person=shop.owner)
    third.weighings.all().delete()
    work.weigh(workpiece=third, mass_mg=KILO, at=shop.now - 10 * DAY, condition="season", now=shop.now)
    assert "41/3" not in [row["number"] for row in data_of(hand)["rows"]]
    third.weighings.update(at=shop.now - 30 * DAY)
    assert data_of(hand)["rows"][-1]["number"] == "41/3"


def test_without_a_script_it_is_a_list_of_links_to_the_scale(shop, hand):
    html = _html(hand)
    assert re.findall(r'href="(/bench/\d+/weigh/)"', html) == [
        reverse("workpiece_weigh", args=[piece.pk]) for piece in shop.blanks[:2]
    ]


def test_one_more_is_found_by_its_number(shop, hand):
    found = hand.get(URL + "?find=41/3").json()
    assert (found["number"], found["pk"]) == ("41/3", shop.blanks[2].pk)
    assert "Nothing carries the number 99" in hand.get(URL + "?find=99").json()["refused"]
    assert "cut" in hand.get(URL + "?find=41").json()["refused"]
    assert hand.get(URL + "?find=").status_code == 404


def test_the_page_asks_as_often_for_few_as_for_many(shop, hand):
    def asked() -> int:
        with CaptureQueriesContext(connection) as caught:
            hand.get(URL)
        return len(caught)

    few = asked()
    work.load_up(machine=shop.oven, workpieces=shop.blanks[2:], purpose="dry", at=shop.now, by=shop.owner)
    for number in range(20):
        at = shop.now - (number + 1) * timedelta(minutes=5)
        work.weigh(workpiece=shop.blanks[0], mass_mg=KILO, at=at, condition="oven", now=shop.now, sure=True)
    assert asked() == few


# --- what it takes


def test_a_weighing_is_stored_once_with_the_devices_time_and_its_load(shop, hand):
    at = shop.now - HOUR
    answer = post(hand, said(at=at.isoformat()))
    assert answer.status_code == 200 and answer.json()["mass_mg"] == 880 * GRAM
    row = shop.blanks[0].weighings.get(condition="oven")
    assert (row.at, row.load, row.by) == (at, shop.load, shop.owner)
    assert post(hand, said(at=at.isoformat())).json() == answer.json()
    assert weighed(shop.blanks[0]) == [880]


def test_without_its_key_the_same_weighing_would_count_twice(shop, hand):
    at = (shop.now - HOUR).isoformat()
    for key in ("one-key-of-two", "another-key-of-two"):
        assert post(hand, said(at=at, key=key)).status_code == 200
    assert weighed(shop.blanks[0]) == [880, 880]


def test_one_key_never_stands_for_two_weighings(shop, hand):
    at = (shop.now - HOUR).isoformat()
    post(hand, said(at=at))
    answer = post(hand, said(at=at, grams="870"))
    assert answer.status_code == 409 and answer.json()["code"] == "other"
    assert weighed(shop.blanks[0]) == [880]


@pytest.mark.parametrize(
    "grams",
    ["0", "-5", "1,5", "12 g", "", "<b>x", "O'Brien", "x" * 200, "漢字", "1e5", "½", "99999999", "nan", 880, None],
)
def test_what_is_no_weight_is_refused_in_a_sentence(shop, hand, grams):
    answer = post(hand, said(grams=grams))
    assert answer.status_code == 422 and answer.json()["refused"].endswith(".")
    assert weighed(shop.blanks[0]) == []


@pytest.mark.parametrize(
    "change",
    [
        {"number": ""}, {"number": "x" * 41}, {"number": "41\u0000/1"}, {"number": "\ud800"}, {"number": 7},
        {"key": ""}, {"key": "k" * 65}, {"key": "one two"}, {"condition": "soggy"}, {"at": ""}, {"at": "noon"},
        {"at": "2025-03-10T09:30"}, {"at": "0001-01-01T00:00:00+14:00"}, {"at": "9999-12-31T23:59:59-14:00"},
    ],
)  # fmt: skip
def test_what_can_not_be_meant_is_refused_in_a_sentence(shop, hand, change):
    answer = post(hand, said(**change))
    assert answer.status_code == 422 and answer.json()["refused"].endswith(".")
    assert weighed(shop.blanks[0]) == [] and not Submission.objects.exists()


@pytest.mark.parametrize(
    "body", [b"", b"no json", b"[]", b"[" * 3000, b"\xff\xfe", b'{"grams": "' + b"1" * 9000 + b'"}']
)
def test_what_is_no_weighing_at_all_is_refused(shop, hand, body):
    answer = hand.post(URL, body, content_type="application/json")
    assert answer.status_code == 422 and "no weighing" in answer.json()["refused"]


def test_a_moment_ahead_is_refused_and_a_second_ahead_is_now(shop, hand):
    later = post(hand, said(at=(timezone.now() + HOUR).isoformat()))
    assert later.status_code == 422 and "still to come" in later.json()["refused"]
    soon = (timezone.now() + timedelta(seconds=20)).isoformat()
    assert post(hand, said(at=soon)).status_code == 200
    assert shop.blanks[0].weighings.latest("at").at <= timezone.now()
    assert post(hand, said(at=soon)).status_code == 200 and weighed(shop.blanks[0]) == [880]


def test_a_moment_before_it_was_there_or_long_ago_is_refused(shop, hand):
    for days in (30, 61):
        assert post(hand, said(at=(shop.now - days * DAY).isoformat())).status_code == 422
    assert weighed(shop.blanks[0]) == []


def test_nothing_carries_that_number_or_it_left_the_bench(shop, hand):
    unknown, cut = (post(hand, said(number=number)).json() for number in ("99/1", "41"))
    assert unknown["code"] == cut["code"] == "number"
    assert "Nothing carries" in unknown["refused"] and "no longer on the bench" in cut["refused"]


def test_ten_times_off_and_heavier_are_asked_about_and_one_tap_answers(shop, hand):
    work.weigh(workpiece=shop.blanks[0], mass_mg=KILO, at=shop.now - HOUR, condition="oven", now=shop.now, sure=True)
    for grams in ("10000", "100", "1040"):
        answer = post(hand, said(grams=grams, sure=False))
        assert (answer.status_code, answer.json()["code"]) == (422, "sure")
    assert post(hand, said(grams="1040", sure=True)).json()["words"] == "gained!"
    assert weighed(shop.blanks[0]) == [1000, 1040]


def test_sent_late_it_belongs_to_the_load_it_lay_in_then(shop, hand):
    work.unload(load=shop.load, at=shop.now - HOUR, by=shop.owner)
    post(hand, said(at=(shop.now - 2 * HOUR).isoformat()))
    late = shop.blanks[0].weighings.get(mass_mg=880 * GRAM)
    assert (late.load, late.condition) == (shop.load, "oven")


def test_how_it_is_may_be_said_otherwise(shop, hand):
    post(hand, said(condition="oven_dry"))
    assert shop.blanks[0].weighings.latest("pk").condition == "oven_dry"


def test_figures_keep_their_thousandths(shop, hand):
    people.set_setting(key="scale_step_mg", value=100, by=shop.owner, at=shop.now)
    assert post(hand, said(grams="880.4")).json()["mass_mg"] == 880_400
    assert shop.blanks[0].weighings.latest("pk").step_mg == 100


def test_who_may_not_weigh_is_told_so_and_who_is_signed_out_is_sent_to_sign_in(shop):
    guest = signed_in(of_role(shop.owner, "visitor"))
    answer = post(guest, said())
    assert answer.status_code == 403 and answer.json()["code"] == "not_allowed"
    assert guest.get(URL).status_code == 403
    assert post(Client(), said()).status_code == 302
    assert weighed(shop.blanks[0]) == []


def test_a_page_of_elsewhere_can_not_weigh(shop):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(shop.owner, backend="django.contrib.auth.backends.ModelBackend")
    assert post(strict, said()).status_code == 403
    token = re.search(r'"X-CSRFToken": "(\w+)"', strict.get(URL).content.decode().replace("&quot;", '"'))
    assert token and post(strict, said(), headers={"X-CSRFToken": token[1]}).status_code == 200


def test_posting_fits_no_curve_and_asks_little(shop, hand, monkeypatch):
    def fits(*args, **how):
        raise AssertionError("a curve was fitted")

    monkeypatch.setattr(moisture, "fit_drying", fits)
    with CaptureQueriesContext(connection) as caught:
        assert post(hand, said()).status_code == 200
    assert len(caught) <= 22, [one["sql"] for one in caught]


# --- the ways to it


def test_the_round_and_the_bench_lead_to_it(shop, hand):
    one_line = hand.get("/")
    assert text(one_line).count("Weigh ") == 2, "one line with both tags, and its button"
    assert re.search(r"Weigh (workpiece )?41/1 (workpiece )?41/2 Field ash, weighed once", text(one_line))
    assert f'href="{URL}">Weigh them all' in one_line.content.decode()
    apart = hand.get("/?at=oven")
    assert "Two wait for the scale" in text(apart) and f'href="{URL}">Weigh them all' in apart.content.decode()
    for piece in shop.blanks[:2]:
        assert reverse("workpiece_weigh", args=[piece.pk]) in apart.content.decode()
    assert f'href="{URL}"' in hand.get(reverse("bench")).content.decode()
    guest = signed_in(of_role(shop.owner, "visitor"))
    assert f'href="{URL}"' not in (guest.get("/").content + guest.get(reverse("bench")).content).decode()


def test_one_that_waits_alone_is_just_weighed(shop, hand):
    work.weigh(workpiece=shop.blanks[0], mass_mg=KILO, at=shop.now, condition="oven", now=shop.now, sure=True)
    place = shop.load.places.get(account=shop.blanks[1].account)
    equipment.take_out(place=place, at=shop.now, by=shop.owner)
    assert "Weigh them all" not in text(hand.get("/"))


def test_after_one_is_weighed_on_its_own_page_the_next_is_one_tap_away(shop, hand):
    first, second = (reverse("workpiece_weigh", args=[piece.pk]) for piece in shop.blanks[:2])
    shows = {"mass": "880", "condition": "oven", "sure": "on"}
    page = send(hand, first, shows)
    assert f'href="{second}">Next: 41/2' in page.content.decode()
    assert "Next:" not in text(send(hand, second, shows))
