"""How fast work may turn: the rule by width, halved for what isn't round, never above the plate."""

from math import pi

import pytest

from studio.craft.turning import rim_m_s, top_rpm

INCH = 25_400


@pytest.mark.parametrize(
    ("inches", "balance", "rpm"),
    [(6, "true", 1000), (10, "true", 600), (10, "rough", 400), (10, "off", 200), (7, "true", 850), (3, "off", 660)],
)
def test_revolutions_times_inches_stay_under_what_turners_name(inches, balance, rpm):
    assert top_rpm(inches * INCH, balance=balance) == rpm
    assert rpm * inches <= {"true": 6000, "rough": 4000, "off": 2000}[balance]


def test_what_is_doubtful_inside_counts_as_heavy_on_one_side():
    assert top_rpm(10 * INCH, balance="true", doubtful=True) == 200


def test_no_plate_is_ever_passed_however_small_the_work():
    assert top_rpm(INCH // 2, balance="true") == 12_000
    assert top_rpm(INCH // 2, balance="true", plate_rpm=3_200) == 3_200
    assert top_rpm(20 * INCH, balance="true", plate_rpm=3_200) == 300
    assert top_rpm(INCH, balance="true", plate_rpm=7) == 7


@pytest.mark.parametrize("across_um", range(1_000, 3_000_000, 37_123))
def test_wider_never_turns_faster_and_the_rim_stays_under_eight_metres_a_second(across_um):
    rpm = top_rpm(across_um, balance="true")
    assert 0 < rpm <= top_rpm(across_um - 999, balance="true")
    assert rim_m_s(across_um, rpm) <= 8.0


def test_the_rim_runs_pi_times_width_a_turn():
    assert rim_m_s(1_000_000, 60) == pytest.approx(pi)


@pytest.mark.parametrize(
    "wrong",
    [
        {"across_um": 0, "balance": "true"},
        {"across_um": -5, "balance": "true"},
        {"across_um": INCH, "balance": "wobbly"},
        {"across_um": INCH, "balance": "true", "plate_rpm": 0},
    ],
)
def test_nonsense_is_refused(wrong):
    with pytest.raises(ValueError):
        top_rpm(wrong.pop("across_um"), **wrong)
