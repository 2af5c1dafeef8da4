import pytest

from studio.ledger.accounts import Component
from studio.stores import operations
from studio.stores.errors import MaterialInUse, NotLikeThat, SomethingLeft
from studio.stores.models import COMPONENT_OF, Material, MaterialKind, ResinSystem, WhyGone

from .conftest import AT, GRAM, day


def test_every_kind_of_material_has_its_component():
    assert set(COMPONENT_OF) == set(MaterialKind)
    assert COMPONENT_OF[MaterialKind.FITTING] == Component.CONSUMABLE


@pytest.mark.parametrize("kind", [MaterialKind.RESIN_A, MaterialKind.STABILIZING, MaterialKind.COLORANT])
def test_what_is_mixed_by_weight_is_not_counted_in_pieces(owner, kind):
    with pytest.raises(NotLikeThat) as refused:
        operations.add_material(name="Thing", kind=kind, counted=True, at=AT, by=owner)
    assert refused.value.field == "counted"


def test_a_name_is_used_once_whatever_its_capitals_until_it_is_put_away(owner, resin):
    with pytest.raises(NotLikeThat) as refused:
        operations.add_material(name="  clear a", kind=MaterialKind.RESIN_A, at=AT, by=owner)
    assert refused.value.code == "name_taken"
    operations.change_material(material=resin, at=AT, by=owner, archived=True)
    operations.add_material(name="Clear A", kind=MaterialKind.RESIN_A, at=AT, by=owner)
    assert Material.objects.matching("CLEAR").count() == 2


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"name": " "}, "name"),
        ({"name": "x" * 121}, "name"),
        ({"name": "a\x00b"}, "name"),
        ({"kind": "glue"}, "kind"),
        ({"density_kgm3": 1}, "density_kgm3"),
        ({"reorder_level": 0}, "reorder_level"),
        ({"shelf_life_s": -1}, "shelf_life_s"),
    ],
)
def test_a_figure_or_word_that_cannot_be_is_refused_beside_its_field(owner, wrong, field):
    given = {"name": "Thing", "kind": MaterialKind.FINISH, **wrong}
    with pytest.raises(NotLikeThat) as refused:
        operations.add_material(at=AT, by=owner, **given)
    assert refused.value.field == field
    assert not Material.objects.exists()


def test_what_was_bought_does_not_become_another_kind(owner, resin, buy):
    operations.change_material(material=resin, at=AT, by=owner, kind=MaterialKind.RESIN_B)
    operations.change_material(material=resin, at=AT, by=owner, kind=MaterialKind.RESIN_A)
    buy(resin, 10, 1)
    with pytest.raises(MaterialInUse):
        operations.change_material(material=resin, at=AT, by=owner, kind=MaterialKind.RESIN_B)


def test_a_material_is_put_away_only_empty(owner, resin, buy):
    batch = buy(resin, 10, 1)
    with pytest.raises(SomethingLeft):
        operations.change_material(material=resin, at=day(1), by=owner, archived=True)
    operations.write_off(batch=batch, why=WhyGone.OLD, at=day(1), by=owner)
    assert operations.change_material(material=resin, at=day(1), by=owner, archived=True).archived


@pytest.fixture
def clear(owner, resin, hardener):
    return operations.add_resin_system(
        name="Clear",
        part_a=resin,
        part_b=hardener,
        parts_a=100_000,
        parts_b=83_000,
        work_time_s=420,
        work_time_at_mdegc=23_000,
        smallest_mg=100 * GRAM,
        largest_mg=4000 * GRAM,
        colorant_limit_ppm=30_000,
        ratio_tolerance_ppm=10_000,
        source="data sheet",
        at=AT,
        by=owner,
    )


def test_a_resin_keeps_what_its_sheet_says(clear):
    row = ResinSystem.objects.get(pk=clear.pk)
    assert (row.parts_a, row.parts_b, row.work_time_s, row.source) == (100_000, 83_000, 420, "data sheet")
    assert row.demould_s is None


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"parts_a": 0}, "parts_a"),
        ({"smallest_mg": 5000 * GRAM}, "smallest_mg"),
        ({"colorant_limit_ppm": 1_000_001}, "colorant_limit_ppm"),
        ({"mixed_density_kgm3": 1}, "mixed_density_kgm3"),
        ({"colour_into": "c"}, "colour_into"),
        ({"work_time_s": 0}, "work_time_s"),
        ({"recoat_from_s": -1}, "recoat_from_s"),
        ({"recoat_to_s": 0}, "recoat_to_s"),
        ({"recoat_from_s": 7200, "recoat_to_s": 7200}, "recoat_to_s"),
        ({"post_cure_s": 0}, "post_cure_s"),
        ({"post_cure_mdegc": 60_000}, "post_cure_s"),
        ({"post_cure_s": 7200, "post_cure_mdegc": 200_001}, "post_cure_mdegc"),
    ],
)
def test_a_sheet_that_contradicts_itself_is_refused(owner, clear, wrong, field):
    with pytest.raises(NotLikeThat) as refused:
        operations.change_resin_system(system=clear, at=AT, by=owner, **wrong)
    assert refused.value.field == field


def test_a_sheet_says_when_more_bonds_and_what_is_cured_in_the_warm(owner, clear):
    sheet = {"recoat_from_s": 0, "recoat_to_s": 43_200, "post_cure_s": 14_400, "post_cure_mdegc": 60_000}
    operations.change_resin_system(system=clear, at=AT, by=owner, **sheet)
    row = ResinSystem.objects.get(pk=clear.pk)
    assert {name: getattr(row, name) for name in sheet} == sheet


def test_part_a_is_the_bottle_that_says_part_a(owner, clear, resin, hardener):
    with pytest.raises(NotLikeThat) as refused:
        operations.change_resin_system(system=clear, at=AT, by=owner, part_a=hardener)
    assert "Part A" in refused.value.message


def test_a_part_of_a_resin_in_use_is_not_put_away(owner, clear, hardener):
    with pytest.raises(MaterialInUse):
        operations.change_material(material=hardener, at=AT, by=owner, archived=True)
    operations.change_resin_system(system=clear, at=AT, by=owner, archived=True)
    assert operations.change_material(material=hardener, at=AT, by=owner, archived=True).archived


def test_a_field_that_does_not_exist_is_a_mistake_in_the_program(owner, resin):
    with pytest.raises(TypeError):
        operations.change_material(material=resin, at=AT, by=owner, colour="red")
