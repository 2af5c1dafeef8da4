"""The pour desk's arithmetic against figures from outside, and against moulds whose truth is known by formula."""

import random
from math import exp, pi
from statistics import NormalDist

import pytest
from scipy import stats

from studio.craft import room
from studio.craft.allowance import Past, allowance, enough_share, student_quantile
from studio.craft.room import Wood

CASES = 400


def test_the_newsvendor_ratio_and_its_quantiles() -> None:
    # Exercise data: price 20, cost 14, salvage 5, so short 6 and over 9; uniform(80, 150) and N(115, 15) answers
    # computed from the ratio .4.
    ratio = enough_share(6, 9)
    assert ratio == pytest.approx(0.4)
    assert 80 + ratio * 70 == pytest.approx(108)
    assert NormalDist(115, 15).inv_cdf(ratio) == pytest.approx(111.200, abs=0.001)


@pytest.mark.parametrize("degrees", [9, 14, 30, 200])
@pytest.mark.parametrize("share", [0.5, 0.8, 0.9, 0.95, 0.99])
def test_students_quantile_agrees_with_scipy(degrees: int, share: float) -> None:
    assert student_quantile(share, degrees) == pytest.approx(stats.t.ppf(share, degrees), abs=0.005)


def test_nine_times_in_ten_by_the_normal_table() -> None:
    # z for .95 one-sided, computed with scipy.
    assert pytest.approx(stats.norm.ppf(0.95), abs=1e-4) == room.NINE_IN_TEN


def a_case(chance: random.Random) -> tuple[room.Room, float]:
    """(what is reckoned, the resin really needed): a pail and two turned cylinders of known size by formula."""
    radius, height = chance.uniform(60, 150), chance.uniform(80, 200)
    pail = pi * radius**2 * height
    woods, solid = [], 0.0
    book = chance.uniform(400, 750)
    density = book * (1 + chance.gauss(0, room.SPECIES))
    for name in ("1", "2"):
        volume = pi * (radius * chance.uniform(0.3, 0.55)) ** 2 * height * chance.uniform(0.5, 0.9)
        solid += volume
        if chance.random() < 0.5:
            woods.append(Wood(name, round(volume * density / 1000), species_kgm3=round(book), species="ash"))
        else:
            woods.append(Wood(name, 1, bucket_mm3=round(volume * (1 + chance.gauss(0, room.BUCKET)))))
    measured = round(pail * (1 + chance.gauss(0, room.SIDES)))
    return room.resin_room(mould_mm3=measured, woods=woods), pail - solid


def test_the_give_or_take_covers_nine_in_ten_of_moulds_known_by_formula() -> None:
    chance = random.Random(20260314)
    covered = 0
    for _ in range(CASES):
        found, truth = a_case(chance)
        covered += abs(found.mm3 - truth) <= room.give_or_take(found.spread_mm3)
    assert 0.86 <= covered / CASES <= 0.94


def short_share(chosen: float, learn: bool) -> float:
    """How many of 400 pours ran short in ten studios that each need 8 % more than reckoned, give or take 6 %."""
    chance, short = random.Random(7), 0
    for _ in range(10):
        pasts: list[Past] = []
        for place in range(60):
            more = allowance(pasts if learn else [], enough=chosen, given_ppm=100_000).ppm
            reckoned = round(chance.uniform(200, 4000)) * 1000
            needed = round(reckoned * exp(chance.gauss(0.08, 0.06)))
            if place >= 20:
                short += reckoned * (1 + more / 1_000_000) < needed
            pasts.append(Past(reckoned, needed))
    return short / CASES


@pytest.mark.parametrize("chosen", [0.8, 0.9, 0.95])
def test_the_learned_allowance_keeps_short_pours_near_the_chosen_rate(chosen: float) -> None:
    assert abs(short_share(chosen, learn=True) - (1 - chosen)) <= 0.04


def test_without_learning_the_same_pours_run_short_far_more_often() -> None:
    assert short_share(0.95, learn=False) > 0.25


def test_few_pours_leave_the_studios_own_figure() -> None:
    few = [Past(1000, 1300)] * 4
    found = allowance(few, enough=0.9, given_ppm=100_000)
    assert (found.ppm, found.count, found.learned) == (100_000, 4, False)
    more = allowance([*few, Past(1000, 1300)], enough=0.9, given_ppm=100_000)
    assert more.learned and more.ppm > 200_000


@pytest.mark.parametrize("wrong", [0, 1])
def test_never_and_always_are_no_rates(wrong: float) -> None:
    with pytest.raises(ValueError):
        allowance([], enough=wrong, given_ppm=1)
    with pytest.raises(ValueError):
        enough_share(0, 1)
