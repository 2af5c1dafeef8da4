import pytest

from studio.equipment import queries
from studio.equipment.cautions import CAUTIONS, cautions_for
from studio.equipment.models import MachineKind, Purpose
from studio.equipment.operations.loads import PURPOSES, STEPS
from studio.equipment.pots import USUAL_HIGH_PA, USUAL_LOW_PA


@pytest.mark.parametrize("caution", CAUTIONS, ids=lambda caution: caution.code)
def test_a_caution_is_short_names_its_source_and_who_has_the_last_word(caution):
    assert 20 < len(caution.words) <= 240
    assert caution.words.endswith(".")
    assert caution.source
    assert caution.defers_to.split()[0] in ("the", "local", "a")


def test_no_caution_stands_twice():
    assert len({caution.code for caution in CAUTIONS}) == len(CAUTIONS)


@pytest.mark.parametrize("kind", MachineKind.values)
def test_every_kind_of_machine_has_something_to_mind(kind):
    assert cautions_for(kind)


@pytest.mark.parametrize(("kind", "purpose"), [(kind, p) for kind, named in PURPOSES.items() for p in named])
def test_every_purpose_has_something_to_mind(kind, purpose):
    assert cautions_for(kind, purpose)


def test_a_purpose_leaves_out_what_concerns_another(oven):
    codes = {caution.code for caution in queries.cautions(oven, Purpose.WARM)}
    assert "oven_unattended" in codes
    assert "oven_bake_fumes" not in codes


def test_every_purpose_is_posted_under_a_step():
    assert set(STEPS) == set(Purpose.values)


def test_no_caution_names_a_usual_pressure():
    psi = 6894.757293
    usual = {round(USUAL_LOW_PA / psi), round(USUAL_HIGH_PA / psi)}
    assert usual == {40, 60}
    assert not any(f"{figure} psi" in caution.words for figure in usual for caution in CAUTIONS)
