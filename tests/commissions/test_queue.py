from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.commissions import operations, queries
from studio.commissions.models import Commission, CommissionEvent, State
from studio.equipment import operations as equipment
from studio.ledger.accounts import Account, Kind
from studio.pieces import operations as pieces
from studio.work import operations as work
from studio.work.models import Step, Workpiece
from tests.commissions.conftest import BY
from tests.selling.shelf import BEGAN, MONEY, day, finish


def waiting():
    return [(row.commission.number, row.waiting.code, row.waiting.words) for row in queries.queue(BEGAN.date())]


def test_the_earliest_day_comes_first_and_what_has_none_last(order, orla):
    for by_on in (date(2025, 7, 1), date(2025, 6, 1)):
        order(orla, by_on=by_on)
    order(orla, agreed=False)
    assert [row.commission.number for row in queries.queue(BEGAN.date())] == [2, 1, 3]


def test_a_row_says_days_left_deposit_and_what_is_to_pay(order, orla):
    order(orla, paid=150)
    (row,) = queries.queue(date(2025, 5, 30))
    assert (row.days_left, row.late, row.deposit_micro, row.left_to_pay_micro) == (2, False, 150 * MONEY, 350 * MONEY)
    (row,) = queries.queue(date(2025, 6, 2))
    assert (row.days_left, row.late) == (-1, True)


def test_it_waits_for_an_answer_then_the_deposit_then_wood(order, orla, owner):
    row = order(orla, agreed=False)
    assert waiting() == [(1, "agree", "price and day are to be agreed")]
    operations.agree(commission=row, price_micro=500 * MONEY, by_on=BY, at=day(1), by=owner)
    assert waiting() == [(1, "deposit", "the deposit hasn't come yet")]
    operations.take_deposit(commission=row, amount_micro=100 * MONEY, at=day(2), by=owner)
    assert waiting() == [(1, "deposit", "part of the deposit is to come")]
    operations.take_deposit(commission=row, amount_micro=50 * MONEY, at=day(2), by=owner)
    assert waiting() == [(1, "wood", "no wood is set aside")]


def test_then_for_the_next_step_of_its_wood_with_its_clock(order, orla, owner):
    row = order(orla, paid=150)
    lump = work.take_in_lump(number="50", paid_micro=90 * MONEY, at=BEGAN, by=owner)
    work.plan_steps(workpiece=lump, codes=["rough", "rest", "turn"])
    operations.reserve(commission=row, workpieces=[lump], at=day(3), by=owner)
    assert waiting() == [(1, "step", "50: rough is next")]
    work.begin_step(workpiece=lump, code="rough", at=day(3), person=owner)
    assert waiting() == [(1, "step", "50: rough is being done")]
    work.end_step(workpiece=lump, code="rough", at=day(3), person=owner)
    Step.objects.filter(workpiece=lump, code="rough").update(not_before=day(90))
    (row,) = queries.queue(BEGAN.date())
    assert (row.waiting.words, row.waiting.not_before, row.waiting.workpiece) == ("50: rest is next", day(90), lump)


def test_the_one_furthest_along_speaks_for_the_commission(order, orla, owner):
    row = order(orla, paid=150)
    behind, ahead = (work.take_in_lump(number=n, paid_micro=MONEY, at=BEGAN, by=owner) for n in ("50", "51"))
    work.plan_steps(workpiece=behind, codes=["rough", "rest", "turn"])
    work.plan_steps(workpiece=ahead, codes=["turn"])
    operations.reserve(commission=row, workpieces=[behind, ahead], at=day(3), by=owner)
    assert waiting() == [(1, "step", "51: turn is next")]
    pieces.become_piece(workpiece=behind, at=day(4), by=owner)
    work.plan_steps(workpiece=behind, codes=[])
    assert waiting() == [(1, "ticks", "50 is still to be measured, signed, photographed and rested")]


def test_what_lies_in_the_oven_waits_for_the_oven(order, orla, owner):
    row = order(orla, paid=150)
    lump = work.take_in_lump(number="50", paid_micro=90 * MONEY, at=BEGAN, by=owner)
    operations.reserve(commission=row, workpieces=[lump], at=day(3), by=owner)
    oven = equipment.add_machine(kind="oven", name="The brick oven", power_w=2000, by=owner, at=BEGAN)
    equipment.start_load(
        machine=oven, purpose="dry", places=[(lump.account, None)], set_point_mdegc=60_000,
        not_before=day(8), at=day(4), by=owner,
    )  # fmt: skip
    (row,) = queries.queue(BEGAN.date())
    assert (row.waiting.code, row.waiting.words, row.waiting.not_before) == (
        "machine", "50 is in The brick oven", day(8),
    )  # fmt: skip


def test_what_is_finished_is_to_be_handed_over_whatever_else_is_open(order, orla, owner, make):
    row = order(orla)
    operations.reserve(commission=row, workpieces=[make("41").workpiece], at=day(3), by=owner)
    assert waiting() == [(1, "deliver", "41 is finished: hand it over")]


def test_what_broke_no_longer_counts_as_set_aside(order, orla, owner, make):
    row = order(orla, paid=150)
    bowl = make("41", finished=False).workpiece
    operations.reserve(commission=row, workpieces=[bowl], at=day(3), by=owner)
    work.it_broke(workpiece=bowl, cause="catch", at=day(4), by=owner)
    assert waiting() == [(1, "wood", "no wood is set aside")]


def test_what_is_over_is_on_the_other_list(order, orla, owner, make):
    done, off = order(orla), order(orla)
    operations.deliver(commission=done, piece=make("41"), at=day(9), by=owner)
    operations.call_off(commission=off, why="moved away", at=day(10), by=owner)
    assert queries.queue(BEGAN.date()) == []
    assert queries.ended() == [off, done]


def test_the_page_of_one_has_its_trail_and_what_it_waits_for(order, orla, owner):
    row = order(orla, paid=150)
    found = queries.page(row.pk, BEGAN.date())
    assert [event.what for event in found.events] == ["asked", "agreed", "deposit"]
    assert (found.deposit_micro, found.row.waiting.code) == (150 * MONEY, "wood")
    operations.call_off(commission=row, why="moved away", give_back_micro=150 * MONEY, at=day(9), by=owner)
    assert queries.page(row.pk, BEGAN.date()).row is None
    assert queries.page(0, BEGAN.date()) is None


def test_the_desk_is_told_what_to_do_by_when_and_no_client_or_money_is_named(order, orla, owner):
    row = order(orla)
    (wait,) = queries.waits(day(5))
    assert (wait.place, wait.what, wait.subject, wait.kind, wait.reason) == (
        "desk", "take the deposit for", "commission 1", "by", "A bowl of the old pear tree",
    )  # fmt: skip
    assert wait.about == ("commissions.commission", row.pk)
    said = f"{wait.what} {wait.subject} {wait.reason} {wait.note}"
    assert "Orla" not in said and "150" not in said
    assert [wait.late(day(n)) for n in (83, 84)] == [False, True]  # promised by the 1st of June
    assert day(83).date() == BY


def test_what_is_under_way_is_named_only_when_its_day_is_near(order, orla, owner):
    row = order(orla, paid=150)
    lump = work.take_in_lump(number="50", paid_micro=90 * MONEY, at=BEGAN, by=owner)
    work.plan_steps(workpiece=lump, codes=["turn"])
    operations.reserve(commission=row, workpieces=[lump], at=day(3), by=owner)
    assert queries.waits(day(68)) == []
    (wait,) = queries.waits(day(69))
    assert (wait.what, wait.reason) == ("have ready", "A bowl of the old pear tree; 50: turn is next")


@pytest.fixture
def lots(owner, orla):
    def add(count: int, start: int) -> None:
        deposits = Account.objects.bulk_create([Account(kind=Kind.DEPOSIT) for _ in range(count)])
        rows = Commission.objects.bulk_create(
            [
                Commission(
                    number=start + n, client=orla, wanted="A bowl", by_on=BY, price_micro=MONEY, asked_at=BEGAN,
                    agreed_on=BEGAN.date(), state=State.AGREED, deposit_account=account,
                )
                for n, account in enumerate(deposits)
            ]
        )  # fmt: skip
        CommissionEvent.objects.bulk_create([CommissionEvent(commission=row, what="asked", at=BEGAN) for row in rows])
        accounts = Account.objects.bulk_create([Account(kind=Kind.WORKPIECE) for _ in rows])
        wood = Workpiece.objects.bulk_create(
            [
                Workpiece(
                    number=f"n{row.number}", sort_key=f"n{row.number:06}", account=account, stage="blank",
                    made_at=BEGAN, hold_reason="x", hold_ref=row.ref,
                )
                for row, account in zip(rows, accounts, strict=True)
            ]
        )  # fmt: skip
        Step.objects.bulk_create([Step(workpiece=row, code="turn", position=1) for row in wood])

    return add


def counted(read) -> int:
    with CaptureQueriesContext(connection) as seen:
        read()
    return len(seen)


def read_all(pk):
    return {
        "queue": lambda: [
            (str(row.commission.client), row.waiting.words, [str(piece.species) for piece in row.workpieces])
            for row in queries.queue(BEGAN.date())
        ],
        "waits": lambda: queries.waits(day(80)),
        "page": lambda: queries.page(pk, BEGAN.date()),
        "ended": lambda: [str(row.client) for row in queries.ended()],
    }


def test_the_queue_reads_as_often_at_a_thousand_rows_as_at_ten(lots, make, ordered, owner):
    operations.reserve(commission=ordered, workpieces=[make("41").workpiece], at=day(3), by=owner)
    lots(10, 100)
    few = {name: counted(read) for name, read in read_all(ordered.pk).items()}
    lots(990, 1000)
    many = {name: counted(read) for name, read in read_all(ordered.pk).items()}
    assert many == few
    assert few["queue"] == 6
    rows = queries.queue(BEGAN.date())
    assert len(rows) == 1001
    assert {row.waiting.code for row in rows} == {"step", "deliver"}


def test_a_finished_piece_is_shown_by_its_own_number(order, orla, owner):
    row = order(orla)
    lump = work.take_in_lump(number="50", paid_micro=90 * MONEY, at=BEGAN, by=owner)
    operations.reserve(commission=row, workpieces=[lump], at=day(3), by=owner)
    piece = pieces.become_piece(workpiece=lump, at=day(4), by=owner)
    finish(piece, owner, day(5))
    assert waiting() == [(1, "deliver", "50 is finished: hand it over")]
