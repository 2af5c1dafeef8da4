"""After a pour: until when resin cures, for the lathe and for more of it, and what the oven does to that."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.people import operations as people
from studio.people import settings as studio_settings
from studio.stores import operations as stores
from studio.work import operations as work
from studio.work import queries
from studio.work.errors import PourTrouble, StepTrouble
from studio.work.models import Step, StepState
from studio.work.queries.cures import cures_until, recoat_of, recoat_questions
from studio.work.queries.waits import waits_of
from tests.work.conftest import BEGAN, DAY, GRAM, HOUR, NOW

AT = BEGAN + 2 * HOUR
OUT = AT + 5 * HOUR


@pytest.fixture
def sheet(resin, owner):
    """Poured onto again from 6 to 18 hours; a day to full cure, or four hours at 60 °C."""
    stores.change_resin_system(
        system=resin, at=BEGAN, by=owner, recoat_from_s=6 * 3600, recoat_to_s=18 * 3600, post_cure_s=4 * 3600,
        post_cure_mdegc=60_000, work_time_at_mdegc=25_000,
    )  # fmt: skip
    resin.refresh_from_db()
    return resin


def poured(resin, blanks, owner, at=AT, **more):
    return work.pour(
        system=resin, fills=[work.Fill(planned_mg=300 * GRAM, blanks=[blank]) for blank in blanks], at=at, by=owner,
        planned_a_mg=150 * GRAM * len(blanks), planned_b_mg=150 * GRAM * len(blanks),
        poured_a_mg=150 * GRAM * len(blanks), poured_b_mg=150 * GRAM * len(blanks), now=NOW, **more,
    )  # fmt: skip


@pytest.fixture
def casting(sheet, blanks, owner):
    for code in ("clean", "dry"):
        work.end_step(workpiece=blanks[0], code=code, at=AT, person=owner)
    work.leave_out_step(workpiece=blanks[0], code="stabilize", why="sound")
    pour = poured(sheet, blanks[:1], owner, wood_sure=True)
    work.demould(pour=pour, at=OUT, by=owner)
    return pour.fills.get().casting


def test_a_lathe_waits_until_resin_is_cured_through(casting):
    (wait,) = waits_of(casting, OUT)
    assert (wait.kind, wait.at, wait.reason) == ("not before", AT + DAY, "the resin cures")
    (line,) = [
        one for one in queries.waits(OUT) if casting.number in [tag.number for tag in getattr(one, "tags", ())]
    ]
    assert (line.kind, line.at, line.reason) == ("not before", AT + DAY, "the resin cures")
    assert cures_until([casting.pk], AT + DAY) == {}
    assert [one.reason for one in waits_of(casting, AT + DAY)] == []


def test_turning_soft_resin_is_asked_about_and_not_refused(casting, owner):
    with pytest.raises(StepTrouble, match="still cures, until 11 March 2025, 10:00") as stop:
        work.start_clock(person=owner, workpieces=[casting], code="turn", at=OUT + HOUR)
    assert stop.value.code == "sure"
    assert not Step.objects.filter(workpiece=casting, code="turn", state=StepState.OPEN).exists()
    work.start_clock(person=owner, workpieces=[casting], code="turn", at=OUT + HOUR, sure=True)


@pytest.mark.parametrize(("code", "after"), [("clean", HOUR), ("turn", DAY)])
def test_what_hurts_no_soft_resin_and_what_is_cured_is_asked_nothing(casting, owner, code, after):
    work.start_clock(person=owner, workpieces=[casting], code=code, at=OUT + after)


def test_in_a_cool_shop_resin_cures_longer_and_takes_more_later(sheet, blanks, owner):
    people.set_setting(key="shop_temperature_mdegc", value=15_000, by=owner, at=BEGAN, from_on=BEGAN.date())
    pour = poured(sheet, blanks[:1], owner, wood_sure=True)
    assert pour.full_cure_at == AT + 2 * DAY
    window = recoat_of([blanks[0].pk])[blanks[0].pk]
    assert (window.from_at, window.to_at) == (AT + 12 * HOUR, AT + 18 * HOUR)


def test_a_window_that_opens_after_it_shuts_opens_as_it_shuts(sheet, blanks, owner):
    people.set_setting(key="shop_temperature_mdegc", value=5_000, by=owner, at=BEGAN, from_on=BEGAN.date())
    poured(sheet, blanks[:1], owner, wood_sure=True)
    window = recoat_of([blanks[0].pk])[blanks[0].pk]
    assert window.from_at == window.to_at == AT + 18 * HOUR


def test_where_the_sheet_says_nothing_nothing_is_said(resin, blanks, owner):
    pour = poured(resin, blanks[:1], owner, wood_sure=True)
    assert recoat_of([blanks[0].pk]) == {}
    work.demould(pour=pour, at=OUT, by=owner)
    piece = pour.fills.get().casting
    assert recoat_questions([piece], AT + 9 * DAY) == []
    poured(resin, [piece], owner, at=AT + 9 * DAY)


@pytest.mark.parametrize(
    ("after", "kind", "at", "reason"),
    [
        (5 * HOUR, "not before", 6 * HOUR, "the first pour sets"),
        (7 * HOUR, "by", 18 * HOUR, "it still bonds by itself"),
        (19 * HOUR, "since", 18 * HOUR, "cured: scuff it first"),
    ],
)
def test_a_second_pour_waits_and_hastens_by_the_sheet(casting, after, kind, at, reason):
    work.repeat_step(workpiece=casting, code="cast")
    found = waits_of(casting, AT + after)
    assert [(one.place, one.what, one.kind, one.at, one.reason) for one in found] == [
        ("mixing bench", "pour again", kind, AT + at, reason)
    ]
    (line,) = [one for one in queries.waits(AT + after) if one.what == "pour again"]
    assert (line.kind, line.at, line.reason) == (kind, AT + at, reason)


def test_a_mould_says_until_when_a_second_layer_bonds(sheet, blanks, owner):
    poured(sheet, blanks[:1], owner, wood_sure=True)
    (wait,) = waits_of(blanks[0], AT + HOUR)
    assert wait.note == "more bonds to it from 10 March, 16:00 until 11 March, 04:00"
    (wait,) = waits_of(blanks[0], AT + 19 * HOUR)
    assert wait.note == ""


@pytest.mark.parametrize(("after", "words"), [(5 * HOUR, "not before 10 March 2025, 16:00"), (DAY, "scuff it first")])
def test_pouring_onto_it_too_early_or_too_late_is_asked_about_once(casting, sheet, owner, after, words):
    with pytest.raises(PourTrouble, match=words) as stop:
        poured(sheet, [casting], owner, at=AT + after)
    assert stop.value.code == "sure"
    poured(sheet, [casting], owner, at=AT + after, wood_sure=True)


def test_inside_its_window_it_is_poured_onto_without_a_question(casting, sheet, owner):
    poured(sheet, [casting], owner, at=AT + 7 * HOUR)


@pytest.fixture
def warm(casting, oven, owner):
    def cure(hours, **more):
        load = work.load_up(
            machine=oven, workpieces=[casting], purpose="post_cure", set_point_mdegc=60_000, at=OUT + HOUR, by=owner,
            confirm=True, now=NOW, **more,
        )  # fmt: skip
        return work.unload(load=load, at=OUT + HOUR + hours * HOUR, by=owner, confirm=True, now=NOW)

    return cure


def test_cured_in_the_warm_it_may_be_turned_at_once(casting, warm, owner):
    warm(4)
    done = OUT + 5 * HOUR
    assert cures_until([casting.pk], done) == {}
    assert casting.fills.get().pour.full_cure_at == done
    assert not casting.steps.filter(code="cast", state__in=[StepState.OPEN, StepState.PLANNED]).exists()
    work.start_clock(person=owner, workpieces=[casting], code="turn", at=done)


@pytest.mark.parametrize(("hours", "more"), [(3, {}), (5, {"not_before": OUT + 8 * HOUR})])
def test_taken_out_of_the_warm_too_soon_it_cures_as_long_as_without(casting, warm, hours, more):
    warm(hours, **more)
    assert cures_until([casting.pk], OUT + 6 * HOUR) == {casting.pk: AT + DAY}
    assert casting.fills.get().pour.full_cure_at == AT + DAY


def test_what_was_left_out_of_the_oven_cures_on(sheet, blanks, oven, owner):
    pour = poured(sheet, blanks[:2], owner, wood_sure=True)
    work.demould(pour=pour, at=OUT, by=owner)
    load = work.load_up(
        machine=oven, workpieces=blanks[:1], purpose="post_cure", set_point_mdegc=60_000, at=OUT, by=owner,
        confirm=True, now=NOW,
    )  # fmt: skip
    work.unload(load=load, at=OUT + 4 * HOUR, by=owner, confirm=True, now=NOW)
    assert cures_until([row.pk for row in blanks], OUT + 4 * HOUR) == {blanks[1].pk: AT + DAY}
    pour.refresh_from_db()
    assert pour.full_cure_at == AT + DAY


def test_it_reads_no_more_for_many_castings(sheet, blanks, owner):
    def count():
        with CaptureQueriesContext(connection) as told, studio_settings.remembered():
            queries.waits(OUT + timedelta(minutes=1))
        return len(told)

    pour = poured(sheet, blanks[:2], owner, wood_sure=True)
    work.demould(pour=pour, at=OUT, by=owner)
    _again_next(blanks[0])
    few = count()
    more = [work.take_in_lump(number=str(60 + n), mass_mg=9 * GRAM, at=BEGAN, by=owner) for n in range(4)]
    pour = poured(sheet, more, owner, wood_sure=True)
    work.demould(pour=pour, at=OUT, by=owner)
    for row in more[:2]:
        _again_next(row)
    assert count() == few


def _again_next(piece):
    """Nothing else is left to be done on it."""
    work.plan_steps(workpiece=piece, codes=[])
    work.repeat_step(workpiece=piece, code="cast")


def test_a_step_done_once_more_comes_next_and_the_others_keep_their_order(casting, owner):
    before = list(casting.steps.filter(state="planned").order_by("position").values_list("code", flat=True))
    work.repeat_step(workpiece=casting, code="cast")
    after = list(casting.steps.filter(state="planned").order_by("position", "attempt").values_list("code", flat=True))
    assert after == ["cast", *before] and len(before) > 1
