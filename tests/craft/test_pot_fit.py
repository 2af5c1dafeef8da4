"""Moulds in a round pot: what is said to fit was laid out, what is said not to can't be."""

import math

import pytest

from studio.craft.pot_fit import Outside, fit, lies_together

MM = 1000


def box(length, width, height=100, name="Box"):
    return Outside(name, height * MM, None, length * MM, width * MM)


def pail(across, height=100, name="Pail"):
    return Outside(name, height * MM, across * MM)


def into(*moulds, across=300, high=350, **how):
    return fit(moulds, pot_diameter_um=across and across * MM, pot_height_um=high and high * MM, **how)


def test_a_box_goes_in_by_its_diagonal():
    found = into(box(180, 240))
    assert (found.ruling, found.side_um, found.lid_um) == ("fits", 0, 250 * MM)
    wide = into(box(181, 240))
    assert wide.ruling == "no" and [why.code for why in wide.why] == ["too wide"]
    assert wide.why[0].needs_um == math.isqrt((181**2 + 240**2) * MM**2 - 1) + 1


def test_a_round_one_goes_in_by_its_diameter_and_the_lid_wants_its_room():
    assert into(pail(300)).ruling == "fits"
    assert into(pail(301)).why[0].code == "too wide"
    assert into(pail(200, 340)).ruling == "fits"
    tall = into(pail(200, 341))
    assert [(why.code, why.needs_um, why.has_um) for why in tall.why] == [("too tall", 351 * MM, 350 * MM)]
    assert into(pail(200, 341), clearance_um=9 * MM).ruling == "fits"


def test_several_fit_for_sure_only_where_they_were_laid_out():
    assert into(pail(150), pail(150)).ruling == "fits"
    assert into(pail(200), pail(100)).ruling == "fits"
    assert into(pail(200), pail(101)).ruling == "no"
    # the circles round these boxes lie on each other, the boxes may lie side by side all the same
    assert into(box(120, 200), box(120, 200)).ruling == "unsure"
    assert into(box(200, 160), box(200, 160)).ruling == "no"


# How many circles of one size go into a round one: pot over circle (proved packings, by geometry).
@pytest.mark.parametrize(
    ("count", "ratio"),
    [
        (2, 2),
        (3, 1 + 2 / math.sqrt(3)),
        (4, 1 + math.sqrt(2)),
        (5, 1 + 1 / math.sin(math.pi / 5)),
        (6, 3),
        (7, 3),
    ],
)
def test_equal_circles_lie_together_at_the_known_ratio_and_not_below(count, ratio):
    size = 100_000
    assert lies_together([size] * count, math.ceil(size * ratio))
    assert not lies_together([size] * count, math.floor(size * ratio) - 2)


def test_what_is_laid_out_never_lies_on_another():
    # a small one between two big ones doesn't keep them apart
    assert not lies_together([140_000, 140_000, 140_000, 20_000], 300_000)
    assert lies_together([140_000, 140_000, 20_000], 300_000)


def test_what_isnt_known_is_said_and_what_is_known_still_refuses():
    found = into(Outside("New pail"), pail(100))
    assert found.ruling == "unknown" and [(why.code, why.name) for why in found.why] == [
        ("mould unknown", "New pail")
    ]
    assert into(Outside("New pail", 400 * MM)).why[0].code == "too tall"
    assert into(pail(100), across=None).why[0].code == "pot unknown"
    assert into(pail(100, 400), across=None).ruling == "no"


def test_nonsense_is_refused():
    for wrong in ([], [pail(0)], [pail(-1)]):
        with pytest.raises(ValueError, match=r"above zero|no mould"):
            into(*wrong)
    with pytest.raises(ValueError, match="above zero"):
        into(pail(10), clearance_um=-1)
