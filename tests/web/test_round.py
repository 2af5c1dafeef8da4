"""The round: what waits, where one walks, and one button each."""

import re
from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.craft.waits import Wait
from studio.equipment import operations as equipment
from studio.people.models import User
from studio.stores import operations as stores
from studio.web.screens import round_lines
from studio.work import operations as work
from studio.work import queries
from studio.work.models import ClockRun
from studio.work.queries import bench_wait
from tests.web.shop import DAY, GRAM, HOUR, KILO, a_shop, an_owner, dried, key_of, of_role, signed_in, text


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    return a_shop()


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


@pytest.fixture
def guest(shop: SimpleNamespace) -> Client:
    return signed_in(of_role(shop.owner, "visitor"))


def here(client):
    return client.get(reverse("round"))


def many(shop, count: int) -> None:
    """More lumps, each cut in two, one of each two lost."""
    for n in range(count):
        lump = work.take_in_lump(number=str(100 + n), mass_mg=2 * KILO, at=shop.began, by=shop.owner)
        one, _ = work.cut(
            parent=lump, blanks=[work.BlankSpec(weight=1), work.BlankSpec(weight=1)], at=shop.began, by=shop.owner
        )
        work.it_broke(workpiece=one, cause="catch", at=shop.began + HOUR, by=shop.owner)


def test_an_empty_studio_says_what_to_do_first(db):
    page = here(signed_in(an_owner()))
    assert page.status_code == 200
    assert "An empty shop" in text(page) and reverse("wood_take_in") in page.content.decode()


def test_a_visitor_to_an_empty_studio_is_not_asked_to_buy_wood(db):
    guest = signed_in(of_role(an_owner(), "visitor"))
    assert reverse("wood_take_in") not in here(guest).content.decode()


def test_what_can_begin_stands_where_one_walks_with_its_tags(desk, shop):
    said = text(here(desk))
    assert re.search(r"Lathe Clean (workpiece )?41/1 (workpiece )?41/2 (workpiece )?41/3", said)


def test_more_than_six_of_a_kind_are_one_line_with_a_real_link_to_the_rest(desk, shop):
    many(shop, 5)
    page = here(desk)
    assert "and two more" in text(page)
    assert f'href="{reverse("bench")}?step=clean"' in page.content.decode()


def test_dry_wood_in_the_oven_is_called_out_before_it_is_weighed_again(desk, shop):
    now = timezone.now()
    work.load_up(machine=shop.oven, workpieces=shop.blanks[:2], purpose="dry", at=now - 10 * HOUR, by=shop.owner)
    for hours, grams in ((9, 2000), (6, 1900), (3, 1900), (1, 1900)):
        at = now - hours * HOUR
        work.weigh(
            workpiece=shop.blanks[0], mass_mg=grams * GRAM, condition="oven", at=at, by=shop.owner, now=now
        )
    said = text(here(desk))
    assert re.search(r"Take out (workpiece )?41/1 dry by its weights, in The brick oven", said)
    assert re.search(r"Weigh (workpiece )?41/2 Field ash, weighed once so far", said)
    assert "look into" not in said.casefold()


def test_one_tap_starts_the_clock_and_the_running_clock_stands_on_top(desk, shop):
    work.it_broke(workpiece=shop.blanks[1], cause="void", at=timezone.now() - HOUR, by=shop.owner)
    work.it_broke(workpiece=shop.blanks[2], cause="void", at=timezone.now() - HOUR, by=shop.owner)
    page = here(desk)
    start = reverse("clock_start", args=[shop.blanks[0].pk])
    assert f'action="{start}"' in page.content.decode()
    answer = desk.post(start, {"code": "clean", "submission": key_of(page)})
    assert answer.status_code == 303 and ClockRun.objects.filter(stopped_at=None).count() == 1
    said = text(here(desk))
    assert said.index("Your clock Clean") < said.index("Desk") and "Stop the clock" in said


def test_a_clock_left_over_night_asks_how_long_it_was(desk, shop):
    work.start_clock(person=shop.owner, workpieces=[shop.blanks[0]], code="clean", at=timezone.now() - 2 * DAY)
    assert "It ran through the night" in text(here(desk)) and "How long was it?" in text(here(desk))


def test_a_loss_waits_at_the_desk_until_it_is_seen_to(desk, shop):
    loss = work.it_broke(workpiece=shop.blanks[0], cause="catch", at=timezone.now() - HOUR, by=shop.owner)
    assert re.search(r"Look after (workpiece )?41/1 catch or blow-out", text(here(desk)))
    work.look_after_loss(loss=loss)
    assert "Look after" not in text(here(desk))


def test_a_pour_may_not_come_out_before_its_time(desk, shop):
    dried(shop, shop.blanks[0], 2000 * GRAM)
    work.leave_out_step(workpiece=shop.blanks[0], code="stabilize", why="dense")
    work.pour(
        wood_sure=True,
        system=shop.resin, fills=[work.Fill(planned_mg=400 * GRAM, blanks=[shop.blanks[0]])],
        planned_a_mg=200 * GRAM, planned_b_mg=200 * GRAM, poured_a_mg=200 * GRAM, poured_b_mg=200 * GRAM,
        at=timezone.now() - HOUR, by=shop.owner,
    )  # fmt: skip
    said = text(here(desk))
    assert re.search(r"Mixing bench Take out of the mould (workpiece )?41/1 Slow clear not before", said)


def test_a_step_that_must_wait_for_a_coat_to_dry_says_not_before(desk, shop):
    later = timezone.now() + 5 * HOUR
    work.end_step(workpiece=shop.blanks[0], code="clean", at=timezone.now() - HOUR, not_before=later)
    waits = [wait for wait in queries.waits(timezone.now()) if wait.kind == "not before"]
    assert [(wait.code, wait.at, [tag.number for tag in wait.tags]) for wait in waits] == [("dry", later, ["41/1"])]
    assert not waits[0].begins(timezone.now()) and waits[0].begins(later + timedelta(seconds=1))


def test_what_lies_in_a_machine_or_has_a_clock_on_it_is_not_offered_again(desk, shop):
    now = timezone.now()
    work.load_up(machine=shop.oven, workpieces=[shop.blanks[0]], purpose="dry", at=now - HOUR, by=shop.owner)
    work.start_clock(person=shop.owner, workpieces=[shop.blanks[1]], code="clean", at=now - HOUR)
    begin = [wait for wait in queries.waits(now) if wait.code]
    assert [[tag.number for tag in wait.tags] for wait in begin] == [["41/3"]]


def test_what_the_stores_run_out_of_is_at_the_desk(desk, shop):
    stores.change_material(material=shop.oil, reorder_level=600 * GRAM, at=timezone.now(), by=shop.owner)
    assert "Order Hard oil, 500 g left" in text(here(desk))


def test_the_round_is_no_longer_than_a_page_and_the_rest_has_an_address(desk, shop):
    many(shop, 40)
    page = here(desk)
    lines = page.content.decode().count('<span class="what">')
    assert lines <= round_lines.MOST_LINES and "more here" in text(page)
    rest = desk.get(reverse("round") + "?at=desk")
    assert rest.content.decode().count('<span class="what">') >= 40
    assert "Lathe" not in text(rest)


def test_never_more_than_two_lines_are_blue(desk, shop):
    many(shop, 10)
    assert here(desk).content.decode().count('class="do"') <= 2


def test_places_share_the_page_so_that_none_is_pushed_off_it():
    asked = {"oven": 40, "lathe": 3, "desk": 200}
    room = round_lines._room(asked)
    assert room["lathe"] == 3 and room["desk"] >= 2 and sum(room.values()) == round_lines.MOST_LINES


def test_many_papers_are_one_line(db):
    now = timezone.now()
    waits = [
        Wait("desk", "fill in", f"wood {n}", "since", now, "still open", about=("wood.purchase", n)) for n in range(5)
    ]
    (place,) = round_lines.places(waits, now, User(role="owner", is_active=True))
    assert [line.subject for line in place.lines] == ["five purchases of wood"]


def test_a_visitor_reads_the_round_without_buttons_that_do_something(guest, shop):
    page = here(guest)
    assert "Clean" in text(page) and "<form" not in page.content.decode().split("<main")[1]
    assert reverse("workpiece_weigh", args=[shop.blanks[0].pk]) not in page.content.decode()


@pytest.mark.parametrize("query", ["?at=nowhere", "?at=desk", "?at=%00", "?at=" + "x" * 500])
def test_a_strange_address_is_still_the_round(desk, shop, query):
    assert desk.get(reverse("round") + query).status_code == 200


def test_what_ends_by_an_eye_says_until_what_and_since_when(shop):
    now = timezone.now()
    wait = Wait("vacuum chamber", "watch", "41/3", "until", now - HOUR, "", ("work.weigh", 1), until="bubbles stop")
    line = round_lines.line(wait, now, shop.owner)
    said = render_to_string("round/line.html", {"line": line})
    assert "until bubbles stop" in said and "since" in said


def test_a_machine_is_told_of_once_where_the_bench_says_more_but_keeps_its_own_clock():
    now = timezone.now()
    look = Wait("vacuum chamber", "look into", "Chamber", "since", now, "4 inside", about=("equipment.load", 7))
    opens = Wait("oven", "open", "Oven", "not before", now + HOUR, "4 inside", about=("equipment.load", 8))
    other = Wait("vacuum chamber", "look into", "Bell", "since", now, "", about=("equipment.load", 9))
    watch = bench_wait(
        "vacuum chamber", "watch", [], "until", now, "", ("work.stabilizing", 1), until="bubbles stop", load=7
    )
    weigh = bench_wait("oven", "weigh", [], "since", now, "", ("work.weigh", 1), load=8)
    assert round_lines.said_once([look, opens, other, watch, weigh]) == [opens, other, watch, weigh]


def test_what_lies_in_a_bath_speaks_for_its_chamber_until_it_is_drained(shop):
    bath, at = shop.bath, timezone.now() - 5 * HOUR
    chamber = equipment.add_machine(kind="vacuum_chamber", name="The bell", at=at, by=shop.owner)
    load = work.load_up(
        machine=chamber, workpieces=[shop.blanks[0]], purpose="vacuum", at=at, by=shop.owner, confirm=True
    )
    run = work.start_stabilizing(
        bath=bath, dry=[(shop.blanks[0], 900 * GRAM)], at=at, load=load, cooled=True, sure=True, by=shop.owner
    )
    found = {wait.what: wait.load for wait in queries.waits(timezone.now()) if isinstance(wait, queries.BenchWait)}
    assert found["weight under"] == load.pk
    type(run).objects.filter(pk=run.pk).update(drained_at=at + HOUR)
    found = {wait.what: wait.load for wait in queries.waits(timezone.now()) if isinstance(wait, queries.BenchWait)}
    assert found["wrap in foil, bake, clean and weigh"] is None
