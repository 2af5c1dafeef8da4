"""Whether wood wants the bath, how deep a vacuum is, how long it soaks, and what a weighed bath says."""

import pytest

from studio.craft import soak


@pytest.mark.parametrize(
    ("so", "leans", "first"),
    [
        ({"punky": True, "dry_kgm3": 650}, "do", "punky"),
        ({"spalted": True}, "do", "spalted"),
        ({"dry_kgm3": 600, "own_kgm3": 500}, "do", "decayed"),
        ({"dry_kgm3": 600, "own_kgm3": 590}, "either", "sound"),
        ({"dry_kgm3": 420}, "do", "light"),
        ({"dry_kgm3": 820}, "leave", "dense"),
        ({"rule": "always", "dry_kgm3": 820}, "do", "always"),
        ({"rule": "never", "punky": True}, "leave", "never"),
        ({"oily": True, "punky": True, "rule": "always"}, "leave", "oily"),
        ({"resinous": True, "dry_kgm3": 420}, "leave", "resinous"),
        ({"waxed": True}, "leave", "waxed"),
        ({}, "either", "sound"),
    ],
)
def test_the_advice_leans_by_what_decides_first(so, leans, first):
    found = soak.advise(**so)
    assert (found.leans, found.reasons[0]) == (leans, first)


def test_decay_is_seen_in_the_weight_of_dense_wood_too():
    assert soak.advise(dry_kgm3=900).leans == "leave"
    assert soak.advise(dry_kgm3=900, own_kgm3=720).leans == "do"


def test_cracks_are_told_beside_and_decide_nothing():
    assert soak.advise(dry_kgm3=820, checked=True) == soak.Advice("leave", ("dense", "checked"))


@pytest.mark.parametrize("density", [{"dry_kgm3": -1}, {"own_kgm3": -5}])
def test_a_density_below_nothing_is_refused(density):
    with pytest.raises(ValueError, match="above zero"):
        soak.advise(**density)


@pytest.mark.parametrize(
    ("name", "dark"), [("Juglans nigra", True), ("Quercus robur", True), ("Acer", False), ("", False), ("  ", False)]
)
def test_dark_woods_are_known_by_their_genus(name, dark):
    assert soak.dark(name) is dark


def test_a_soak_is_as_long_again_by_the_factor():
    assert soak.soak_s(7200, 1) == 7200 and soak.soak_s(7200, 2) == 14400 and soak.soak_s(0, 1) == 0
    with pytest.raises(ValueError, match="zero or more"):
        soak.soak_s(-1, 1)


def test_light_wood_proves_nothing_by_floating():
    assert not soak.must_sink(350, 1.0, own=True)
    assert soak.must_sink(700, 0.75, own=False)


def test_near_water_an_own_density_proves_more_than_a_species_figure():
    assert soak.must_sink(600, 0.8, own=True) and not soak.must_sink(600, 0.8, own=False)


def test_a_weighed_bath_balances():
    found = soak.bath_loss(before_mg=5_000, after_mg=4_600, kept_mg=650, filled_mg=300, thrown_mg=0)
    assert (found.gone_mg, found.lost_mg, found.odd) == (700, 50, "")
    assert soak.bath_loss(before_mg=5_000, after_mg=5_001, kept_mg=0).odd == "gained"
    less = soak.bath_loss(before_mg=5_000, after_mg=4_900, kept_mg=650)
    assert (less.odd, less.lost_mg) == ("less_than_kept", 0)
    with pytest.raises(ValueError, match="zero or more"):
        soak.bath_loss(before_mg=-1, after_mg=0, kept_mg=0)


@pytest.mark.parametrize("gauge", [0, -1])
def test_no_vacuum_is_no_share(gauge):
    with pytest.raises(ValueError, match="above nothing"):
        soak.vacuum_share(gauge, 0)
