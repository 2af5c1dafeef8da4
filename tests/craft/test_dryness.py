import math

import pytest

from studio.craft import dryness
from studio.craft.dryness import Change, Reading
from studio.craft.moisture import DryingFit

DRY = DryingFit(498.0, 495.0, 500.0, 0.5, 20.0, 18.0, 22.0)
SETTLED = {"hours": [0, 8, 16, 24, 27, 48], "grams": [640, 520, 502, 500, 500, 500]}


def test_dry_takes_an_endpoint_a_fine_scale_and_little_left() -> None:
    found = dryness.judge(**SETTLED, step_g=0.5, set_point_c=103, fit=DRY)
    assert (found.state, found.oven_dry, found.called("103 °C")) == ("dry", True, "oven-dry")
    assert [one.met for one in found.criteria] == [True, True, True, True]
    assert found.criterion("rest").figure == pytest.approx(100 * 2 / 498)


@pytest.mark.parametrize(
    ("change", "code", "met"),
    [
        ({"step_g": 1}, "step", False),  # 1 g is 0.2 % of 500 g
        ({"fit": None}, "rest", None),
        ({"fit": DryingFit(490.0, 480.0, 499.0, 0.5, 60.0, 50.0, 80.0)}, "rest", False),
        ({"rest_percent": 0.3}, "rest", False),
    ],
)
def test_without_any_one_of_them_it_is_only_steady(change: dict, code: str, met: bool | None) -> None:
    found = dryness.judge(**{**SETTLED, "step_g": 0.5, "set_point_c": 103, "fit": DRY, **change})
    assert found.criterion(code).met is met
    assert found.state == "steady" and not found.oven_dry
    assert found.called("103 °C") == "steady at 103 °C"


@pytest.mark.parametrize(("set_c", "oven_dry"), [(101, True), (105, True), (98, False), (130, False), (None, False)])
def test_only_a_bake_near_103_is_called_oven_dry(set_c: float | None, oven_dry: bool) -> None:
    found = dryness.judge(**SETTLED, step_g=0.5, set_point_c=set_c, fit=DRY)
    assert (found.state, found.oven_dry) == ("dry", oven_dry)
    assert found.called(f"{set_c} °C" if set_c else "") == (
        "oven-dry" if oven_dry else f"steady at {set_c} °C" if set_c else "steady"
    )


def test_a_thick_piece_is_judged_over_a_day() -> None:
    hours, grams = [0, 20, 40, 43], [6400, 5400, 5050, 5048]
    fit = DryingFit(5040.0, 5000.0, 5045.0, 0.5, 44.0, 40.0, 50.0)
    thin = dryness.judge(hours, grams, set_point_c=103, thickness_mm=30, fit=fit)
    thick = dryness.judge(hours, grams, set_point_c=103, thickness_mm=50, fit=fit)
    assert thin.state == "dry" and thin.criterion("astm").figure == pytest.approx(2)
    assert thick.state == "losing" or thick.state == "steady"
    assert not thick.oven_dry and thick.criterion("en").over_h == 24 and thick.criterion("en").met is False


def test_a_wet_blank_beside_it_begins_the_counting_anew() -> None:
    before = dryness.judge([0, 24, 27, 30], [520, 500, 500, 500], step_g=0.5, set_point_c=103, fit=DRY)
    after = dryness.judge([0, 24, 27, 30], [520, 500, 500, 500], step_g=0.5, set_point_c=103, fit=DRY, disturbed_h=28)
    assert (before.state, before.agreeing) == ("dry", 3)
    assert (after.state, after.agreeing) == ("losing", 1)
    assert after.criterion("astm").met is None and after.criterion("en").met is None
    none = dryness.judge([0, 24], [520, 500], disturbed_h=30)
    assert (none.agreeing, none.criterion("en").met) == (0, None)


def test_what_gained_is_not_dry_however_small_the_last_change() -> None:
    found = dryness.judge([0, 8, 24, 27], [520, 500, 510, 510], step_g=0.5, set_point_c=103, fit=DRY)
    assert found.state == "gained" and found.called() == "gained since the lowest weighing"


def test_one_weighing_tells_nothing_yet() -> None:
    found = dryness.judge([0], [500], step_g=0.5)
    assert (found.state, found.agreeing, found.percent_per_hour) == ("losing", 1, None)
    assert [one.met for one in found.criteria] == [None, None, True, None]
    with pytest.raises(ValueError, match="order"):
        dryness.judge([1, 0], [500, 500])


def readings(*rows: tuple[float, float], condition: str = "oven") -> list[Reading]:
    return [Reading(hour, grams, 1.0, condition) for hour, grams in rows]


def test_a_series_ends_at_a_move_a_new_setting_or_a_cut() -> None:
    rows = readings((0, 900), (10, 800), (20, 780), (30, 770), (40, 300), (50, 299))
    found = dryness.into_series(rows, [Change(15, "set-point", 90), Change(25, "out"), Change(35, "cut")])
    assert [one.grams for one in found] == [[900, 800], [780], [770], [300, 299]]
    assert [one.began.kind if one.began else None for one in found] == [None, "set-point", "out", "cut"]
    assert dryness.into_series([], [Change(0, "in")]) == ()


def test_what_it_weighed_at_the_oven_door_opens_the_series_inside() -> None:
    rows = [Reading(0.5, 900, 1, "wet"), Reading(6, 850, 1, "oven")]
    (wet, oven) = dryness.into_series(rows, [Change(1, "in", 103)])
    assert (oven.hours, oven.grams, oven.began.set_point_c) == ([1, 6], [900, 850], 103)  # type: ignore[union-attr]
    (_, late) = dryness.into_series(rows, [Change(3, "in", 103)])
    assert late.grams == [850]
    (_, cut) = dryness.into_series(rows, [Change(1, "cut")])
    assert cut.grams == [850]
    assert wet.grams == [900]


def test_another_condition_is_another_series_and_order_is_asked_for() -> None:
    rows = readings((0, 900), condition="wet") + readings((5, 890), (9, 880), condition="season")
    assert [one.grams for one in dryness.into_series(rows, [])] == [[900], [890, 880]]
    twice = readings((0, 900), (0, 899), (1, 898))
    assert dryness.into_series(twice, [])[0].grams == [900, 898]
    with pytest.raises(ValueError, match="order"):
        dryness.into_series(list(reversed(rows)), [])


def test_the_dry_mass_goes_through_a_cut_by_proportion() -> None:
    assert dryness.carried_dry_g(800, 1000, 250) == 200
    with pytest.raises(ValueError, match="more after"):
        dryness.carried_dry_g(800, 1000, 1001)
    with pytest.raises(ValueError, match="above zero"):
        dryness.carried_dry_g(800, 0, 0)


def test_the_curve_runs_through_the_weighings_and_its_band_opens_ahead() -> None:
    hours = [0, 6, 12, 18]
    grams = [round(450 + 190 * math.exp(-0.1 * hour)) for hour in hours]
    found = dryness.draw(hours, grams)
    assert found.hours[0] == 0 and found.hours[-1] == pytest.approx(18 * 3, rel=0.15)
    assert all(low <= middle <= high for low, middle, high in zip(found.low, found.middle, found.high, strict=True))
    near = max(nth for nth, hour in enumerate(found.hours) if hour <= 18)
    assert found.middle[near] == pytest.approx(grams[-1], rel=0.03)
    assert found.high[-1] - found.low[-1] > 4 * (found.high[near] - found.low[near])
    assert found.fit.low_g < found.low[-1] and found.high[-1] < grams[0]


def test_the_curve_ends_where_the_fit_says_the_dry_mass_lies() -> None:
    hours = [6 * nth for nth in range(12)]
    grams = [round(450 + 190 * math.exp(-0.1 * hour)) for hour in hours]
    found = dryness.draw(hours, grams)
    for line, mark in ((found.middle, found.fit.dry_g), (found.low, found.fit.low_g), (found.high, found.fit.high_g)):
        assert line[-1] == pytest.approx(mark, abs=0.6)
    with pytest.raises(ValueError, match="no drying"):
        dryness.draw([0, 1, 2], [500, 510, 520])


def test_many_weighings_are_thinned_and_say_the_same() -> None:
    def fit(count: int) -> DryingFit:
        hours = [72 * nth / (count - 1) for nth in range(count)]
        return dryness.draw(hours, [round(500 + 150 * math.exp(-0.09 * h), 1) for h in hours], step_g=0.1).fit

    many, few = fit(200), fit(50)
    assert many.dry_g == pytest.approx(few.dry_g, abs=0.5)
    assert many.ready_h == pytest.approx(few.ready_h, rel=0.05)


def test_without_weights_like_blanks_speak_and_without_those_common_practice() -> None:
    own = dryness.expected([30, 40, 44, 60], 700)
    assert (own.whose, own.count, own.hours) == ("like blanks", 4, 42)
    assert own.low_h >= 30 and own.high_h <= 60
    for grams, low, high in ((700, 8, 16), (3000, 16, 72), (9000, 72, 96)):
        found = dryness.expected([30, 40], grams)
        assert (found.whose, found.low_h, found.high_h, found.count) == ("common practice", low, high, 0)
    with pytest.raises(ValueError, match="above zero"):
        dryness.expected([], 0)
