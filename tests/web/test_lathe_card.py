"""The lathe card on screen: danger first, the number one reads at a metre, the mount, the clock."""

from types import SimpleNamespace

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from studio.equipment import operations as equipment
from studio.work import operations as work
from studio.work.models import ClockRun, Mount, Outcome, Overruled, PourFill, Step
from studio.work.operations.mount import mount
from tests.web.shop import DAY, HOUR, KILO, a_shop, every_trap, key_of, of_role, send, signed_in, text, to_cast

GOOD = {"how": "tenon", "balance": "true", "across_um": "254 mm"}
MM = 1000


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    return a_shop()


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


def card(piece) -> str:
    return reverse("lathe_card", args=[piece.pk])


def form(piece) -> str:
    return reverse("lathe_mount", args=[piece.pk])


def test_without_a_mount_it_says_what_to_say_first(desk, shop):
    said = text(desk.get(card(shop.blanks[0])))
    assert "Say how wide it is and how it runs" in said and "face shield" in said and "rpm" not in said
    assert desk.get(reverse("lathe_card", args=[999])).status_code == 404


def test_the_number_the_mount_and_where_the_limit_comes_from(desk, shop):
    typed = {
        **GOOD, "held_um": "58 mm", "jaws": "50 mm jaws", "jaw_one": "at the knot", "wall_um": "8 mm",
        "waste_words": "maple, thick glue", "kept": "on", "note": "thin at the foot",
    }  # fmt: skip
    said = text(send(desk, form(shop.blanks[0]), typed))
    assert "No faster than 600 rpm" in said and "Common practice, no source" in said
    for words in ("58 mm across", "50 mm jaws", "at the knot", "Wall 8 mm", "maple, thick glue", "later repair"):
        assert words in said, words
    lathe = equipment.add_machine(kind="lathe", name="The long lathe", by=shop.owner, at=shop.began, highest_rpm=480)
    said = text(desk.get(card(shop.blanks[0])))
    assert "No faster than 480 rpm" in said and f"The plate of {lathe} allows no more" in said


def test_a_second_mount_starts_from_the_first_and_the_first_is_kept(desk, shop):
    piece = shop.blanks[0]
    send(desk, form(piece), {**GOOD, "jaw_one": "at the knot"})
    again = desk.get(form(piece)).context["form"]
    assert again["jaw_one"].value() == "at the knot" and again["across_um"].value() == "254"
    said = text(send(desk, form(piece), {**GOOD, "how": "jam", "balance": "off"}))
    assert "No faster than 200 rpm" in said and "How it was held before" in said and "at the knot" in said


@pytest.fixture
def casting(shop: SimpleNamespace):
    piece = shop.blanks[0]
    to_cast(shop, piece, 2 * KILO)
    poured = work.pour(
        system=shop.resin, fills=[work.Fill(planned_mg=2 * KILO, blanks=[piece], wood_mg=2 * KILO)],
        planned_a_mg=KILO, planned_b_mg=KILO, poured_a_mg=KILO, poured_b_mg=KILO,
        at=timezone.now() - HOUR / 2, by=shop.owner, wood_sure=True,
    )  # fmt: skip
    return poured.fills.get().casting


def test_what_is_inside_stands_in_red_before_the_number(desk, shop, casting):
    fill = casting.fills.get()
    PourFill.objects.filter(pk=fill.pk).update(screw_words="at the <b>notch</b>")
    Outcome.objects.create(fill=fill, what="void", at=timezone.now(), by=shop.owner)
    Step.objects.filter(workpiece=casting, code="cast").update(state="done", not_before=timezone.now() + DAY)
    mount(workpiece=casting, how="tenon", at=timezone.now(), by=shop.owner, across_um=254 * MM, balance="true")
    page = desk.get(card(casting))
    said, html = text(page), page.content.decode()
    assert "<b>notch</b>" not in html and html.count('class="danger"') == 2
    told = [said.index(words) for words in ("A screw sits in it:", "came out with a void", "No faster than 200 rpm")]
    assert told == sorted(told)
    assert "taken as heavy on one side" in said and "Turn it not before" in said


def test_words_with_which_it_was_cast_wet_stand_on_it(desk, shop):
    Overruled.objects.create(
        workpiece=shop.blanks[0], what="cast", refused="41/1 isn’t dry", words="the client waits", at=timezone.now(),
        by=shop.owner,
    )  # fmt: skip
    assert "“the client waits” It may foam inside" in text(desk.get(card(shop.blanks[0])))


def test_the_clock_is_started_and_stopped_on_it(desk, shop):
    piece = shop.blanks[0]
    page = desk.get(card(piece))
    key = key_of(page)
    start = reverse("lathe_start", args=[piece.pk])
    for _ in range(2):
        answer = desk.post(start, {"code": "clean", "submission": key})
        assert (answer.status_code, answer.url) == (303, card(piece))
    run = ClockRun.objects.get(stopped_at=None)
    page = desk.get(card(piece)).content.decode()
    assert reverse("clock_stop", args=[run.pk]) in page and "Stop the clock" in page


def test_the_round_and_the_page_lead_to_it_where_work_turns(desk, shop):
    piece = shop.blanks[0]
    assert "Lathe card" in text(desk.get(reverse("workpiece", args=[piece.pk])))
    assert card(piece) not in desk.get(reverse("round")).content.decode()
    work.plan_steps(workpiece=piece, codes=["turn"])
    assert f'href="{card(piece)}"' in desk.get(reverse("round")).content.decode()


def test_every_trap_in_a_mount_is_answered_and_sent_twice_it_counts_once(desk, shop):
    url = form(shop.blanks[0])
    every_trap(desk, url, GOOD, ("across_um", "wall_um", "held_um", "jaws", "jaw_one", "waste_words", "note"))
    before = Mount.objects.count()
    key = key_of(desk.get(url))
    for _ in range(2):
        assert desk.post(url, {**GOOD, "submission": key}).status_code == 303
    assert Mount.objects.count() == before + 1
    wrong = desk.post(url, {**GOOD, "wall_um": "200 mm", "jaws": "my jaws", "submission": key_of(desk.get(url))})
    assert wrong.status_code == 422 and "my jaws" in wrong.content.decode() and "thicker than half" in text(wrong)
    late = (timezone.now() + 400 * DAY).strftime("%Y-%m-%dT%H:%M")
    assert send(desk, url, {**GOOD, "at": late}).status_code == 422


def test_a_visitor_reads_it_and_presses_nothing(shop):
    guest, piece = signed_in(of_role(shop.owner, "visitor")), shop.blanks[0]
    page = guest.get(card(piece))
    assert page.status_code == 200 and "Start the clock" not in text(page)
    assert form(piece) not in page.content.decode()
    assert guest.get(form(piece)).status_code == 403


def test_it_reads_as_often_whatever_came_before(desk, shop):
    piece = shop.blanks[0]

    def count():
        with CaptureQueriesContext(connection) as seen:
            desk.get(card(piece))
        return len(seen)

    at = timezone.now() - 5 * HOUR
    mount(workpiece=piece, how="tenon", at=at, by=shop.owner, across_um=200 * MM)
    few = count()
    for n in range(8):
        mount(workpiece=piece, how="jam", at=at + (n + 1) * HOUR / 9, by=shop.owner, across_um=200 * MM)
    assert count() == few
