"""What is checked before a lid closes, and what the gauge said since."""

from datetime import timedelta

import pytest

from studio.equipment import operations, pot_check
from studio.equipment.errors import AlreadyEnded, LoadRefused, MachineRefused, NeedsConfirm
from studio.equipment.models import GaugeReading
from studio.ledger.errors import InTheFuture
from studio.people import operations as people
from tests.equipment.conftest import BAR, BEGAN, HOUR

NOW = BEGAN + 1000 * HOUR
DAY = BEGAN.date()
MINUTE = timedelta(minutes=1)
MM = 1000


def mould(owner, name="Long box", **sizes):
    inside = {"shape": "box", "length_um": 150 * MM, "width_um": 80 * MM, "height_um": 80 * MM}
    return operations.add_mould(name=name, by=owner, at=BEGAN, **{**inside, **sizes})


def box(owner, name, length, width, height):
    return mould(
        owner, name, outside_length_um=length * MM, outside_width_um=width * MM, outside_height_um=height * MM
    )


def words(found):
    return " ".join(found.words).replace("\u00a0", " ")


def hold(owner, pot, at=BEGAN, gauge_pa=4 * BAR):
    return operations.start_load(machine=pot, purpose="pressure", at=at, by=owner, gauge_pa=gauge_pa, now=NOW)


def read(owner, load, gauge_pa, at, **how):
    return operations.read_gauge(load=load, gauge_pa=gauge_pa, at=at, by=owner, now=NOW, **how)


def test_a_mould_goes_in_by_its_outside_and_the_words_say_how_much_is_left(owner, pot):
    found = pot_check.pot_fit(pot, [box(owner, "Long box", 180, 100, 100)])
    assert found.sure and words(found) == (
        "Long box goes in by its measures: 94.1 mm to spare beside it, 250 mm under the lid."
    )
    tall = pot_check.pot_fit(pot, [box(owner, "Tall box", 100, 100, 345)])
    assert tall.ruling == "no" and "with air under the lid it wants 355 mm" in words(tall)
    wide = pot_check.pot_fit(pot, [box(owner, "Wide box", 250, 200, 100)])
    assert wide.ruling == "no" and "320.2 mm across at its widest, The grey pot is 300 mm" in words(wide)


def test_what_can_not_be_known_is_to_be_tried_dry(owner, pot):
    one = mould(owner, "New box")
    unknown = pot_check.pot_fit(pot, [one])
    assert unknown.ruling == "unknown" and "How big New box is outside isn't known" in unknown.words[0]
    two = [box(owner, name, 200, 120, 100) for name in ("One", "Two")]
    assert "Can't be sure that One and Two lie in The grey pot together" in pot_check.pot_fit(pot, two).words[0]


def filled(owner, pot, times):
    """Loads one after the other, each read at pressure so many seconds after the lid was shut."""
    for nth, seconds in enumerate(times):
        at = BEGAN + nth * 10 * HOUR
        load = hold(owner, pot, at)
        read(owner, load, 4 * BAR, at + timedelta(seconds=seconds))
        operations.end_load(load=load, at=at + 5 * HOUR, by=owner, now=NOW)


def test_the_fill_time_is_learned_from_the_last_loads_and_says_so(owner, pot):
    assert pot_check.fill_times([pot], DAY) == {}
    people.set_setting(key="pot_fill_s", value=240, by=owner, at=BEGAN)
    told = pot_check.fill_times([pot], DAY)[pot.pk]
    assert (told.seconds, told.whose, told.learned) == (240, "by your settings", False)
    filled(owner, pot, [100, 110, 5000, 120, 130, 600])
    own = pot_check.fill_times([pot], DAY)[pot.pk]
    assert (own.seconds, own.whose) == (120, "The grey pot by your last 5 loads")
    assert pot_check.fill_times([pot], DAY, 2 * BAR)[pot.pk].seconds == 60


def test_without_loads_it_is_reckoned_from_the_weakest_compressor(owner, pot):
    for name, delivery in (("Big one", 3_000_000), ("Small one", 1_000_000)):
        operations.add_machine(kind="compressor", name=name, by=owner, at=BEGAN, delivery_mm3_s=delivery)
    found = pot_check.fill_times([pot], DAY, 4 * BAR)[pot.pk]
    # 24.74 l of pot take 3.95 times that of free air at 4 bar, one litre in a second
    assert found.seconds == 98 and "reckoned from what your compressor delivers" in found.whose


@pytest.mark.parametrize("wrong", [0, -1, 10**9])
def test_a_delivery_that_can_not_be_is_refused(owner, wrong):
    with pytest.raises(MachineRefused, match="free air it delivers"):
        operations.add_machine(kind="compressor", name="Small one", by=owner, at=BEGAN, delivery_mm3_s=wrong)


def test_one_tap_at_pressure_and_a_fall_is_asked_about(owner, pot):
    load = hold(owner, pot)
    first = read(owner, load, 4 * BAR, BEGAN + 2 * MINUTE)
    assert read(owner, load, 4 * BAR, BEGAN + 2 * MINUTE) == first
    seen = pot_check.gauge(load)
    assert (seen.reached_at, seen.fell_from) == (BEGAN + 2 * MINUTE, None)
    with pytest.raises(NeedsConfirm, match=r"fell from 4.bar to 3\.5.bar.*listen at the lid"):
        read(owner, load, 350_000, BEGAN + HOUR)
    assert GaugeReading.objects.count() == 1
    read(owner, load, 350_000, BEGAN + HOUR, confirm=True)
    assert pot_check.gauge(load).fell_from == first
    read(owner, load, 4 * BAR, BEGAN + 2 * HOUR)
    assert pot_check.gauge(load).fell_from is None


def test_a_needles_breadth_is_no_fall(owner, pot):
    load = hold(owner, pot)
    read(owner, load, 4 * BAR, BEGAN + MINUTE)
    read(owner, load, 390_000, BEGAN + HOUR)
    assert pot_check.gauge(load).fell_from is None


def test_set_lower_by_hand_is_no_fall(owner, pot):
    load = hold(owner, pot)
    read(owner, load, 4 * BAR, BEGAN + MINUTE)
    load = operations.change_load(load=load, gauge_pa=2 * BAR, at=BEGAN + HOUR, by=owner, now=NOW)
    read(owner, load, 2 * BAR, BEGAN + HOUR, confirm=True)
    assert pot_check.gauge(load).fell_from is None
    read(owner, load, BAR, BEGAN + 2 * HOUR, confirm=True)
    assert pot_check.gauge(load).fell_from is not None


@pytest.mark.parametrize("wrong", [-1, 10**9, 1.5, None, "4"])
def test_nonsense_on_the_gauge_is_refused(owner, pot, wrong):
    with pytest.raises(LoadRefused, match="what the gauge shows"):
        read(owner, hold(owner, pot), wrong, BEGAN + MINUTE)


def test_times_that_can_not_be_and_other_machines_are_refused(owner, pot, oven):
    load = hold(owner, pot)
    with pytest.raises(LoadRefused, match="The lid was shut"):
        read(owner, load, BAR, BEGAN - MINUTE)
    with pytest.raises(InTheFuture):
        read(owner, load, BAR, NOW + HOUR)
    read(owner, load, BAR, BEGAN + 10 * MINUTE)
    with pytest.raises(LoadRefused, match="was read on"):
        read(owner, load, 2 * BAR, BEGAN + 5 * MINUTE)
    operations.end_load(load=load, at=BEGAN + HOUR, by=owner, now=NOW)
    with pytest.raises(AlreadyEnded):
        read(owner, load, BAR, BEGAN + 2 * HOUR)
    baked = operations.start_load(machine=oven, purpose="dry", at=BEGAN, by=owner, now=NOW)
    with pytest.raises(LoadRefused, match="no pressure pot"):
        read(owner, baked, BAR, BEGAN + HOUR)


def test_a_visitor_reads_no_gauge(visitor, owner, pot):
    load = hold(owner, pot)
    with pytest.raises(Exception, match=r"(?i)may"):
        read(visitor, load, BAR, BEGAN + HOUR)
    assert not GaugeReading.objects.exists()
