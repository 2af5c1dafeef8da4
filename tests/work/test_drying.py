"""What a workpiece's weights say, out of the rooms' own data."""

import math
from datetime import datetime, timedelta

import pytest

from studio.people import operations as people
from studio.wood.models import Species
from studio.work import operations as work
from studio.work import queries
from studio.work.models import Weighing, Workpiece
from studio.work.queries import Drying
from tests.work.conftest import BEGAN, GRAM, HOUR, KILO

IN = BEGAN + 2 * HOUR
NOW = BEGAN + timedelta(days=20)


def said(piece: Workpiece, now: datetime = NOW) -> Drying:
    found = queries.page(piece.pk)
    assert found is not None
    return queries.drying(found, now)


def weigh(piece: Workpiece, owner, grams: float, at: datetime, condition: str = "oven", step: int = 1000) -> None:
    work.weigh(
        workpiece=piece,
        mass_mg=round(grams * GRAM),
        at=at,
        condition=condition,
        step_mg=step,
        by=owner,
        now=NOW,
        sure=True,
    )


def into(oven, pieces, owner, at: datetime = IN, degrees: int = 103):
    degrees *= 1000
    return work.load_up(
        machine=oven,
        workpieces=pieces,
        purpose="dry",
        set_point_mdegc=degrees,
        at=at,
        by=owner,
        now=NOW,
        confirm=True,
    )


def dries(piece, owner, hours, dry: float = 1600, water: float = 400, letting_go: float = 8) -> None:
    for hour in hours:
        weigh(piece, owner, round(dry + water * math.exp(-hour / letting_go)), IN + hour * HOUR)


@pytest.fixture
def piece(blanks: list[Workpiece]) -> Workpiece:
    """41/2, two kilos as it came."""
    return blanks[1]


def test_what_was_never_weighed_says_nothing(lump, owner):
    Weighing.objects.all().update(struck_out=True)
    assert said(lump) == Drying()


def test_a_bake_is_followed_judged_and_foretold(piece, oven, owner):
    weigh(piece, owner, 2000, IN - HOUR / 2, "wet")
    into(oven, [piece], owner)
    dries(piece, owner, (6, 12, 24))
    found = said(piece, IN + 24 * HOUR)
    assert found.under_way and found.inside and found.condition == "oven" and found.set_point_mdegc == 103_000
    assert found.series is not None and found.series.grams == [2000, 1789, 1689, 1620]
    assert found.verdict is not None and found.verdict.state == "losing"
    assert found.drawing is not None and found.drawing.fit.low_g <= 1600 <= found.drawing.fit.high_g
    assert found.moisture is not None and found.moisture[1] <= 1.25 <= found.moisture[2]
    assert found.ready is not None and found.ready[0] > IN + 24 * HOUR


def test_oven_dry_takes_103_degrees(piece, oven, owner):
    into(oven, [piece], owner)
    dries(piece, owner, (2, 6, 12, 24, 48, 72, 75))
    found = said(piece, IN + 76 * HOUR)
    assert found.verdict is not None and found.verdict.oven_dry and found.ready is None


def test_lower_down_it_is_steady_there(piece, oven, owner):
    into(oven, [piece], owner, degrees=98)
    dries(piece, owner, (2, 6, 12, 24, 48, 72, 75))
    found = said(piece, IN + 76 * HOUR)
    assert found.verdict is not None and found.verdict.state == "dry" and not found.verdict.oven_dry
    assert found.verdict.called("98 °C") == "steady at 98 °C"


def test_a_second_time_in_the_oven_is_a_second_series(piece, oven, owner):
    load = into(oven, [piece], owner)
    dries(piece, owner, (6, 12))
    work.unload(load=load, at=IN + 13 * HOUR, by=owner, still_going=True, now=NOW)
    into(oven, [piece], owner, at=IN + 100 * HOUR, degrees=90)
    weigh(piece, owner, 1680, IN + 110 * HOUR)
    found = said(piece)
    assert found.series is not None and found.series.grams == [1680] and found.set_point_mdegc == 90_000


def test_a_wet_blank_put_in_beside_it_begins_the_counting_anew(blanks, piece, oven, owner):
    into(oven, [piece], owner)
    dries(piece, owner, (2, 6, 12, 24, 48, 72, 75))
    before = said(piece, IN + 76 * HOUR)
    into(oven, [blanks[0]], owner, at=IN + 74 * HOUR)
    after = said(piece, IN + 76 * HOUR)
    assert before.verdict is not None and before.verdict.state == "dry"
    assert after.verdict is not None and (after.verdict.state, after.verdict.agreeing) == ("losing", 1)
    assert after.disturbed_at == IN + 74 * HOUR


def test_the_round_does_not_take_out_what_a_wet_neighbour_unsettled(blanks, piece, oven, owner):
    into(oven, [piece], owner)
    dries(piece, owner, (2, 6, 12, 24, 48, 72, 75, 78))
    before = [(wait.what, [tag.number for tag in wait.tags]) for wait in queries.waits(IN + 79 * HOUR)]
    assert ("take out", ["41/2"]) in before
    into(oven, [blanks[0]], owner, at=IN + 77 * HOUR)
    (wait,) = [one for one in queries.waits(IN + 79 * HOUR) if one.what == "weigh" and one.tags[0].number == "41/2"]
    assert wait.reason.endswith("something wet went in beside it")
    dries(piece, owner, (81, 84, 87))
    after = [(wait.what, [tag.number for tag in wait.tags]) for wait in queries.waits(IN + 88 * HOUR)]
    assert ("take out", ["41/2"]) in after


def test_dry_wood_put_in_beside_it_changes_nothing(blanks, piece, oven, owner):
    into(oven, [piece], owner)
    dries(piece, owner, (2, 6, 12, 24, 48, 72, 75))
    weigh(blanks[0], owner, 2500, IN + 73 * HOUR, "oven_dry")
    into(oven, [blanks[0]], owner, at=IN + 74 * HOUR)
    assert said(piece, IN + 76 * HOUR).disturbed_at is None


@pytest.mark.parametrize("why", ["oily", "waxed"])
def test_where_more_than_water_leaves_no_moisture_is_told(piece, oven, owner, why):
    into(oven, [piece], owner)
    dries(piece, owner, (2, 6, 12, 24, 48, 72, 75))
    if why == "oily":
        wood = Species.objects.create(common_name="Oilwood", oily=True)
        Workpiece.objects.filter(pk=piece.pk).update(species=wood)
    else:
        type(piece.purchase).objects.filter(pk=piece.purchase_id).update(waxed="yes")
    found = said(piece, IN + 76 * HOUR)
    assert (found.unreliable, found.moisture, found.drawing) == (why, None, None)
    assert found.verdict is not None and found.verdict.state == "steady"


def test_seasoning_is_promised_no_day(piece, owner):
    for week, grams in ((1, 1950), (5, 1900), (9, 1870), (13, 1860)):
        weigh(piece, owner, grams, IN + week * HOUR * 20, "season")
    found = said(piece)
    assert (found.condition, found.drawing, found.moisture, found.ready) == ("season", None, None, None)


def test_too_few_weights_ask_like_blanks_then_common_practice(blanks, piece, oven, owner):
    load = into(oven, [piece], owner)
    weigh(piece, owner, 1800, IN + 6 * HOUR)
    now = IN + 7 * HOUR
    alone = said(piece, now)
    assert alone.expected is not None and (alone.expected.whose, alone.expected.hours) == ("common practice", 42)
    assert alone.ready is not None and alone.ready[0] == IN + 42 * HOUR
    work.unload(load=load, at=now, by=owner, still_going=True, now=NOW)
    first = [work.take_in_lump(mass_mg=2 * KILO, paid_micro=0, at=BEGAN, by=owner) for _ in range(3)]
    for nth, one in enumerate(first):
        began = IN + (20 + 60 * nth) * HOUR
        load = into(oven, [one], owner, at=began)
        work.unload(load=load, at=began + (30 + nth) * HOUR, by=owner, now=NOW)
        weigh(one, owner, 1600, began + (30 + nth) * HOUR, "oven_dry")
    into(oven, [piece], owner, at=IN + 300 * HOUR)
    weigh(piece, owner, 1790, IN + 303 * HOUR)
    like = said(piece, IN + 304 * HOUR)
    assert like.expected is not None
    assert (like.expected.whose, like.expected.count, like.expected.hours) == ("like blanks", 3, 31)


def test_the_dry_mass_goes_through_a_cut(piece, oven, owner):
    load = into(oven, [piece], owner)
    dries(piece, owner, (2, 6, 12, 24, 48, 72, 75))
    work.unload(load=load, at=IN + 75 * HOUR, by=owner, now=NOW)
    weigh(piece, owner, 1600, IN + 75 * HOUR + timedelta(minutes=2), "oven_dry")
    (half,) = work.cut(
        parent=piece, blanks=[work.BlankSpec(weight=800_000, mass_mg=800_000)], at=IN + 76 * HOUR, by=owner, now=NOW
    )
    weigh(half, owner, 824, IN + 120 * HOUR, "wet")
    found = said(half)
    assert found.carried and found.moisture is not None and found.moisture[0] == pytest.approx(3)


def dried_and_out(piece, oven, owner) -> datetime:
    load = into(oven, [piece], owner)
    dries(piece, owner, (2, 6, 12, 24, 48, 72, 75))
    out = IN + 76 * HOUR
    work.unload(load=load, at=out, by=owner, now=NOW)
    weigh(piece, owner, 1600, out + timedelta(minutes=2), "oven_dry")
    return out


def air(owner, degrees: int = 20, damp: int = 65) -> None:
    for key, value in (("shop_temperature_mdegc", degrees * 1000), ("shop_humidity_ppm", damp * 10_000)):
        people.set_setting(key=key, value=value, by=owner, at=BEGAN, from_on=BEGAN.date())


def test_once_out_two_clocks_run(piece, oven, owner):
    out = dried_and_out(piece, oven, owner)
    Workpiece.objects.filter(pk=piece.pk).update(length_um=300_000, width_um=60_000, height_um=25_000)
    unknown = said(piece, out + 3 * HOUR).regain
    assert unknown is not None and unknown.core is None and not unknown.air_known and not unknown.skin.over
    air(owner)
    early, late = said(piece, out + 3 * HOUR).regain, said(piece, out + 30 * HOUR).regain
    assert early is not None and early.core is not None and early.until is not None and not early.over
    assert early.core == pytest.approx(10.2 * (1 - math.exp(-3 / 12)), abs=0.1)
    assert out + 3 * HOUR < early.until < out + 12 * HOUR
    assert late is not None and late.over and late.skin.over


def test_a_reweighing_sets_the_core_right(piece, oven, owner):
    out = dried_and_out(piece, oven, owner)
    weigh(piece, owner, 1648, out + 24 * HOUR, "oven_dry")
    found = said(piece, out + 24 * HOUR).regain
    assert found is not None and found.weighed and found.core == pytest.approx(3)
    air(owner)
    Workpiece.objects.filter(pk=piece.pk).update(length_um=300_000, width_um=60_000, height_um=50_000)
    learned = said(piece, out + 24 * HOUR).regain
    assert learned is not None and learned.core == pytest.approx(3) and learned.pace is not None
    assert learned.pace.count == 1 and learned.pace.hours > 12


def test_back_in_the_oven_the_clocks_stop(piece, oven, owner):
    out = dried_and_out(piece, oven, owner)
    into(oven, [piece], owner, at=out + 8 * HOUR)
    assert said(piece, out + 9 * HOUR).regain is None


@pytest.mark.parametrize("count", [5, 120])
def test_as_many_questions_however_many_weights(piece, oven, owner, count, django_assert_max_num_queries):
    into(oven, [piece], owner)
    dries(piece, owner, [72 * (nth + 1) / count for nth in range(count)])
    page = queries.page(piece.pk)
    assert page is not None
    with django_assert_max_num_queries(9):
        queries.drying(page, IN + 73 * HOUR)
