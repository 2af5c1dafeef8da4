"""What is asked before wet, thick wood goes into a hot oven."""

import pytest

from studio.equipment import operations as equipment
from studio.equipment.models import Load, Machine
from studio.fields.errors import Refused
from studio.people import operations as people
from studio.people.models import User
from studio.work import operations as work
from studio.work.models import StepState, Workpiece
from tests.work.conftest import BEGAN, DAY, GRAM, HOUR, NOW

HOT, MILD = 103_000, 45_000


def load(oven: Machine, pieces: list[Workpiece], owner: User, **more) -> Load:
    how = {"purpose": "dry", "set_point_mdegc": HOT, "at": BEGAN + DAY, "by": owner, "now": NOW, **more}
    return work.load_up(machine=oven, workpieces=pieces, **how)


def weigh(piece: Workpiece, grams: int, condition: str, at, **more) -> None:
    work.weigh(workpiece=piece, mass_mg=grams * GRAM, at=at, condition=condition, now=NOW, sure=True, **more)


def test_a_wet_lump_straight_into_the_hot_oven_is_asked_about_and_a_tick_answers(lump, oven, owner):
    with pytest.raises(Refused, match="41 is thick.*103.*checks.*60") as stop:
        load(oven, [lump], owner)
    assert (stop.value.code, stop.value.field) == ("sure", "workpieces")
    assert not Load.objects.exists() and not lump.steps.filter(state=StepState.OPEN).exists()
    assert load(oven, [lump], owner, confirm=True).places.count() == 1


def test_only_the_wet_and_thick_ones_are_named(blanks, oven, owner):
    weigh(blanks[0], 2400, "oven_dry", BEGAN + 2 * HOUR)
    blanks[1].length_um, blanks[1].width_um, blanks[1].height_um = 300_000, 200_000, 30_000
    blanks[1].save()
    with pytest.raises(Refused, match="^41/3 is thick"):
        load(oven, blanks, owner)
    assert load(oven, blanks[:2], owner).places.count() == 2


def test_a_light_blank_nobody_measured_is_not_asked_about(blanks, oven, owner):
    weigh(blanks[0], 900, "wet", BEGAN + 2 * HOUR)
    assert load(oven, blanks[:1], owner)


@pytest.mark.parametrize("how", [{"set_point_mdegc": MILD}, {"set_point_mdegc": None}, {"purpose": "warm"}])
def test_a_slow_warm_up_and_an_oven_nobody_set_are_not_asked_about(lump, oven, owner, how):
    assert load(oven, [lump], owner, **how)


def test_what_is_mild_enough_is_the_studios_to_say(lump, oven, owner):
    people.set_setting(key="warm_up_most_mdegc", value=40_000, by=owner, at=BEGAN)
    with pytest.raises(Refused, match="40"):
        load(oven, [lump], owner, set_point_mdegc=MILD)


def test_seasoned_wood_and_wood_warmed_slowly_go_in_unasked(blanks, oven, owner):

    work.begin_step(workpiece=blanks[0], code="season", at=BEGAN + HOUR, person=owner)
    work.end_step(workpiece=blanks[0], code="season", at=BEGAN + 2 * HOUR, person=owner)
    warm = load(oven, blanks[1:2], owner, purpose="warm", set_point_mdegc=MILD, at=BEGAN + 2 * HOUR)
    work.unload(load=warm, at=BEGAN + 20 * HOUR, by=owner, now=NOW)
    assert load(oven, blanks[:2], owner).places.count() == 2


def test_seasoning_wood_is_wet_until_three_weights_agree(blanks, oven, owner):
    for number, grams in enumerate((2900, 2599, 2598)):
        weigh(blanks[0], grams, "season", BEGAN + (2 + number) * HOUR)
    with pytest.raises(Refused, match="41/1 is thick"):
        load(oven, blanks[:1], owner)
    weigh(blanks[0], 2597, "season", BEGAN + 6 * HOUR)
    assert load(oven, blanks[:1], owner)


def test_what_was_weighed_dry_only_afterwards_was_wet_then(lump, oven, owner):
    weigh(lump, 9000, "oven_dry", BEGAN + 5 * DAY)
    with pytest.raises(Refused, match="still wet"):
        load(oven, [lump], owner)


def test_late_into_a_hot_load_is_asked_about_too(blanks, oven, owner):
    weigh(blanks[0], 2400, "oven", BEGAN + 2 * HOUR)
    load(oven, blanks[:1], owner)
    with pytest.raises(Refused, match="41/2 and 41/3 are thick"):
        load(oven, blanks[1:], owner, at=BEGAN + DAY + HOUR)
    assert Load.objects.get().places.count() == 1
    assert load(oven, blanks[1:], owner, at=BEGAN + DAY + HOUR, confirm=True).places.count() == 3


def test_both_questions_are_read_before_one_tick_answers_them(lump, oven, owner, monkeypatch):
    from studio.equipment.errors import NeedsConfirm

    def asks(**how):
        raise NeedsConfirm("The door hangs. Go on?", codes=("door",), field="machine")

    monkeypatch.setattr(equipment, "start_load", asks)
    with pytest.raises(NeedsConfirm, match="The door hangs. Go on\\? 41 is thick"):
        load(oven, [lump], owner)


def test_how_thick_is_thick_is_the_studios_to_say(blanks, oven, owner):
    blanks[1].length_um, blanks[1].width_um, blanks[1].height_um = 300_000, 200_000, 40_000
    blanks[1].save()
    assert load(oven, blanks[1:2], owner).places.count() == 1
    people.set_setting(key="thick_um", value=38_000, by=owner, at=BEGAN)
    weigh(blanks[2], 900, "wet", BEGAN + 2 * HOUR)
    blanks[2].length_um, blanks[2].width_um, blanks[2].height_um = 300_000, 200_000, 40_000
    blanks[2].save()
    with pytest.raises(Refused, match="^41/3 is thick"):
        load(oven, blanks[2:3], owner)


@pytest.mark.parametrize(
    ("heat", "words"), [(119_000, ""), (121_000, "120.°C wood darkens"), (150_000, "chars, and may")]
)
def test_heat_that_darkens_or_chars_is_asked_about(blanks, oven, owner, heat, words):
    """Common practice, no source: dry wood in the oven for days darkens from about 120 °C and chars from 150 °C."""
    weigh(blanks[0], 900, "wet", BEGAN + 2 * HOUR)
    if not words:
        assert load(oven, blanks[:1], owner, set_point_mdegc=heat)
        return
    with pytest.raises(Refused, match=words) as stop:
        load(oven, blanks[:1], owner, set_point_mdegc=heat)
    assert stop.value.code == "sure" and not Load.objects.exists()
    assert load(oven, blanks[:1], owner, set_point_mdegc=heat, confirm=True)


def test_cones_are_asked_about_above_the_heat_at_which_their_pitch_runs(blanks, oven, owner):
    weigh(blanks[0], 300, "wet", BEGAN + 2 * HOUR)
    Workpiece.objects.filter(pk=blanks[0].pk).update(wood_kind="cone")
    with pytest.raises(Refused, match="pitch of cones.*95.°C: give 41/1 a lower heat, on foil"):
        load(oven, blanks[:1], owner)
    assert load(oven, blanks[:1], owner, set_point_mdegc=95_000)


def test_raising_a_running_oven_asks_what_loading_it_hot_would_have_asked(lump, oven, owner):
    running = load(oven, [lump], owner, set_point_mdegc=MILD)
    later = BEGAN + DAY + HOUR
    with pytest.raises(Refused, match="41 is thick.*checks") as stop:
        work.set_load(load=running, set_point_mdegc=HOT, at=later, by=owner, now=NOW)
    assert (stop.value.code, stop.value.field) == ("sure", "set_point_mdegc")
    running.refresh_from_db()
    assert running.set_point_mdegc == MILD
    work.set_load(load=running, set_point_mdegc=40_000, at=later, by=owner, now=NOW)
    assert work.set_load(load=running, set_point_mdegc=HOT, at=later, by=owner, now=NOW, confirm=True)
    running.refresh_from_db()
    assert running.set_point_mdegc == HOT
