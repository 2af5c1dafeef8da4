"""What a workpiece's page says of its water, in a turner's sentences, beside its curve."""

import math
import re
from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from studio.people import operations as people
from studio.web import drawings
from studio.work import operations as work
from studio.work.models import Weighing
from tests.web.shop import DAY, GRAM, HOUR, a_shop, signed_in, text


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    return a_shop()


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


def baked(shop, hours, *, ago=90, degrees=103):
    """A blank of three kilos in the oven since `ago` hours, weighed after each of `hours`."""
    piece, now = shop.blanks[0], timezone.now()
    put_in = now - ago * HOUR
    load = work.load_up(
        machine=shop.oven, workpieces=[piece], purpose="dry", set_point_mdegc=degrees * 1000, at=put_in,
        by=shop.owner, confirm=True, now=now,
    )  # fmt: skip
    for hour in hours:
        weigh(shop, round(2500 + 400 * math.exp(-hour / 9)), put_in + hour * HOUR)
    return piece, load


def weigh(shop, grams, at, condition="oven"):
    work.weigh(
        workpiece=shop.blanks[0], mass_mg=grams * GRAM, at=at, condition=condition, by=shop.owner, sure=True,
        now=timezone.now(),
    )  # fmt: skip


def page(desk, piece):
    return desk.get(reverse("workpiece", args=[piece.pk]))


def test_it_says_about_when_it_is_dry_and_which_test_is_met(desk, shop):
    piece, _ = baked(shop, (2, 5, 9, 14, 20, 24), ago=25)
    answer = page(desk, piece)
    said, html = text(answer), answer.content.decode()
    assert re.search(r"Still losing \S+ % an hour\.", said)
    assert re.search(r"Dry about \S+.* give or take \S+ hours\.", said)
    assert re.search(r"Not met It changed \S+ % in 2 h or more; less than 0\.1 % is wanted \(EN 13183-1\)\.", said)
    assert "Met The scale is fine enough: a step is 0.04 % of the weight." in said
    assert re.search(r"Not met By its curve \S+ % is left", said)
    assert 'class="spread"' in html and 'class="ready"' in html and "dry below" in html


@pytest.mark.parametrize(
    ("degrees", "words"),
    [(103, "Oven-dry."), (98, "Dry: steady at 98 °C. Oven-dry is only told at 103 °C, give or take 2.")],
)
def test_only_103_degrees_make_it_oven_dry(desk, shop, degrees, words):
    piece, _ = baked(shop, (2, 6, 12, 24, 48, 72, 75, 85), degrees=degrees)
    assert words in text(page(desk, piece))


def test_too_few_weights_say_whose_figure_it_is(desk, shop):
    piece, _ = baked(shop, (6,), ago=7)
    said = text(page(desk, piece))
    assert "common practice for its size, as its own weights are too few to tell." in said
    assert "moisture left" not in said


def test_once_out_both_clocks_are_told(desk, shop):
    piece, load = baked(shop, (2, 6, 12, 24, 48, 52))
    now = timezone.now()
    out = now - 30 * HOUR
    work.unload(load=load, at=out, by=shop.owner, now=now)
    weigh(shop, 2500, out + timedelta(minutes=2), "oven_dry")
    said = text(page(desk, piece))
    assert "Skin: too long Out 30 h, our limit is 6 h." in said and "about an hour back in" in said
    assert "Say in the settings how warm and damp the shop is" in said
    for key, value in (("shop_temperature_mdegc", 20_000), ("shop_humidity_ppm", 650_000)):
        people.set_setting(key=key, value=value, by=shop.owner, at=now, from_on=(now - 40 * DAY).date())
    said = text(page(desk, piece))
    assert re.search(r"Core About \d+ % moisture by now, our limit is 5 %\.", said)
    assert "Its pace is common practice." in said and "guessed from its weight" in said


def test_the_scale_says_more_of_the_skin_than_the_clock(desk, shop):
    """The page says what a pour would: it isn't called too long out that weighs as it came out."""
    piece, load = baked(shop, (2, 6, 12, 24, 48, 52))
    now = timezone.now()
    out = now - 8 * HOUR
    work.unload(load=load, at=out, by=shop.owner, now=now)
    for code in [step.code for step in piece.steps.filter(state__in=["planned", "open"]).exclude(code="cast")]:
        work.leave_out_step(workpiece=piece, code=code, why="Not needed here")
    weigh(shop, 2500, out + timedelta(minutes=2), "oven_dry")
    said = text(page(desk, piece))
    assert "Skin: too long Out 8 h" in said and "Back into the oven" in said
    weigh(shop, 2502, now - HOUR, "oven_dry")
    said = text(page(desk, piece))
    assert "too long" not in said and "But it weighed as dry as it came out" in said
    assert "Plan the pour" in said and "Back into the oven" not in said


def test_as_many_questions_for_two_hundred_weights_as_for_five(desk, shop):
    piece, _ = baked(shop, (2, 6, 12, 24, 48))
    asked = []
    for more in (0, 195):
        Weighing.objects.bulk_create(
            Weighing(workpiece=piece, mass_mg=2500 * GRAM, condition="oven", at=timezone.now() - (n + 1) * HOUR / 8)
            for n in range(more)
        )
        page(desk, piece)
        with CaptureQueriesContext(connection) as queries:
            assert page(desk, piece).status_code == 200
        asked.append(len(queries))
    assert asked[0] == asked[1]


def test_the_drawing_reaches_as_far_as_the_curve(db):
    began = timezone.now()
    points = [(began + nth * HOUR, 3000 - nth) for nth in range(4)]
    course = [(began + nth * HOUR, 3000 - nth, 2990 - nth, 3010 - nth) for nth in range(11)]
    found = drawings.curve(points, course=course, expected=2995, expected_words="dry", ready=(began, began + DAY))
    assert found is not None and found.expected is not None
    assert found.spread.endswith("Z") and found.fit.startswith("M64 ") and found.fit.count("L") == 10
    assert (found.expected.words, found.ready_x, found.ready_end) == ("dry", "64", "440")
    assert float(found.dots[-1].x) == pytest.approx(64 + 376 * 0.3, abs=0.2)
    plain = drawings.curve(points)
    assert plain is not None and (plain.fit, plain.spread, plain.ready_x) == ("", "", "")


def test_a_scale_a_little_too_coarse_says_by_how_much(desk, shop):
    piece, load = baked(shop, (), ago=30)
    for hour, grams in ((1, 860), (12, 830), (24, 826), (27, 826)):
        weigh(shop, grams, load.started_at + hour * HOUR)
    said = text(page(desk, piece))
    assert "Not met The scale is too coarse: a step is 0.12 % of the weight, more than 0.1 %." in said


def test_one_weight_of_wood_that_lies_out_again_is_no_drying(desk, shop):
    piece, load = baked(shop, (2, 5, 9, 14, 20, 24, 28, 32, 36, 40), ago=60)
    work.unload(load=load, at=load.started_at + 41 * HOUR, by=shop.owner, now=timezone.now())
    back_in = load.started_at + 45 * HOUR
    again = work.load_up(
        machine=shop.oven, workpieces=[piece], purpose="dry", at=back_in, by=shop.owner, confirm=True
    )
    weigh(shop, 2500, again.started_at + 3 * HOUR)
    assert "What it weighs" in (said := text(page(desk, piece))) and "Weighed once so far." in said
    work.unload(load=again, at=again.started_at + 4 * HOUR, by=shop.owner, now=timezone.now())
    said = text(page(desk, piece))
    assert "2500 g" in said and "Weighed once so far." not in said and "Its end is told by" not in said
