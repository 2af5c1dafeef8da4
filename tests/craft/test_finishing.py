"""Waits of a finish, and surfaces beside the solids of the school book."""

from datetime import UTC, datetime, timedelta
from math import pi

import pytest

from studio.craft.finishing import Line, coat_mg, shape_of, standing, surface_mm2

BEGAN = datetime(2025, 5, 5, 8, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
H = 3600
LINES = [Line(), Line(wait_s=24 * H, latest_s=48 * H), Line(wait_s=12 * H), Line(wait_s=7 * 24 * H, timed=True)]


def test_the_first_line_may_begin_at_once_and_by_no_hour() -> None:
    stands = standing(LINES, {}, BEGAN)
    assert (stands.following, stands.at, stands.by) == (0, BEGAN, None)


def test_the_next_line_waits_from_when_the_one_before_was_done_and_has_its_latest() -> None:
    stands = standing(LINES, {0: BEGAN, 1: BEGAN + HOUR}, BEGAN)
    assert (stands.following, stands.at, stands.by) == (2, BEGAN + 25 * HOUR, BEGAN + 49 * HOUR)


def test_a_cure_passes_by_itself_and_ends_after_the_last_wait() -> None:
    stands = standing(LINES, {0: BEGAN, 1: BEGAN, 2: BEGAN + 30 * HOUR}, BEGAN)
    assert (stands.following, stands.by) == (None, None)
    assert stands.at == BEGAN + 42 * HOUR + timedelta(days=7)


def test_a_line_taken_back_in_the_middle_is_the_next_again() -> None:
    assert standing(LINES, {0: BEGAN, 2: BEGAN + 30 * HOUR}, BEGAN).following == 1


@pytest.mark.parametrize(
    ("form", "shape"),
    [
        ("Natural edge bowl", "bowl"), ("platter", "bowl"), ("lidded box", "open"), ("ferry cup", "open"),
        ("hollow form", "closed"), ("Vase", "closed"), ("turned finial", "solid"), ("", "solid"),
        ("two bowls", "bowl"),
    ],
)  # fmt: skip
def test_a_form_is_known_by_its_name(form: str, shape: str) -> None:
    assert shape_of(form) == shape


def test_half_a_ball_as_a_bowl_has_the_surface_of_the_whole_ball_inside_and_out() -> None:
    """On the Sphere and Cylinder I, 33: a sphere has four of its great circles. Half a ball twice is one ball."""
    assert surface_mm2("bowl", 200_000, 200_000, 100_000) == round(4 * pi * 100**2)


def test_a_flat_plate_is_twice_its_circle() -> None:
    assert surface_mm2("bowl", 300_000, 300_000, 1) == round(2 * pi * 150**2)


def test_a_round_hollow_form_has_the_surface_of_the_ball() -> None:
    """The same book: the drum about a ball has its round surface."""
    assert surface_mm2("closed", 120_000, 120_000, 120_000) == round(4 * pi * 60**2)


def test_a_drum_unrolls_into_a_strip_and_two_circles() -> None:
    """A drum 100 across and 50 high: a strip 314.16 by 50 and two circles of 7,853.98."""
    assert surface_mm2("solid", 100_000, 100_000, 50_000) == 31_416
    assert surface_mm2("open", 100_000, 100_000, 50_000) == 2 * 15_708 + 2 * 7_854


def test_across_is_the_mean_of_length_and_width() -> None:
    assert surface_mm2("solid", 90_000, 110_000, 50_000) == surface_mm2("solid", 100_000, 100_000, 50_000)


@pytest.mark.parametrize("sizes", [(0, 1, 1), (1, -1, 1), (1, 1, 0)])
def test_no_surface_comes_of_nothing(sizes: tuple[int, int, int]) -> None:
    with pytest.raises(ValueError, match="above nothing"):
        surface_mm2("solid", *sizes)


def test_there_is_no_other_shape() -> None:
    with pytest.raises(ValueError, match="no shape"):
        surface_mm2("cube", 1, 1, 1)  # type: ignore[arg-type]


def test_a_coat_is_surface_times_spread_to_the_milligram_half_up() -> None:
    assert coat_mg(100_000, 60_000) == 6_000
    assert coat_mg(25, 60_000) == 2  # 1.5 mg
    assert coat_mg(1, 1) == 1
    for mm2, spread in ((0, 1), (1, 0), (-4, 5)):
        with pytest.raises(ValueError, match="above nothing"):
            coat_mg(mm2, spread)
