"""What lies on the bench: the list, and a workpiece's own page."""

import re
from types import SimpleNamespace

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from studio.people import operations as people
from studio.pieces.finishing import become_piece
from studio.pieces.models import Piece
from studio.work import operations as work
from studio.work.models import Weighing
from tests.web.shop import GRAM, HOUR, a_shop, an_owner, of_role, send, signed_in, text


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    return a_shop()


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


@pytest.fixture
def guest(shop: SimpleNamespace) -> Client:
    return signed_in(of_role(shop.owner, "visitor"))


def page_of(piece) -> str:
    return reverse("workpiece", args=[piece.pk])


def numbers(response) -> list[str]:
    cell = r'<td role="cell"[^>]*data-label="Number"[^>]*>.*?</span>([^<]+)</a>'
    return re.findall(cell, response.content.decode())


def test_an_empty_bench_says_what_to_do_first(db):
    assert "Take in wood" in text(signed_in(an_owner()).get(reverse("bench")))


def test_the_bench_is_listed_in_the_order_of_the_numbers(desk, shop):
    assert numbers(desk.get(reverse("bench"))) == ["41/1", "41/2", "41/3"]


@pytest.mark.parametrize(
    ("query", "shown"),
    [
        ("?q=41/2", ["41/2"]),
        ("?q=FIELD", ["41/1", "41/2", "41/3"]),
        ("?q=beech", []),
        ("?step=dry", ["41/1"]),
        ("?step=clean", ["41/2", "41/3"]),
        ("?step=none", []),
        ("?stage=casting", []),
        ("?closed=cut", ["41"]),
        ("?sort=-number", ["41/3", "41/2", "41/1"]),
    ],
)
def test_each_filter_and_sort_has_an_address(desk, shop, query, shown):
    work.end_step(workpiece=shop.blanks[0], code="clean", at=timezone.now(), person=shop.owner)
    assert numbers(desk.get(reverse("bench") + query)) == shown

def test_what_is_finished_has_left_the_bench_and_is_found_by_its_number(desk, shop):
    piece = become_piece(workpiece=shop.blanks[1], at=timezone.now(), by=shop.owner)
    assert numbers(desk.get(reverse("bench"))) == ["41/1", "41/2", "41/3"]
    ticks = ("measured_at", "signed_at", "photographed_at", "rested_at", "finished_at")
    known = {"signed_number": "7", "signed_on": timezone.now().date(), "mass_mg": 168_000}
    Piece.objects.filter(pk=piece.pk).update(**known, **dict.fromkeys(ticks, timezone.now()))
    assert numbers(desk.get(reverse("bench"))) == ["41/1", "41/3"]
    assert numbers(desk.get(reverse("bench") + "?closed=finished")) == ["41/2"]
    assert numbers(desk.get(reverse("bench") + "?q=41/2")) == ["41/2"]


@pytest.mark.parametrize(
    "query",
    [
        "?page=x", "?page=999", "?sort=account__value_micro", "?sort=;drop", "?species=x", "?species=99999999999999",
        "?step=%00", "?q=" + "x" * 500, "?q=%00", "?q=%25_'", "?closed=never", "?q=Жук+木",
    ],
)  # fmt: skip
def test_a_strange_address_is_still_a_list(desk, shop, query):
    assert desk.get(reverse("bench") + query).status_code == 200


def test_a_visitor_sees_what_there_is_and_no_cost(guest, desk, shop):
    assert "30.00" in text(desk.get(reverse("bench")))
    for url in (reverse("bench"), reverse("bench") + "?sort=-cost", page_of(shop.blanks[0])):
        with CaptureQueriesContext(connection) as caught:
            page = guest.get(url)
        said = text(page)
        assert "41/1" in said and "30.00" not in said and "All in" not in said
        assert not any("value_micro" in query["sql"] for query in caught)


def test_the_page_shows_the_route_with_what_was_booked_and_why_a_step_was_left_out(desk, shop):
    piece = shop.blanks[0]
    work.add_hours(
        person=shop.owner, workpieces=[piece], code="clean", seconds=2400, at=timezone.now() - HOUR, by=shop.owner
    )
    work.end_step(workpiece=piece, code="clean", at=timezone.now() - HOUR, person=shop.owner)
    work.leave_out_step(workpiece=piece, code="dry", why="air-dry for years")
    said = text(desk.get(page_of(piece)))
    assert "Clean done 40 min Dry left out air-dry for years Stabilize now" in said


def test_what_it_cost_opens_to_its_entries_and_adds_up(desk, shop):
    piece = shop.blanks[0]
    work.add_hours(
        person=shop.owner, workpieces=[piece], code="clean", seconds=3600, at=timezone.now() - HOUR, by=shop.owner
    )
    said = text(desk.get(page_of(piece)))
    assert re.search(r"Wood Cut ?, .* 30\.00 30\.00", said), said
    assert re.search(r"Own hours Hours at the bench ?, .* 30\.00", said)
    assert "So far 30.00 72.00" in said
    assert "Not known yet: clean, dry" in said and "When finished" not in said


def test_what_is_still_to_come_is_added_where_it_is_known(desk, shop):
    usual = {"clean": 60, "dry": 10, "stabilize": 20, "cast": 30, "turn": 240, "finish": 60}
    for code, minutes in usual.items():
        work.set_usual_minutes(person=shop.owner, code=code, seconds=minutes * 60)
    said = text(desk.get(page_of(shop.blanks[0])))
    assert "Still to come, about 7 h 0.00 294.00 When finished 30.00 324.00" in said


def test_weighings_are_a_curve_a_table_and_a_sentence(desk, shop):
    piece, now = shop.blanks[0], timezone.now()
    for hours, grams in ((40, 2800), (30, 2500), (20, 2350), (10, 2280)):
        work.weigh(
            workpiece=piece, mass_mg=grams * GRAM, condition="oven", at=now - hours * HOUR, by=shop.owner, now=now
        )
    page = desk.get(page_of(piece))
    said = text(page)
    assert "2280 g in the oven" in said and "Still losing 0.3 % an hour." in said
    assert "moisture left" in said and "<svg" in page.content.decode()
    assert "2800 g" in said


def test_where_it_came_from_and_what_came_of_it_are_tags(desk, shop):
    (half,) = work.cut(
        parent=shop.blanks[0], blanks=[work.BlankSpec(weight=1)], kept_weight=1, at=timezone.now(), by=shop.owner
    )
    said = text(desk.get(page_of(shop.blanks[0])))
    assert "cut from 41" in said and f"What came of it {half.number} 50 % of the cost" in said


def test_a_lump_that_is_cut_up_says_so_and_offers_nothing_more(desk, shop):
    page = desk.get(reverse("workpiece", args=[shop.blanks[0].parent_links.first().parent_id]))
    assert "no longer on the bench: cut up" in text(page) and "It broke" not in text(page)


def test_only_one_thing_on_the_page_is_blue(desk, shop):
    assert desk.get(page_of(shop.blanks[0])).content.decode().count('class="do"') == 1


def test_the_next_thing_follows_the_work(desk, shop):
    piece = shop.blanks[0]

    def blue() -> str:
        html = desk.get(page_of(piece)).content.decode()
        return re.search(r'class="do"[^>]*>([^<]+)<', html)[1]

    assert blue() == "Start the clock"
    run = work.start_clock(person=shop.owner, workpieces=[piece], code="clean", at=timezone.now() - HOUR)
    assert blue() == "Stop the clock"
    work.stop_clock(run=run, at=timezone.now(), seconds=60, by=shop.owner)
    work.end_step(workpiece=piece, code="clean", at=timezone.now(), person=shop.owner)
    assert blue() == "Fill the oven"
    work.load_up(machine=shop.oven, workpieces=[piece], purpose="dry", at=timezone.now(), by=shop.owner)
    assert blue() == "See the load"


def test_a_clients_name_is_not_for_visitors(desk, guest, shop):
    client = people.add_client(by=shop.owner, at=timezone.now(), name="Ada Fell")
    lump = work.take_in_clients_wood(owner=client, at=timezone.now(), by=shop.owner)
    work.hold(workpiece=lump, reason="bowl for Ada Fell", ref="x")
    assert text(desk.get(page_of(lump))).count("Ada Fell") == 2
    said = text(guest.get(page_of(lump)))
    assert "Ada Fell" not in said and "The client’s own wood" in said and "Held for somebody" in said


def test_a_visitor_may_not_carry_anything_out(guest, shop):
    for name in ("workpiece_weigh", "workpiece_broke", "workpiece_cut", "clock_start", "workpiece_describe"):
        url = reverse(name, args=[shop.blanks[0].pk])
        assert (guest.get(url).status_code, guest.post(url, {}).status_code) == (403, 403)


@pytest.mark.parametrize("key", [0, 999_999, 2**63, 10**30])
def test_what_is_not_there_is_not_found(desk, shop, key):
    for address in ("bench/{}/", "bench/{}/weigh/", "bench/loss/{}/", "bench/clock/{}/stop/", "wood/purchase/{}/"):
        assert desk.get("/" + address.format(key)).status_code == 404


def test_markup_in_a_title_is_text(desk, shop):
    work.describe(workpiece=shop.blanks[0], title="<b>x</b> O'Brien 木の器")
    for url in (page_of(shop.blanks[0]), reverse("bench")):
        html = desk.get(url).content.decode()
        assert "<b>x</b>" not in html and "&lt;b&gt;x&lt;/b&gt;" in html and "木の器" in html


def test_a_wrong_weighing_is_struck_through_and_counts_no_more(desk, shop):
    piece = shop.blanks[0]
    now = timezone.now()
    row = work.weigh(
        workpiece=piece, mass_mg=2500 * GRAM, condition="wet", at=now - HOUR, by=shop.owner, now=now
    )
    send(desk, reverse("weighing_strike", args=[row.pk]), {})
    page = desk.get(page_of(piece))
    assert "<s>2500" in page.content.decode() and "3000 g as it came" in text(page)


def test_of_many_weights_the_newest_stand_first_and_the_rest_are_turned_to(desk, shop):
    piece = shop.blanks[0]
    Weighing.objects.bulk_create(
        Weighing(workpiece=piece, mass_mg=(2000 - n) * GRAM, condition="oven", at=shop.began + n * HOUR / 2)
        for n in range(30)
    )
    first = desk.get(page_of(piece)).content.decode()
    turned = desk.get(page_of(piece) + "?weighings=2").content.decode()
    for page, rows in ((first, 25), (turned, 5 + piece.weighings.count() - 30)):
        assert page.count("/strike-out/") == rows
    assert 'href="?weighings=2"' in first and "<details open>" in turned and "<details open>" not in first


def test_what_waits_for_a_piece_stands_on_its_page_in_the_words_of_the_round(desk, guest, shop):
    piece, at = shop.blanks[0], timezone.now() - 5 * HOUR
    assert "What waits" not in text(desk.get(page_of(piece)))
    work.load_up(machine=shop.oven, workpieces=shop.blanks[:2], purpose="dry", at=at, by=shop.owner)
    for client in (desk, guest):
        assert "What waits Weigh, Field ash, weighed once so far since" in text(client.get(page_of(piece)))
    assert "Weigh 41/1" not in text(desk.get(page_of(shop.blanks[2])))
    assert "What waits" not in text(desk.get(page_of(shop.blanks[2])))
