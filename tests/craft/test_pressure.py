import pytest

from studio.craft import pressure

PSI = 6_895


def rule(planned: int, plate: int | None = 90, valve: int | None = 80, **more: bool) -> pressure.Verdict:
    return pressure.pot_verdict(
        planned_pa=planned * PSI,
        certified_pa=plate * PSI if plate else None,
        relief_pa=valve * PSI if valve else None,
        altered=more.pop("altered", False),
        **more,
    )


def test_a_sound_pot_takes_its_load() -> None:
    assert rule(60) == pressure.Verdict("ok", (), 80 * PSI)


@pytest.mark.parametrize(
    ("planned", "plate", "valve", "altered", "reason"),
    [
        (10, None, 80, False, "no certificate"),
        (10, 90, None, False, "no relief valve"),
        (10, 90, 80, True, "altered"),
        (0, 90, 80, True, "altered"),
        (91, 90, 100, False, "above the certificate"),
        (81, 90, 80, False, "above the relief valve"),
    ],
)
def test_a_pot_that_may_not_is_refused(
    planned: int, plate: int | None, valve: int | None, altered: bool, reason: str
) -> None:
    verdict = rule(planned, plate, valve, altered=altered)
    assert verdict.ruling == "refused"
    assert reason in verdict.reasons
    assert pressure.WORDS[reason] in verdict.sentences


def test_every_reason_is_named_not_only_the_first() -> None:
    assert rule(10, None, None, altered=True).reasons == ("altered", "no certificate", "no relief valve")


def test_nine_tenths_of_the_lower_figure_is_the_last_that_is_not_warned() -> None:
    assert rule(72).ruling == "ok"
    assert rule(73).reasons == ("close to the limit",)
    assert rule(80).ruling == "warned"


def test_a_valve_above_the_plate_and_a_due_inspection_are_warned() -> None:
    assert rule(40, 60, 70).reasons == ("valve above the certificate",)
    assert rule(40, inspection_due=True).reasons == ("inspection due",)


def test_below_zero_is_no_gauge_pressure() -> None:
    with pytest.raises(ValueError, match="zero or more"):
        rule(-1)
    with pytest.raises(ValueError, match="zero or more"):
        pressure.bubble_diameter_ratio(-1)
    with pytest.raises(ValueError, match="zero or more"):
        pressure.lid_force_n(float("nan"), 300)


def test_no_pressure_changes_nothing() -> None:
    assert pressure.bubble_diameter_ratio(0) == 1
    assert pressure.lid_force_n(0, 300) == 0
    assert pressure.free_air_l(38, 0) == 0


def test_higher_up_the_same_gauge_squeezes_a_bubble_more() -> None:
    assert pressure.bubble_diameter_ratio(400, 2000) < pressure.bubble_diameter_ratio(400)


def test_filling_a_pot_takes_its_volume_once_for_each_air_outside() -> None:
    assert pressure.free_air_l(40, 101.325) == pytest.approx(40)
    with pytest.raises(ValueError, match="zero or more"):
        pressure.free_air_l(-1, 100)
    with pytest.raises(ValueError, match="zero or more"):
        pressure.stored_energy_j(-1, 100)
