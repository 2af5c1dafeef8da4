"""Work time by warmth and mass, and by when the lid must be shut."""

import pytest

from studio.craft.pour_clock import (
    Known,
    WorkTime,
    hold_s,
    learned_fill_s,
    pot_fill_s,
    pour_clock,
    vacuum_cup_mm3,
    work_time,
)

SHEET = Known(2400, 25_000, 100_000)
SECOND = Known(600, 25_000, 1_600_000)


def test_beyond_the_biggest_known_mass_it_is_unknown() -> None:
    found = work_time([SHEET], mdegc=25_000, mass_mg=1_500_000)
    assert (found.seconds, found.at_most_s) == (None, 2400)


def test_a_second_point_of_the_sheet_gives_the_masses_between() -> None:
    # 400 g is half way from 100 g to 1600 g on logarithms: the geometric middle of 2400 and 600.
    assert work_time([SHEET, SECOND], mdegc=25_000, mass_mg=400_000).seconds == 1200
    assert work_time([SHEET, SECOND], mdegc=25_000, mass_mg=1_600_000).seconds == 600
    assert work_time([SHEET, SECOND], mdegc=25_000, mass_mg=1_600_001).seconds is None


def test_less_than_the_sheets_mass_has_the_sheets_time_at_least() -> None:
    assert work_time([SHEET], mdegc=25_000, mass_mg=50_000).seconds == 2400


def test_resin_ten_degrees_warmer_has_half_the_time() -> None:
    assert work_time([SHEET], mdegc=35_000, mass_mg=100_000).seconds == 1200
    unknown = work_time([SHEET], mdegc=None, mass_mg=100_000)
    assert (unknown.seconds, unknown.warmth_known) == (2400, False)


def test_what_thickened_at_this_bench_counts_and_the_shortest_of_one_mass_does() -> None:
    taps = [Known(900, 25_000, 1_500_000, own=True), Known(840, 25_000, 1_500_000, own=True)]
    found = work_time([SHEET, *taps], mdegc=25_000, mass_mg=1_500_000)
    assert (found.seconds, found.own) == (840, True)


def test_nothing_known_promises_nothing() -> None:
    assert work_time([], mdegc=25_000, mass_mg=1) == WorkTime(None, None)
    assert pour_clock(WorkTime(None, None), mixing_s=180, pouring_s=120).short_s == 0


def test_the_lid_is_shut_the_fill_time_before_it_thickens() -> None:
    found = pour_clock(WorkTime(1200, 1200), mixing_s=180, pouring_s=120, lid_s=60, fill_s=240, degas_s=300)
    assert (found.lid_by_s, found.pressure_by_s, found.needs_s, found.spare_s) == (960, 1200, 900, 300)
    assert found.short_s == 0


def test_a_plan_that_can_not_make_it_says_by_how_much() -> None:
    assert pour_clock(WorkTime(600, 600), mixing_s=300, pouring_s=300, fill_s=60).short_s == 60
    # Even the longest it can be is too short: that much is sure though the time for this mass isn't known.
    assert pour_clock(WorkTime(None, 600), mixing_s=300, pouring_s=300, fill_s=60).short_s == 60


def test_a_pot_of_forty_litres_at_sixty_psi_takes_the_free_air_over_the_delivery() -> None:
    # 37.85 l at 413.7 kPa: 154.5 l of free air, at 100 l a minute 93 s.
    assert pot_fill_s(37.85, 413.685, 100) == 93
    with pytest.raises(ValueError):
        pot_fill_s(37.85, 413.685, 0)


def test_a_cup_under_vacuum_is_a_quarter_full_at_most() -> None:
    assert vacuum_cup_mm3(250_000) == 1_000_000


def test_a_pot_fills_as_it_did_before_and_one_forgotten_tap_counts_for_nothing():
    assert learned_fill_s([], 400_000) is None
    assert learned_fill_s([(120, 400_000)], 400_000) == 120
    assert learned_fill_s([(120, 400_000)], 200_000) == 60
    assert learned_fill_s([(120, 400_000), (130, 400_000), (3000, 400_000)], 400_000) == 130
    assert learned_fill_s([(120, 400_000), (150, 400_000)], 400_000) == 150
    for wrong in ([(0, 1)], [(1, 0)], [(-1, 5)]):
        with pytest.raises(ValueError, match="above zero"):
            learned_fill_s(wrong, 400_000)
    with pytest.raises(ValueError, match="above zero"):
        learned_fill_s([(120, 400_000)], 0)


def test_the_hold_is_longer_in_a_cool_shop_and_never_shorter_than_the_sheet_says():
    sheet = 4 * 3600
    assert hold_s(sheet, 25_000, 15_000) == 2 * sheet
    assert hold_s(sheet, 25_000, 25_000) == sheet
    assert hold_s(sheet, 25_000, 40_000) == sheet
    assert hold_s(sheet, None, 5_000) == hold_s(sheet, 25_000, None) == sheet
    # colder than the rule reaches its end is taken: longer, not shorter
    assert hold_s(sheet, 25_000, -20_000) == hold_s(sheet, 25_000, -1_000) > 5 * sheet
    with pytest.raises(ValueError, match="above zero"):
        hold_s(0, 25_000, 20_000)
