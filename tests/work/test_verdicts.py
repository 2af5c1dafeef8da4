"""What a list says of many workpieces' weights: the verdict of each one's own page, in the same number of queries."""

import math
from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from studio.work import operations as work
from studio.work import queries
from studio.work.models import Workpiece
from studio.work.queries import verdicts
from studio.work.queries.beside import WET_BESIDE
from studio.work.queries.verdicts import NOT_SINCE, ONCE_IN, told_of
from tests.web.shop import DAY, GRAM, HOUR, a_shop

AGO = 90 * HOUR


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    """Three blanks, two of them in the oven at 103 °C since ninety hours."""
    there = a_shop()
    there.now = timezone.now()
    there.put_in = there.now - AGO
    there.load = work.load_up(
        machine=there.oven, workpieces=there.blanks[:2], purpose="dry", set_point_mdegc=103_000, at=there.put_in,
        by=there.owner, confirm=True, now=there.now,
    )  # fmt: skip
    return there


def weigh(shop, hours, grams, *, which=0, condition="oven"):
    work.weigh(
        workpiece=shop.blanks[which], mass_mg=grams * GRAM, at=shop.put_in + hours * HOUR, condition=condition,
        now=shop.now, by=shop.owner, sure=True,
    )  # fmt: skip


def falling(shop, hours, *, which=0):
    for hour in hours:
        weigh(shop, hour, round(2500 + 400 * math.exp(-hour / 9)), which=which)


def told(shop, which=0, **how):
    rows = list(Workpiece.objects.select_related("species", "purchase"))
    return told_of(rows, shop.now, **how)[shop.blanks[which].pk]


def page(shop, which=0):
    return queries.drying(queries.page(shop.blanks[which].pk), shop.now)


@pytest.mark.parametrize(
    ("hours", "short"),
    [
        ((2, 5, 9, 14), "still losing"),
        ((2, 6, 12, 24, 48, 48.5), "steady 2 of 3"),
        ((2, 6, 12, 24, 48, 72, 75, 85), "oven-dry"),
    ],
)
def test_a_list_says_what_the_page_says(shop, hours, short):
    falling(shop, hours)
    found, own = told(shop), page(shop)
    assert found.short == short
    assert found.done == (own.verdict.state == "dry") == (short == "oven-dry")
    assert own.verdict.oven_dry == (found.words == "oven-dry")


def test_three_that_agree_within_an_hour_end_nothing(shop):
    for hour in (48, 48.4, 48.8):
        weigh(shop, hour, 2500)
    found = told(shop)
    assert found.short == "steady 3 of 3" and not found.done


def test_three_that_agree_long_enough_may_come_out_where_no_curve_can_tell(shop):
    shop.blanks[0].species.oily = True
    shop.blanks[0].species.save()
    for hour in (48, 60, 72):
        weigh(shop, hour, 2500)
    found = told(shop)
    assert (found.words, found.done) == ("steady at three weighings", True)
    assert found.since == shop.put_in + 48 * HOUR
    assert page(shop).verdict.state == "steady"


def test_a_wet_neighbour_begins_the_counting_anew(shop):
    falling(shop, (2, 6, 12, 24, 48, 72, 75, 80))
    assert told(shop).done
    work.load_up(
        machine=shop.oven, workpieces=[shop.blanks[2]], purpose="dry", at=shop.put_in + 81 * HOUR, by=shop.owner,
        confirm=True, now=shop.now,
    )  # fmt: skip
    found = told(shop)
    assert (found.short, found.done) == (WET_BESIDE, False)
    weigh(shop, 82, 2500)
    weigh(shop, 83, 2500)
    assert told(shop).short == f"steady {page(shop).verdict.agreeing} of 3" == "steady 2 of 3"


def test_weights_from_before_it_went_in_say_nothing_of_the_oven(shop):
    weigh(shop, -30, 2501, condition="wet")
    weigh(shop, -20, 2500, condition="wet")
    weigh(shop, -10, 2500, condition="wet")
    found = told(shop)
    assert (found.short, found.done) == (NOT_SINCE, False)
    weigh(shop, 6, 2400)
    assert told(shop).short == ONCE_IN


def test_bark_taken_off_begins_a_new_series(shop):
    falling(shop, (2, 6, 12, 24, 48, 72, 75))
    assert told(shop).done
    work.note_wood(workpiece=shop.blanks[0], kind="bark_off", at=shop.put_in + 76 * HOUR, by=shop.owner, now=shop.now)
    weigh(shop, 77, 2400)
    found = told(shop)
    assert (found.short, found.done) == (ONCE_IN, False)


def test_no_curve_is_fitted_where_none_is_asked_for_or_none_can_matter(shop, monkeypatch):
    falling(shop, (2, 6, 12, 24, 48, 72, 75, 85))

    def fits(*args, **how):
        raise AssertionError("a curve was fitted")

    monkeypatch.setattr(verdicts, "fitted", fits)
    assert told(shop, fits=False).short == "steady 3 of 3"
    with pytest.raises(AssertionError, match="a curve was fitted"):
        told(shop)
    falling(shop, (2, 5, 9, 14), which=1)
    assert told_of([shop.blanks[1]], shop.now)[shop.blanks[1].pk].short == "still losing"


def test_as_many_questions_for_one_as_for_all(shop):
    falling(shop, (2, 5, 9, 14))
    asked = []
    for many in (1, 3):
        rows = list(Workpiece.objects.filter(stage="blank").select_related("species", "purchase")[:many])
        with CaptureQueriesContext(connection) as seen:
            told_of(rows, shop.now)
        asked.append(len(seen))
        falling(shop, (1, 3, 7, 15, 20), which=1)
    assert asked[0] == asked[1] <= 7
    assert told_of([], shop.now) == {}


def test_what_seasons_loses_by_the_week(shop):
    third, days = shop.blanks[2], timedelta(days=1)
    Workpiece.objects.filter(pk=third.pk).update(made_at=shop.now - 90 * DAY)
    third.weighings.all().delete()
    for ago, grams in ((60, 1000), (30, 900)):
        work.weigh(
            workpiece=third, mass_mg=grams * GRAM, at=shop.now - ago * days, condition="season", now=shop.now,
            by=shop.owner, sure=True,
        )  # fmt: skip
    found = told(shop, 2)
    assert found.words == "still losing 3\u00a0% a week" and not found.done
