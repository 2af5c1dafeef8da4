"""Where we stand: everything is in it once, and a second computation that shares nothing agrees."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.ledger import audit, triggers
from studio.ledger import operations as ledger
from studio.ledger.accounts import Account, Component, Kind
from studio.ledger.operations import Leg
from studio.ledger.queries import costs_of, pool_sums
from studio.reports.second import Lines, Twice, together
from studio.reports.stand import Block, Stand, stand
from studio.selling import operations as selling
from studio.work import operations as work
from studio.work.models import Workpiece
from tests.web.people_of_a_studio import open_studio
from tests.web.small_studio import MONEY, SmallStudio, coins, day


def block(found: Stand, key: str) -> Block:
    return next(one for one in found.blocks if one.key == key)


def sums(found: Stand) -> dict[str, tuple[int, int]]:
    return {one.key: (one.count, one.all_in_micro) for one in found.blocks}


def test_an_empty_studio_stands_at_nothing(db: None) -> None:
    open_studio()
    found = stand()
    assert (found.count, found.paid_out_micro, found.all_in_micro, found.owed_micro) == (0, 0, 0, 0)
    assert found.differences == () and found.debts == ()


def test_lumps_stand_at_what_they_cost_paid_and_given_apart(small: SmallStudio) -> None:
    lumps = block(stand(), "wood").lines[0]
    # 42 was bought for 57.19; 43 was a gift worth 38.41; 44 is the client's own and has no value.
    assert (lumps.words, lumps.count) == ("Lumps", 3)
    assert lumps.paid_out_micro == coins("57.19")
    assert lumps.all_in_micro == coins("57.19") + coins("38.41")


def test_what_came_out_of_the_mould_and_was_finished_is_on_the_shelf(small: SmallStudio) -> None:
    shelf = block(stand(), "shelf")
    carried = costs_of([small.piece.workpiece.account_id, small.ordered.workpiece.account_id])
    assert shelf.count == 2
    assert shelf.all_in_micro == sum(cost.all_in for cost in carried.values())
    assert shelf.paid_out_micro == sum(cost.paid_out for cost in carried.values())
    assert shelf.paid_out_micro < shelf.all_in_micro


def test_a_piece_left_with_a_gallery_stands_under_its_name_and_comes_back(small: SmallStudio) -> None:
    before = stand()
    away = block(before, "galleries")
    assert [(line.words, line.count) for line in away.lines] == [("Harbour Rooms", 1)]
    selling.take_back(placement=small.away.placements.get(), why="not shown", at=day(40), by=small.owner)
    after = stand()
    assert block(after, "galleries").count == 0 and block(after, "shelf").count == 3
    assert after.all_in_micro == before.all_in_micro


def test_work_stands_under_the_step_that_comes_next(small: SmallStudio) -> None:
    lines = {line.words: line.count for line in block(stand(), "work").lines}
    assert sum(lines.values()) == 3  # the blank in the oven, the one from the bath, and an unfinished piece
    assert lines["Dry"] == 1


def test_every_workpiece_still_here_is_counted_once(small: SmallStudio) -> None:
    found = sums(stand())
    here = sum(found[key][0] for key in ("wood", "work", "shelf", "galleries"))
    assert here == Workpiece.objects.filter(closed_at=None).count()


def test_all_that_lies_here_is_all_that_any_account_carries(small: SmallStudio) -> None:
    assert stand().all_in_micro == sum(Account.objects.values_list("value_micro", flat=True))


def test_debts_and_deposits_are_what_the_journal_says_of_them(small: SmallStudio) -> None:
    found = {debt.words: debt.amount_micro for debt in stand().debts}
    # 389.00 less 45 % is 213.95; 100.00 of it was paid.
    assert found["Galleries owe us"] == coins("213.95") - coins("100.00")
    assert found["Deposits we hold, theirs until delivery"] == -coins("173.00")
    pools = pool_sums()
    assert stand().owed_micro == pools[Kind.GALLERY_OWES] + pools[Kind.DEPOSIT] + pools.get(Kind.SALES_TAX, 0)


def test_two_computations_agree_in_books_that_the_audit_finds_whole(small: SmallStudio) -> None:
    assert audit.run().clean
    found = stand()
    assert found.differences == () and found.lines_read > 100


def test_a_balance_that_was_tampered_with_is_named_with_both_figures(small: SmallStudio) -> None:
    Account.objects.filter(pk=small.whole.account_id).update(value_micro=coins("57.20"))
    said = stand().differences
    assert said == (
        "Wood not begun, Lumps, all in: 95.61 by the balances, 95.60 by the single lines.",
        f"Everything that lies here: {shown(stand().all_in_micro)} by the balances, "
        f"{shown(stand().all_in_micro - coins('0.01'))} by the single lines.",
    )


def shown(micro: int) -> str:
    whole, rest = divmod(micro, MONEY)
    return f"{whole:,}.{rest:06d}" if micro % 10_000 else f"{whole:,}.{rest // 10_000:02d}"


def test_a_line_that_was_tampered_with_is_named_too(small: SmallStudio) -> None:
    triggers.remove()
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE ledger_line SET value_micro = value_micro + 1000000 WHERE account_id = %s",
            [small.gallery.account_id],
        )
    said = stand().differences
    triggers.install()
    assert any(sentence.startswith("All lines together should leave nothing") for sentence in said)


def test_value_on_something_no_line_of_the_report_names_is_noticed(small: SmallStudio) -> None:
    """What the places forget would otherwise vanish from the total without a word."""
    stray = ledger.open_account(Kind.WORKPIECE)
    legs = [Leg(stray, Component.WOOD, value=coins("5.00")), Leg(Kind.CASH, Component.MONEY, value=-coins("5.00"))]
    ledger.post(kind="wood", legs=legs, at=day(50), by=small.owner)
    (said,) = stand().differences
    assert said.startswith("Everything that lies here")


def test_the_second_computation_reads_no_balance(small: SmallStudio) -> None:
    with CaptureQueriesContext(connection) as asked:
        lines = Lines()
        lines.by_account()
        lines.by_kind()
    assert len(asked) == 1
    assert "ledger_account" not in asked[0]["sql"].split("FROM")[0].replace('"ledger_account"."kind"', "")
    assert '"ledger_account"."value_micro"' not in asked[0]["sql"]


def test_sums_beyond_what_a_computers_whole_number_holds_are_right(small: SmallStudio) -> None:
    lines = Lines()
    lines.frame["value"] = 2**60
    lines.frame["account"] = 1
    lines.frame["component"] = "wood"
    lines.frame["value"] = lines.frame["value"].astype(object)
    assert lines.by_account()[1] == Twice(2**60 * lines.count, 2**60 * lines.count)


def test_together_takes_an_account_without_lines_for_nothing() -> None:
    assert together({1: Twice(2, 3)}, [1, 99]) == Twice(2, 3)


def test_it_asks_as_often_with_a_thousand_workpieces_as_with_a_few(small: SmallStudio) -> None:
    with CaptureQueriesContext(connection) as few:
        stand()
    accounts = Account.objects.bulk_create([Account(kind=Kind.WORKPIECE) for _ in range(1000)])
    Workpiece.objects.bulk_create(
        Workpiece(number=f"z{n}", sort_key=f"z{n:06}", account=account, stage="blank", made_at=day(1))
        for n, account in enumerate(accounts)
    )
    with CaptureQueriesContext(connection) as many:
        found = stand()
    assert len(few) == len(many) <= 11
    assert block(found, "wood").count >= 1000


def test_nothing_planned_and_ticks_to_come_have_lines_of_their_own(small: SmallStudio) -> None:
    owner = small.owner
    lump = work.take_in_lump(number="90", mass_mg=MONEY, paid_micro=coins("1.00"), at=day(30), by=owner)
    (blank,) = work.cut(parent=lump, blanks=[work.BlankSpec(weight=1)], route=[], at=day(31), by=owner)
    lines = {line.words for line in block(stand(), "wood").lines}
    assert blank.stage == "blank" and "Blanks nothing was done to yet" in lines


@pytest.mark.parametrize("name", ["=HYPERLINK(1)", "<b>x", "O'Brien 漢"])
def test_a_gallery_of_any_name_is_a_line(small: SmallStudio, name: str) -> None:
    gallery = selling.add_gallery(name=name, share_ppm=0, at=day(20), by=small.owner)
    selling.leave_with(pieces=[small.piece], gallery=gallery, at=day(32), by=small.owner)
    assert name in {line.words for line in block(stand(), "galleries").lines}
