"""Finishes: lines and waits, coats out of the stores to the milligram, taken back, resin asked about, rags."""

from datetime import datetime

import pytest

from studio.fields.errors import Refused
from studio.ledger import audit
from studio.ledger.queries import cost_of
from studio.people.models import User
from studio.stores import operations as stores
from studio.stores.errors import StoresRunShort
from studio.stores.models import Batch, Material, ResinSystem
from studio.work import operations as work
from studio.work import queries
from studio.work.models import (
    FinishDone,
    FinishLine,
    FinishRun,
    FinishSchedule,
    LineKind,
    RagsIn,
    Step,
    StepCode,
    StepState,
    Workpiece,
)
from studio.work.operations.finish import coat_amount, holding_resin, where_it_stands
from studio.work.operations.finish_schedules import LineSpec
from studio.work.queries import finishing
from tests.work.conftest import BEGAN, DAY, GRAM, HOUR, KILO, MONEY

H = 3600
AT = BEGAN + 2 * DAY


@pytest.fixture
def oil(owner: User) -> Material:
    material = stores.add_material(name="Hard oil", kind="finish", by=owner, at=BEGAN)
    stores.buy(material=material, amount=500 * GRAM, paid_micro=25 * MONEY, by=owner, at=BEGAN)
    return material


@pytest.fixture
def schedule(owner: User, oil: Material) -> FinishSchedule:
    """Sand to 240, two oily coats a day apart (the second within two), a week's cure."""
    coat = LineSpec(LineKind.COAT, material=oil, spread_mgm2=60_000, wait_s=24 * H, latest_s=48 * H, oily=True)
    last = LineSpec(LineKind.COAT, material=oil, spread_mgm2=60_000, wait_s=24 * H, oily=True, not_on_resin=True)
    lines = [LineSpec(LineKind.SAND, grit=240), coat, last, LineSpec(LineKind.CURE, wait_s=7 * 24 * H)]
    return work.keep_schedule(name="Hard oil, two coats", lines=lines, at=BEGAN, by=owner)


@pytest.fixture
def bowl(blanks: list[Workpiece]) -> Workpiece:
    """A bowl 200 across and 100 high: half a ball, 125,664 mm² inside and out, 7.5 g at 60 g/m²."""
    return work.describe(workpiece=blanks[0], form="bowl", length_um=200_000, width_um=200_000, height_um=100_000)


@pytest.fixture
def run(schedule: FinishSchedule, bowl: Workpiece, owner: User) -> FinishRun:
    return work.put_on_finish(schedule=schedule, workpieces=[bowl], at=AT, by=owner)[0]


def lines_of(schedule: FinishSchedule) -> list[FinishLine]:
    return list(schedule.lines.select_related("material__commodity").order_by("position"))


def do(run: FinishRun, place: int, at: datetime, owner: User, **how: object) -> FinishDone:
    line = lines_of(run.schedule)[place]
    return work.do_line(run=run, line=line, at=at, by=owner, **how)  # type: ignore[arg-type]


def left_of(oil: Material) -> int:
    return sum(batch.account.amount for batch in Batch.objects.filter(material=oil).select_related("account"))


def state(piece: Workpiece, code: str) -> str:
    return Step.objects.filter(workpiece=piece, code=code).order_by("-attempt").values_list("state", flat=True)[0]


def test_a_coat_takes_surface_times_spread_out_of_the_stores_and_onto_the_piece(
    run: FinishRun, bowl: Workpiece, oil: Material, owner: User
) -> None:
    before = cost_of(bowl.account).all_in
    do(run, 0, AT + HOUR, owner)
    done = do(run, 1, AT + 2 * HOUR, owner)
    assert done.amount == 7_500
    assert left_of(oil) == 500 * GRAM - 7_500
    # 25.00 for 500 g: 7.5 g are 0.375
    assert cost_of(bowl.account).all_in - before == 375_000
    assert audit.run().clean


def test_typed_or_weighed_grams_count_instead_of_the_reckoned(run: FinishRun, oil: Material, owner: User) -> None:
    do(run, 0, AT, owner)
    assert do(run, 1, AT, owner, amount=5_123).amount == 5_123
    assert left_of(oil) == 500 * GRAM - 5_123


@pytest.mark.parametrize("amount", [0, -1, 10_000_001])
def test_a_coat_of_nothing_or_of_a_bucket_is_refused(run: FinishRun, oil: Material, owner: User, amount: int) -> None:
    do(run, 0, AT, owner)
    with pytest.raises(Refused, match="more than nothing") as stop:
        do(run, 1, AT, owner, amount=amount)
    assert stop.value.field == "amount"
    assert left_of(oil) == 500 * GRAM


def test_without_measures_it_asks_for_grams(schedule: FinishSchedule, blanks: list[Workpiece], owner: User) -> None:
    (run,) = work.put_on_finish(schedule=schedule, workpieces=[blanks[1]], at=AT, by=owner)
    do(run, 0, AT, owner)
    assert coat_amount(blanks[1], lines_of(schedule)[1]) is None
    with pytest.raises(Refused, match="Type how much went on") as stop:
        do(run, 1, AT, owner)
    assert stop.value.field == "amount"
    assert do(run, 1, AT, owner, amount=4 * GRAM).amount == 4 * GRAM


def test_a_coat_is_refused_where_the_stores_hold_too_little_and_says_what_is_there(
    run: FinishRun, oil: Material, owner: User
) -> None:
    do(run, 0, AT, owner)
    with pytest.raises(StoresRunShort, match="The stores hold 500.g of Hard oil"):
        do(run, 1, AT, owner, amount=501 * GRAM)
    assert FinishDone.objects.filter(run=run).count() == 1
    assert left_of(oil) == 500 * GRAM


def test_a_line_is_not_before_its_wait_is_over_unless_the_maker_is_sure(run: FinishRun, owner: User) -> None:
    do(run, 0, AT, owner)
    do(run, 1, AT, owner)
    with pytest.raises(Refused, match="not before") as stop:
        do(run, 2, AT + 23 * HOUR, owner)
    assert stop.value.code == "sure"
    do(run, 2, AT + 23 * HOUR, owner, sure=True)


def test_no_line_before_its_turn_none_twice_and_none_before_the_line_before(run: FinishRun, owner: User) -> None:
    with pytest.raises(Refused, match="Next comes: sand to 240"):
        do(run, 1, AT, owner)
    do(run, 0, AT + HOUR, owner)
    with pytest.raises(Refused, match="done already"):
        do(run, 0, AT + HOUR, owner)
    with pytest.raises(Refused, match="The line before was done") as stop:
        do(run, 1, AT, owner, sure=True)
    assert stop.value.field == "at"
    with pytest.raises(Refused, match="still to come"):
        do(run, 1, AT + 5 * DAY, owner, now=AT + DAY)


def test_the_steps_follow_the_lines_and_the_last_one_begins_the_cure(
    run: FinishRun, bowl: Workpiece, owner: User
) -> None:
    do(run, 0, AT, owner)
    assert state(bowl, StepCode.SAND) == StepState.DONE
    do(run, 1, AT, owner)
    assert state(bowl, StepCode.FINISH) == StepState.OPEN
    do(run, 2, AT + DAY, owner)
    assert state(bowl, StepCode.FINISH) == StepState.DONE
    run.refresh_from_db()
    cured = AT + 2 * DAY + 7 * DAY
    assert (run.ended_at, run.cured_at) == (AT + DAY, cured)
    assert Step.objects.get(workpiece=bowl, code=StepCode.FINISH).not_before == cured
    assert finishing.still_curing([bowl.pk], AT + 3 * DAY) == {bowl.pk: cured}
    assert finishing.still_curing([bowl.pk], cured) == {}


def test_a_coat_taken_back_reverses_its_entry_and_comes_next_again(
    run: FinishRun, bowl: Workpiece, oil: Material, owner: User
) -> None:
    do(run, 0, AT, owner)
    before = cost_of(bowl.account).all_in
    first = do(run, 1, AT, owner)
    second = do(run, 2, AT + DAY, owner)
    with pytest.raises(Refused, match="Lines after it are done"):
        work.take_back_line(done=first, at=AT + 2 * DAY, by=owner)
    work.take_back_line(done=second, at=AT + 2 * DAY, by=owner)
    run.refresh_from_db()
    assert (run.ended_at, run.cured_at) == (None, None)
    assert state(bowl, StepCode.FINISH) == StepState.OPEN
    with pytest.raises(Refused, match="taken back already"):
        work.take_back_line(done=second, at=AT + 2 * DAY, by=owner)
    work.take_back_line(done=first, at=AT + 2 * DAY, by=owner)
    assert left_of(oil) == 500 * GRAM
    assert cost_of(bowl.account).all_in == before
    assert where_it_stands(FinishRun.objects.get(pk=run.pk))[1].following == 1
    assert audit.run().clean


def test_several_pieces_get_their_coats_in_one_go_or_none_does(
    schedule: FinishSchedule, bowl: Workpiece, blanks: list[Workpiece], oil: Material, owner: User
) -> None:
    other = work.describe(workpiece=blanks[1], form="bowl", length_um=100_000, width_um=100_000, height_um=50_000)
    runs = work.put_on_finish(schedule=schedule, workpieces=[bowl, other, blanks[2]], at=AT, by=owner)
    sand, coat, *_ = lines_of(schedule)
    work.do_lines(runs=runs, line=sand, at=AT, by=owner)
    with pytest.raises(Refused, match="41/3"):
        work.do_lines(runs=runs, line=coat, at=AT, by=owner)
    assert left_of(oil) == 500 * GRAM
    done = work.do_lines(runs=runs[:2], line=coat, at=AT, by=owner)
    assert sorted(row.amount or 0 for row in done) == [1_900, 7_500]
    assert left_of(oil) == 500 * GRAM - 1_900 - 7_500
    assert audit.run().clean


def test_what_is_really_there_is_set_right_once_for_all_of_them(
    schedule: FinishSchedule, bowl: Workpiece, blanks: list[Workpiece], oil: Material, owner: User
) -> None:
    sizes = {"length_um": 200_000, "width_um": 200_000, "height_um": 100_000}
    other = work.describe(workpiece=blanks[1], form="bowl", **sizes)
    runs = work.put_on_finish(schedule=schedule, workpieces=[bowl, other], at=AT, by=owner)
    sand, coat, *_ = lines_of(schedule)
    work.do_lines(runs=runs, line=sand, at=AT, by=owner)
    work.do_lines(runs=runs, line=coat, at=AT, by=owner, counted=[stores.Counted(oil, 20 * GRAM)])
    assert left_of(oil) == 20 * GRAM - 2 * 7_500


def cast(blank: Workpiece, resin: ResinSystem, owner: User) -> None:
    work.pour(
        system=resin, fills=[work.Fill(planned_mg=1000 * GRAM, blanks=[blank])], planned_a_mg=500 * GRAM,
        planned_b_mg=500 * GRAM, poured_a_mg=500 * GRAM, poured_b_mg=500 * GRAM, at=BEGAN + DAY, wood_sure=True,
        by=owner,
    )  # fmt: skip


def test_oil_that_wont_cure_on_resin_wants_words_for_a_cast_piece_and_for_what_was_cut_from_one(
    schedule: FinishSchedule, blanks: list[Workpiece], resin: ResinSystem, owner: User
) -> None:
    cast(blanks[0], resin, owner)
    parts = work.cut(
        parent=blanks[0], blanks=[work.BlankSpec(weight=1, mass_mg=KILO), work.BlankSpec(weight=1, mass_mg=KILO)],
        at=BEGAN + 2 * DAY, by=owner,
    )  # fmt: skip
    plain = blanks[1]
    assert holding_resin([plain, parts[1], parts[0]]) == [parts[1].number, parts[0].number]
    with pytest.raises(Refused, match="won’t cure on resin") as stop:
        work.put_on_finish(schedule=schedule, workpieces=[plain, parts[0]], at=AT, by=owner, resin_words="  ")
    assert (stop.value.field, stop.value.code) == ("resin_words", "resin_words")
    assert parts[0].number in stop.value.message and plain.number not in stop.value.message
    assert not FinishRun.objects.exists()
    with pytest.raises(Refused, match="At most"):
        work.put_on_finish(schedule=schedule, workpieces=[parts[0]], at=AT, by=owner, resin_words="w" * 301)
    words = "only the foot, there is none there"
    rows = work.put_on_finish(schedule=schedule, workpieces=[plain, parts[0]], at=AT, by=owner, resin_words=words)
    assert [row.resin_words for row in rows] == ["", words]


def test_a_finish_that_cures_on_resin_asks_nothing(
    oil: Material, blanks: list[Workpiece], resin: ResinSystem, owner: User
) -> None:
    cast(blanks[0], resin, owner)
    hard = [LineSpec(LineKind.COAT, material=oil)]
    schedule = work.keep_schedule(name="Hard on resin too", lines=hard, at=BEGAN, by=owner)
    assert work.put_on_finish(schedule=schedule, workpieces=[blanks[0]], at=AT, by=owner)


def test_an_unknown_kind_of_line_or_one_without_its_tin_is_refused(
    owner: User, oil: Material, blue: Material
) -> None:
    sand = LineSpec(LineKind.SAND)
    for line, said in (
        (LineSpec("polish"), "choose what is done"),
        (LineSpec(LineKind.COAT), "a finish from the stores"),
        (LineSpec(LineKind.COAT, material=blue), "a finish from the stores"),
        (LineSpec(LineKind.SAND, grit=0), "a grit is between"),
        (LineSpec(LineKind.SAND, grit=-80), "a grit is between"),
        (LineSpec(LineKind.COAT, material=oil, spread_mgm2=0), "on a square metre"),
        (LineSpec(LineKind.BUFF, wait_s=-1), "a wait is between"),
        (LineSpec(LineKind.BUFF, wait_s=401 * 86_400), "a wait is between"),
        (LineSpec(LineKind.BUFF, wait_s=10, latest_s=10), "the latest comes after"),
    ):
        with pytest.raises(Refused, match=f"Line 1: .*{said}") as stop:
            work.keep_schedule(name="Wrong", lines=[line, sand], at=BEGAN, by=owner)
        assert stop.value.field == "lines"
    with pytest.raises(Refused, match="Line 1: the cure comes last"):
        work.keep_schedule(name="Wrong", lines=[LineSpec(LineKind.CURE, wait_s=9), sand], at=BEGAN, by=owner)
    with pytest.raises(Refused, match="Line 2: say how long"):
        work.keep_schedule(name="Wrong", lines=[sand, LineSpec(LineKind.CURE)], at=BEGAN, by=owner)
    with pytest.raises(Refused, match="Line 1: nothing comes after it"):
        work.keep_schedule(name="Wrong", lines=[LineSpec(LineKind.BUFF, latest_s=9)], at=BEGAN, by=owner)
    with pytest.raises(Refused, match="at least one line"):
        work.keep_schedule(name="Wrong", lines=[LineSpec(LineKind.CURE, wait_s=9)], at=BEGAN, by=owner)
    for name in ("", "   ", "w" * 81):
        with pytest.raises(Refused, match="Give the finish a name"):
            work.keep_schedule(name=name, lines=[sand], at=BEGAN, by=owner)
    assert not FinishSchedule.objects.exists()


def test_a_change_makes_a_new_finish_and_what_is_under_way_keeps_its_lines(
    schedule: FinishSchedule, run: FinishRun, blanks: list[Workpiece], owner: User
) -> None:
    sand = [LineSpec(LineKind.SAND, grit=400)]
    new = work.keep_schedule(name=schedule.name, lines=sand, at=AT, by=owner, instead_of=schedule)
    assert [row.pk for row in finishing.finishes()] == [new.pk]
    assert len(where_it_stands(FinishRun.objects.get(pk=run.pk))[0]) == 4
    with pytest.raises(Refused, match="meanwhile"):
        work.keep_schedule(name="Another", lines=sand, at=AT, by=owner, instead_of=schedule)
    with pytest.raises(Refused, match="of that name already"):
        work.keep_schedule(name=new.name.upper(), lines=sand, at=AT, by=owner)
    with pytest.raises(Refused, match="Choose another"):
        work.put_on_finish(schedule=schedule, workpieces=[blanks[1]], at=AT, by=owner)
    work.retire_schedule(schedule=new, at=AT)
    work.retire_schedule(schedule=new, at=AT + DAY)
    new.refresh_from_db()
    assert new.ended_at == AT
    do(run, 0, AT, owner)


def test_a_piece_is_on_one_finish_at_a_time_and_can_be_taken_off(
    schedule: FinishSchedule, run: FinishRun, bowl: Workpiece, blanks: list[Workpiece], owner: User
) -> None:
    with pytest.raises(Refused, match="41/1 is on a finish already"):
        work.put_on_finish(schedule=schedule, workpieces=[blanks[1], bowl], at=AT, by=owner)
    assert FinishRun.objects.count() == 1
    with pytest.raises(Refused, match="at least one"):
        work.put_on_finish(schedule=schedule, workpieces=[], at=AT, by=owner)
    with pytest.raises(Refused, match="came into being after"):
        work.put_on_finish(schedule=schedule, workpieces=[blanks[1]], at=BEGAN - DAY, by=owner)
    with pytest.raises(Refused, match="still to come"):
        work.put_on_finish(schedule=schedule, workpieces=[blanks[1]], at=AT, by=owner, now=AT - HOUR)
    done = do(run, 0, AT, owner)
    work.take_off_finish(run=run, at=AT + HOUR, by=owner)
    for late in (lambda: do(run, 1, AT + HOUR, owner), lambda: work.take_off_finish(run=run, at=AT, by=owner)):
        with pytest.raises(Refused, match="nothing was changed"):
            late()
    with pytest.raises(Refused, match="taken off that finish"):
        work.take_back_line(done=done, at=AT + HOUR, by=owner)
    assert work.put_on_finish(schedule=schedule, workpieces=[bowl], at=AT + DAY, by=owner)


def test_rags_are_asked_after_from_an_oily_coat_until_they_lie_in_the_tin(run: FinishRun, owner: User) -> None:
    do(run, 0, AT, owner)
    assert finishing.rags_lie_about(AT + HOUR) is None
    first = do(run, 1, AT + HOUR, owner)
    assert finishing.rags_lie_about(AT + 2 * HOUR) == first
    work.rags_in_the_tin(at=AT + 2 * HOUR, by=owner)
    work.rags_in_the_tin(at=AT + 2 * HOUR, by=owner)
    assert RagsIn.objects.count() == 1
    assert finishing.rags_lie_about(AT + 3 * HOUR) is None
    # a second oily coat the same evening: new rags, and the same tap
    second = do(run, 2, AT + 4 * HOUR, owner, sure=True)
    assert finishing.rags_lie_about(AT + 5 * HOUR) == second
    work.rags_in_the_tin(at=AT + 5 * HOUR, by=owner)
    assert finishing.rags_lie_about(AT + 6 * HOUR) is None
    work.rags_still_about(at=AT + 6 * HOUR)
    assert finishing.rags_lie_about(AT + 6 * HOUR) == second
    # forgotten, they are still asked after the next morning, but not for ever
    assert finishing.rags_lie_about(AT + DAY) == second
    assert finishing.rags_lie_about(AT + 8 * DAY) is None
    work.take_back_line(done=second, at=AT + 7 * HOUR, by=owner)
    assert finishing.rags_lie_about(AT + 8 * HOUR) == first


def said_at(now: datetime) -> list[tuple[str, str, list[str], str, str]]:
    return [
        (wait.place, wait.what, [tag.number for tag in getattr(wait, "tags", ())], wait.kind, wait.note)
        for wait in queries.waits(now)
        if wait.place in ("finish bench", "before you go")
    ]


def test_the_round_says_each_next_line_with_its_clock_and_those_alike_in_one(
    schedule: FinishSchedule, bowl: Workpiece, blanks: list[Workpiece], owner: User
) -> None:
    for blank in blanks[:2]:
        work.plan_steps(workpiece=blank, codes=[StepCode.FINISH])
    runs = work.put_on_finish(schedule=schedule, workpieces=[bowl, blanks[1]], at=AT, by=owner)
    assert said_at(AT) == [("finish bench", "sand to 240", ["41/1", "41/2"], "since", "")]
    for run in runs:
        do(run, 0, AT, owner)
    do(runs[0], 1, AT, owner)
    early = [
        ("finish bench", "coat with Hard oil", ["41/1"], "not before", "and by 14 March, 08:00"),
        ("finish bench", "coat with Hard oil", ["41/2"], "since", ""),
        ("before you go", "put", [], "since", ""),
    ]
    assert said_at(AT) == early
    assert said_at(AT + DAY)[0][3] == "by"
    work.rags_in_the_tin(at=AT + HOUR, by=owner)
    assert len(said_at(AT + 2 * HOUR)) == 2
    do(runs[0], 2, AT + DAY, owner)
    cure = [wait for wait in queries.waits(AT + DAY) if wait.kind == "not before" and wait.what == "call a piece"]
    assert [wait.at for wait in cure] == [AT + 9 * DAY]


def test_what_was_taken_off_its_finish_can_be_gone_on_with_as_before(
    run: FinishRun, bowl: Workpiece, owner: User
) -> None:
    work.plan_steps(workpiece=bowl, codes=[StepCode.FINISH])
    assert [what for _, what, *_ in said_at(AT)] == ["sand to 240"]
    work.take_off_finish(run=run, at=AT, by=owner)
    assert [what for _, what, *_ in said_at(AT)] == ["finish"]
