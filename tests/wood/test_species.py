import pytest
from django.db import IntegrityError, transaction

from studio.craft.moisture import density_at
from studio.wood import operations, queries
from studio.wood.errors import NotLikeThat, ShippedSpecies
from studio.wood.kinds import DEFAULTS, Stabilizing, WoodKind, defaults_for
from studio.wood.models import CRAFT_BASIS, DensityBasis, Species

from .conftest import AT


def test_a_species_is_found_by_any_of_its_names_whatever_the_capitals(owner):
    operations.add_species(
        common_name="Pflaume",
        other_names="Zwetschge, plum",
        botanical_name="Prunus domestica",
        at=AT,
        by=owner,
    )
    for typed in ("pflaume", "ZWETSCHGE", "domestica prunus", "  Plum "):
        assert [row.common_name for row in queries.species_list(typed)] == ["Pflaume"], typed
    assert queries.species_list("nothing of the kind") == []


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"common_name": ""}, "common_name"),
        ({"density_kgm3": 600}, "density_basis"),
        ({"density_basis": "green"}, "density_kgm3"),
        ({"density_kgm3": 1, "density_basis": "green"}, "density_kgm3"),
        ({"density_kgm3": 600, "density_basis": "damp"}, "density_basis"),
        ({"shrinkage_ppm": 400_000}, "shrinkage_ppm"),
        ({"stabilizing": "perhaps"}, "stabilizing"),
        ({"dust_note": "x" * 1001}, "dust_note"),
    ],
)
def test_a_figure_that_cannot_be_is_refused_beside_its_field(owner, wrong, field):
    before = Species.objects.count()
    with pytest.raises(NotLikeThat) as refused:
        operations.add_species(at=AT, by=owner, **{"common_name": "Plum", **wrong})
    assert refused.value.field == field
    assert Species.objects.count() == before


def test_the_database_itself_keeps_a_density_with_its_basis(owner):
    with pytest.raises(IntegrityError), transaction.atomic():
        Species.objects.create(common_name="Plum", density_kgm3=700)


def test_every_basis_is_one_the_formulas_know():
    for basis in DensityBasis:
        assert density_at(600, CRAFT_BASIS[basis], 0) > 0
    assert Species(density_kgm3=600, density_basis="dry12").craft_basis == "12 %"
    assert Species().craft_basis == ""


def test_the_same_wood_is_not_added_twice(owner):
    operations.add_species(common_name="Plum", at=AT, by=owner)
    with pytest.raises(NotLikeThat) as refused:
        operations.add_species(common_name="Plum", at=AT, by=owner)
    assert refused.value.code == "name_taken"
    operations.add_species(common_name="Plum", botanical_name="Prunus insititia", at=AT, by=owner)


def test_of_a_shipped_species_habits_change_and_figures_stay(owner):
    ash = Species.objects.get(common_name="White ash")
    changed = operations.change_species(species=ash, at=AT, by=owner, stabilizing="always", practice_note="mine")
    assert (changed.stabilizing, changed.practice_note) == ("always", "mine")
    with pytest.raises(ShippedSpecies) as refused:
        operations.change_species(species=ash, at=AT, by=owner, density_kgm3=700)
    assert refused.value.field == "density_kgm3"
    ash.refresh_from_db()
    assert ash.density_kgm3 == 550


def test_a_species_of_ones_own_changes_whole(owner):
    plum = operations.add_species(common_name="Plum", density_kgm3=700, density_basis="air12", at=AT, by=owner)
    changed = operations.change_species(species=plum, at=AT, by=owner, density_kgm3=None, density_basis="", oily=True)
    assert (changed.density_kgm3, changed.oily, changed.own) == (None, True, True)


def test_every_kind_has_its_own_defaults_with_steps_in_order():
    order = ("clean", "season", "dry", "stabilize", "cast", "rough", "rest", "turn", "sand", "finish")
    assert set(DEFAULTS) == set(WoodKind)
    for kind, usual in DEFAULTS.items():
        assert list(usual.steps) == sorted(usual.steps, key=order.index), kind
        assert ("stabilize" in usual.steps) or usual.stabilizing != Stabilizing.ALWAYS, kind
    assert defaults_for("") == DEFAULTS[WoodKind.BURR]
    assert defaults_for("cactus").stabilizing == Stabilizing.ALWAYS
    with pytest.raises(ValueError, match="brick"):
        defaults_for("brick")
