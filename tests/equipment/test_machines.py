from datetime import date, timedelta

import pytest
from django.db import IntegrityError, connection, transaction

from studio.equipment import operations, queries
from studio.equipment.errors import MachineRefused, MouldRefused
from studio.equipment.models import Machine, Mould
from studio.equipment.rates import energy_micro, wear_micro
from studio.people.roles import NotAllowed
from tests.equipment.conftest import BAR, BEGAN, HOUR, MONEY

DAY = BEGAN.date()


def add(owner, **given):
    given = {"kind": "oven", "name": "A small oven", **given}
    return operations.add_machine(by=owner, at=BEGAN, **given)


def test_a_machine_needs_only_its_kind_and_a_name(owner):
    machine = add(owner)
    assert machine.duty_ppm == 350_000
    assert (machine.power_w, machine.certified_pa, machine.unaltered) == (None, None, "unknown")


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("power_w", -1),
        ("power_w", 10**9),
        ("power_w", 1.5),
        ("power_w", True),
        ("duty_ppm", 1_000_001),
        ("duty_ppm", None),
        ("certified_pa", 0),
        ("certified_pa", 60 * BAR),
        ("relief_pa", -BAR),
        ("highest_mdegc", 2_000_000),
        ("life_s", 0),
        ("price_micro", -1),
        ("inside_diameter_um", 0),
        ("step_mg", 0),
        ("unaltered", "perhaps"),
        ("last_inspected_on", DAY + timedelta(days=1)),
        ("note", "bell\x07"),
    ],
)
def test_a_figure_that_cannot_be_right_is_refused_beside_its_field(owner, field, value):
    with pytest.raises(MachineRefused) as stop:
        add(owner, **{field: value})
    assert stop.value.field == field
    assert stop.value.message.endswith(".")
    assert not Machine.objects.exists()


@pytest.mark.parametrize("name", ["", "   ", "x" * 121, "two\nlines", "nul\x00"])
def test_a_name_that_cannot_be_kept_is_refused(owner, name):
    with pytest.raises(MachineRefused) as stop:
        add(owner, name=name)
    assert stop.value.field == "name"


def test_an_unknown_kind_is_refused(owner):
    with pytest.raises(MachineRefused) as stop:
        add(owner, kind="kiln")
    assert stop.value.field == "kind"


def test_two_machines_in_use_never_share_a_name_whatever_the_capitals(owner):
    first = add(owner, name="Ofen Süd")
    with pytest.raises(MachineRefused, match="another name"):
        add(owner, name="OFEN SÜD")
    operations.retire_machine(machine=first, on=DAY, by=owner, at=BEGAN)
    second = add(owner, name="Ofen Süd")
    with pytest.raises(MachineRefused, match="another name"):
        operations.bring_back_machine(machine=first, by=owner)
    operations.change_machine(machine=second, by=owner, at=BEGAN, name="Ofen Nord")
    assert operations.bring_back_machine(machine=first, by=owner).retired_on is None


def test_the_database_holds_the_name_too(owner):
    add(owner, name="Twin")
    with pytest.raises(IntegrityError), transaction.atomic():
        Machine.objects.create(kind="oven", name="twin", added_by=owner, added_at=BEGAN)


def test_the_database_refuses_a_fraction_written_past_the_model(owner):
    machine = add(owner)
    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE equipment_machine SET power_w = 1.5 WHERE id = %s", [machine.pk])
        cursor.execute("SELECT power_w FROM equipment_machine WHERE id = %s", [machine.pk])
        if cursor.fetchone()[0] == 2:
            raise IntegrityError("PostgreSQL stores whole numbers only and rounds")


def test_a_visitor_changes_no_machine(visitor, oven):
    with pytest.raises(NotAllowed):
        operations.add_machine(kind="oven", name="Mine", by=visitor, at=BEGAN)
    with pytest.raises(NotAllowed):
        operations.change_machine(machine=oven, by=visitor, at=BEGAN, power_w=1)


def test_a_machine_is_retired_once_and_not_with_a_load_in_it(owner, oven, blanks):
    load = operations.start_load(machine=oven, purpose="dry", at=BEGAN, by=owner, now=BEGAN)
    with pytest.raises(MachineRefused, match="End it first"):
        operations.retire_machine(machine=oven, on=DAY, by=owner, at=BEGAN)
    later = BEGAN + 48 * HOUR
    operations.end_load(load=load, at=later, by=owner, now=later)
    with pytest.raises(MachineRefused, match="that day or a later one"):
        operations.retire_machine(machine=oven, on=DAY, by=owner, at=later)
    with pytest.raises(MachineRefused, match="still to come"):
        operations.retire_machine(machine=oven, on=date(2030, 1, 1), by=owner, at=later)
    operations.retire_machine(machine=oven, on=later.date(), by=owner, at=later)
    with pytest.raises(MachineRefused, match="already"):
        operations.retire_machine(machine=oven, on=later.date(), by=owner, at=later)
    assert queries.machines() == []
    assert [row.machine for row in queries.machines(retired=True)] == [oven]


def test_a_plate_is_not_changed_under_pressure(owner, pot):
    operations.start_load(machine=pot, purpose="pressure", at=BEGAN, by=owner, gauge_pa=2 * BAR, now=BEGAN)
    with pytest.raises(MachineRefused) as stop:
        operations.change_machine(machine=pot, by=owner, at=BEGAN, certified_pa=10 * BAR)
    assert stop.value.field == "certified_pa"
    assert operations.change_machine(machine=pot, by=owner, at=BEGAN, note="new gasket").note == "new gasket"


def test_an_hour_costs_its_power_and_its_wear(owner, oven):
    assert energy_micro(oven, 3600, 300_000) == 300_000
    assert wear_micro(oven, 3600) == 100_000
    assert queries.hourly(oven, DAY) == queries.Hourly(300_000, 100_000)
    bare = add(owner, name="Bare")
    assert queries.hourly(bare, DAY) == queries.Hourly(None, None)


def test_a_mould_has_the_measures_its_shape_needs(owner):
    box = operations.add_mould(
        name="Long box", shape="box", by=owner, at=BEGAN, length_um=300_000, width_um=60_000, height_um=50_000
    )
    with pytest.raises(MouldRefused) as stop:
        operations.add_mould(name="Pail", shape="tapered", by=owner, at=BEGAN, diameter_um=100_000)
    assert stop.value.field == "top_diameter_um"
    with pytest.raises(MouldRefused, match="held"):
        operations.add_mould(name="Odd one", shape="measured", by=owner, at=BEGAN)
    with pytest.raises(MouldRefused, match="another name"):
        operations.add_mould(name="LONG BOX", shape="measured", by=owner, at=BEGAN, fill_mm3=900_000)
    with pytest.raises(MouldRefused) as stop:
        operations.change_mould(mould=box, by=owner, shape="round")
    assert stop.value.field == "diameter_um"
    assert operations.change_mould(mould=box, by=owner, fill_mm3=880_000).fill_mm3 == 880_000
    operations.retire_mould(mould=box, on=DAY, by=owner, at=BEGAN)
    assert list(queries.moulds()) == []
    with pytest.raises(IntegrityError), transaction.atomic():
        Mould.objects.create(name="None", shape="box", added_by=owner, added_at=BEGAN)


def test_money_stays_whole(oven):
    assert oven.price_micro == 600 * MONEY
    assert type(wear_micro(oven, 1)) is int


def test_a_mould_holds_what_it_was_measured_to_hold_before_what_geometry_says(owner):
    def room(**given):
        return queries.mould_mm3(operations.add_mould(by=owner, at=BEGAN, **given))

    box = {"shape": "box", "length_um": 300_000, "width_um": 60_000, "height_um": 50_000}
    assert room(name="One", **box) == 900_000
    assert room(name="Two", fill_mm3=870_000, **box) == 870_000
    assert room(name="Three", shape="round", diameter_um=100_000, height_um=100_000) == 785_398
    # A cone with its tip cut off, 80 to 100 mm over 120 mm: pi/12 * 120 * (80² + 80*100 + 100²).
    pail = {"shape": "tapered", "diameter_um": 80_000, "top_diameter_um": 100_000, "height_um": 120_000}
    assert room(name="Four", **pail) == 766_549
    assert room(name="Five", shape="measured", fill_mm3=412_000) == 412_000
