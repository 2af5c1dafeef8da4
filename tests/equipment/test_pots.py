"""A pressure pot without a sound plate takes no load, and nobody overrules it."""

from datetime import timedelta

import pytest

from studio.equipment import operations, queries
from studio.equipment.errors import LoadRefused, NeedsConfirm, PotRefused
from studio.equipment.models import Load
from studio.people import operations as people
from tests.equipment.conftest import BAR, BEGAN, HOUR

NOW = BEGAN + 1000 * HOUR
DAY = BEGAN.date()


def hold(owner, pot, gauge_pa, **given):
    return operations.start_load(
        machine=pot, purpose="pressure", at=BEGAN, by=owner, gauge_pa=gauge_pa, now=NOW, **given
    )


def change(owner, pot, **changes):
    return operations.change_machine(machine=pot, by=owner, at=BEGAN, **changes)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"certified_pa": None}, "no_certificate"),
        ({"relief_pa": None}, "no_relief_valve"),
        ({"unaltered": "no"}, "altered"),
        ({"unaltered": "unknown"}, "perhaps_altered"),
    ],
)
@pytest.mark.parametrize("gauge_pa", [1, BAR])
def test_a_pot_without_a_sound_plate_takes_no_load_however_it_is_asked(owner, pot, changes, code, gauge_pa):
    pot = change(owner, pot, **changes)
    for insisting in ({}, {"confirm": True, "why": "I have always done it"}):
        with pytest.raises(PotRefused) as stop:
            hold(owner, pot, gauge_pa, **insisting)
        assert code in stop.value.codes
        assert stop.value.field == "gauge_pa"
    assert not Load.objects.exists()


def test_the_same_pot_with_a_sound_plate_takes_it(owner, pot):
    assert hold(owner, pot, BAR).gauge_pa == BAR


@pytest.mark.parametrize("gauge_pa", [5 * BAR + 1, 6 * BAR + 1])
def test_above_certificate_or_valve_no_role_gets_through(owner, pot, gauge_pa):
    maker = people.add_user(
        username="jo",
        display_name="Jo",
        role="maker",
        password="soft wet shavings fly",  # noqa: S106  an invented one, for tests
        by=owner,
        at=BEGAN,
    )
    for person in (owner, maker):
        with pytest.raises(PotRefused, match="plate says"):
            hold(person, pot, gauge_pa, confirm=True, why="it held last time")


def test_above_the_certificate_is_refused_where_the_valve_would_let_it(owner, pot):
    pot = change(owner, pot, certified_pa=4 * BAR)
    with pytest.raises(PotRefused) as stop:
        hold(owner, pot, 4 * BAR + 1, confirm=True, why="the valve is at five")
    assert stop.value.codes == ("above_the_certificate",)


def test_close_to_the_limit_asks_and_wants_words(owner, pot):
    assert hold(owner, pot, 450_000).warned_codes == ()
    operations.end_load(load=Load.objects.get(), at=BEGAN + HOUR, by=owner, now=NOW)
    later = {"machine": pot, "purpose": "pressure", "at": BEGAN + HOUR, "by": owner, "now": NOW}
    for insisting, field in (({}, "gauge_pa"), ({"confirm": True}, "why"), ({"confirm": True, "why": " "}, "why")):
        with pytest.raises(NeedsConfirm) as stop:
            operations.start_load(gauge_pa=450_001, **insisting, **later)
        assert stop.value.field == field
        assert stop.value.codes == ("close_to_the_limit",)
    load = operations.start_load(gauge_pa=450_001, confirm=True, why="new valve, tested today", **later)
    assert (load.warned_codes, load.why) == (("close_to_the_limit",), "new valve, tested today")


@pytest.mark.parametrize("gauge_pa", [None, 0, -BAR, 2.5, True])
def test_a_pot_is_told_its_pressure(owner, pot, gauge_pa):
    with pytest.raises(LoadRefused, match="on the gauge"):
        hold(owner, pot, gauge_pa)


def test_more_air_during_the_load_is_judged_like_the_first(owner, pot):
    load = hold(owner, pot, 2 * BAR)
    with pytest.raises(PotRefused):
        operations.change_load(load=load, at=BEGAN, by=owner, gauge_pa=7 * BAR, confirm=True, why="x", now=NOW)
    with pytest.raises(NeedsConfirm):
        operations.change_load(load=load, at=BEGAN, by=owner, gauge_pa=480_000, now=NOW)
    load = operations.change_load(
        load=load, at=BEGAN, by=owner, gauge_pa=480_000, confirm=True, why="stand clear", now=NOW
    )
    assert (load.gauge_pa, load.warned_codes, load.why) == (480_000, ("close_to_the_limit",), "stand clear")
    load = operations.change_load(load=load, at=BEGAN, by=owner, not_before=BEGAN + HOUR, now=NOW)
    assert (load.gauge_pa, load.not_before) == (480_000, BEGAN + HOUR)


def test_an_inspection_past_its_day_and_a_valve_above_the_plate_are_warned_about(owner, pot):
    pot = change(owner, pot, inspect_by=DAY - timedelta(days=1), relief_pa=7 * BAR)
    with pytest.raises(NeedsConfirm) as stop:
        hold(owner, pot, BAR)
    assert set(stop.value.codes) == {"inspection_due", "valve_above_the_certificate"}


def test_pressure_goes_into_a_pressure_pot_only(owner, oven):
    other = operations.add_machine(kind="other", name="A paint tank", by=owner, at=BEGAN)
    chamber = operations.add_machine(kind="vacuum_chamber", name="The glass", by=owner, at=BEGAN)
    for machine in (oven, other, chamber):
        with pytest.raises(LoadRefused) as stop:
            hold(owner, machine, BAR)
        assert stop.value.field == "purpose"
    with pytest.raises(LoadRefused, match="one atmosphere"):
        operations.start_load(machine=chamber, purpose="vacuum", at=BEGAN, by=owner, gauge_pa=2 * BAR, now=NOW)
    load = operations.start_load(machine=chamber, purpose="vacuum", at=BEGAN, by=owner, gauge_pa=95_000, now=NOW)
    assert load.step == "stabilize"


@pytest.mark.parametrize(
    ("certified", "relief", "shown"),
    [
        (6 * BAR, 5 * BAR, True),
        (6 * BAR, 2 * BAR, False),
        (3 * BAR, 5 * BAR, False),
        (414_000, 414_000, False),
        (None, 5 * BAR, False),
        (6 * BAR, None, False),
    ],
)
def test_usual_pressures_are_never_shown_beside_a_lower_plate(owner, pot, certified, relief, shown):
    pot = change(owner, pot, certified_pa=certified, relief_pa=relief)
    said = queries.pressure_advice(pot, DAY)
    assert (said.usual_high_pa is not None, said.usual_low_pa is not None) == (shown, shown)
    assert said.takes_loads == (certified is not None and relief is not None)
    if shown:
        assert said.usual_high_pa < said.warn_pa < said.limit_pa
        assert said.usual_source == "common practice, no source"


def test_the_lid_is_pushed_by_pressure_times_area(owner, pot):
    # 4 bar on 300 mm: 28.27 kN (force = gauge pressure × area).
    pot = change(owner, pot, relief_pa=4 * BAR)
    assert queries.pressure_advice(pot, DAY).lid_force_n == 28_274


def test_the_round_is_told_what_waits(owner, oven, pot, blanks):
    change(owner, pot, inspect_by=DAY + timedelta(days=20))
    operations.start_load(
        machine=oven, purpose="dry", at=BEGAN, by=owner, places=[(a, None) for a in blanks(2)], now=NOW
    )
    hold(owner, pot, BAR, not_before=BEGAN + 4 * HOUR)
    operations.add_machine(kind="pressure_pot", name="The old pot", by=owner, at=BEGAN)
    said = {(wait.place, wait.subject): wait for wait in queries.waits(BEGAN + HOUR)}
    assert set(said) == {
        ("oven", "The brick oven"),
        ("pressure pot", "The grey pot"),
        ("desk", "The grey pot"),
        ("desk", "The old pot"),
    }
    opening = said["pressure pot", "The grey pot"]
    assert (opening.kind, opening.begins(BEGAN + HOUR), opening.begins(BEGAN + 4 * HOUR)) == (
        "not before",
        False,
        True,
    )
    assert said["oven", "The brick oven"].reason == "2 inside"
    assert "No certified maximum" in said["desk", "The old pot"].reason


def test_a_bubble_shrinks_less_beside_the_thinner_air_of_a_height(owner, pot):
    """Boyle's law: volume goes as absolute pressure, and 1,500 m leave 84.6 kPa of 101.3 (ISO 2533:1975)."""
    told = dict(queries.pressure_advice(pot, DAY).bubbles)
    people.set_setting(key="altitude_m", value=1500, by=owner, at=BEGAN, from_on=DAY)
    higher = dict(queries.pressure_advice(pot, DAY).bubbles)
    gauge = min(told)
    assert told[gauge] == pytest.approx(101_325 / (101_325 + gauge) * 1e6, abs=2)
    assert higher[gauge] == pytest.approx(84_556 / (84_556 + gauge) * 1e6, rel=2e-4)
