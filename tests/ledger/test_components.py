import pytest

from studio.ledger import operations, queries
from studio.ledger.accounts import PAID_OUT, RECKONED, Component, Kind
from studio.ledger.errors import RunsOut, WrongAccount
from studio.ledger.labour import labour_legs, overhead_per_hour_micro
from studio.people import operations as people_operations
from studio.people.models import Role
from studio.people.queries import MissingWage
from tests.ledger.books import MONEY, NOW, Books, day, differences, fresh, parts_of, pool_value

LUMP = {"wood": 90 * MONEY, "own_labour": 7, "energy": 1_000_001}


def test_every_part_of_a_cost_is_either_paid_out_or_reckoned_and_never_both() -> None:
    assert not set(PAID_OUT) & set(RECKONED)
    assert {*PAID_OUT, *RECKONED, Component.MONEY} == set(Component)


def test_all_in_is_paid_out_and_reckoned_together(books: Books) -> None:
    cost = queries.cost_of(books.workpiece(**LUMP))
    assert cost.paid_out == 91_000_001
    assert cost.all_in == 91_000_008


def test_a_cut_hands_on_each_component_to_the_last_millionth(books: Books) -> None:
    lump = books.workpiece(**LUMP)
    blanks = [books.workpiece() for _ in range(3)]
    books.move(lump, [(blank, weight) for blank, weight in zip(blanks, (5, 3, 3), strict=True)], **LUMP)
    assert fresh(lump).value_micro == 0
    for part, value in LUMP.items():
        assert sum(parts_of(blank).get(part, 0) for blank in blanks) == value
    assert sum(fresh(blank).value_micro for blank in blanks) == sum(LUMP.values())
    assert differences() == []


def test_what_is_left_of_a_part_cut_lump_keeps_its_cost(books: Books) -> None:
    lump, blank = books.workpiece(wood=90 * MONEY), books.workpiece()
    books.move(lump, [(blank, 1)], wood=20 * MONEY)
    assert (fresh(lump).value_micro, fresh(blank).value_micro) == (70 * MONEY, 20 * MONEY)


def test_parts_join_into_a_piece_and_close_towards_it(books: Books) -> None:
    lid, box = books.workpiece(wood=5, resin=3), books.workpiece(wood=9)
    piece = books.workpiece()
    for part in (lid, box):
        books.move(part, [(piece, 1)], **parts_of(part))
        operations.close_account(account=part, successor=piece, at=day(4))
    assert parts_of(piece) == {"wood": 14, "resin": 3}
    assert operations.live(fresh(lid)) == piece
    assert differences() == []


def test_salvage_carries_its_components_and_the_rest_stays_with_the_loss(books: Books) -> None:
    lost, saved = books.workpiece(wood=100, resin=50, own_labour=30, energy=8), books.workpiece()
    books.move(lost, [(saved, 1)], wood=40, resin=20)
    books.move(lost, [(Kind.LOSS_EXPECTED, 1)], wood=60, resin=30, own_labour=30, energy=8)
    operations.close_account(account=lost, successor=Kind.LOSS_EXPECTED, at=day(4))
    assert parts_of(saved) == {"wood": 40, "resin": 20}
    assert pool_value(Kind.LOSS_EXPECTED) == 128
    assert differences() == []


def test_a_late_cost_goes_to_the_last_open_successor(books: Books) -> None:
    first, second, last = books.workpiece(), books.workpiece(), books.workpiece()
    operations.close_account(account=first, successor=second, at=day(4))
    operations.close_account(account=second, successor=last, at=day(5))
    _energy(books, fresh(first), 17)
    assert parts_of(last) == {"energy": 17}
    assert differences() == []


def test_a_late_cost_of_what_was_lost_goes_to_the_losses(books: Books) -> None:
    lost = books.workpiece()
    operations.close_account(account=lost, successor=Kind.LOSS_UNUSUAL, at=day(4))
    _energy(books, fresh(lost), 17)
    assert pool_value(Kind.LOSS_UNUSUAL) == 17


def test_nothing_is_posted_on_a_closed_account_itself(books: Books) -> None:
    lost = books.workpiece()
    operations.close_account(account=lost, successor=Kind.LOSS_EXPECTED, at=day(4))
    with pytest.raises(WrongAccount):
        books.charge(lost, {Component.WOOD: 1})
    operations.reopen_account(account=lost)
    books.charge(lost, {Component.WOOD: 1})
    assert differences() == []


def test_an_account_closes_empty_and_once(books: Books) -> None:
    piece = books.workpiece(wood=1)
    with pytest.raises(WrongAccount):
        operations.close_account(account=piece, successor=Kind.COST_OF_SALES, at=day(4))
    books.move(piece, [(Kind.COST_OF_SALES, 1)], wood=1)
    operations.close_account(account=piece, successor=Kind.COST_OF_SALES, at=day(4))
    with pytest.raises(WrongAccount):
        operations.close_account(account=piece, successor=Kind.COST_OF_SALES, at=day(4))


def test_successors_that_go_round_in_a_circle_are_said_instead_of_followed(books: Books) -> None:
    one, other = books.workpiece(), books.workpiece()
    operations.close_account(account=one, successor=other, at=day(4))
    operations.close_account(account=other, successor=fresh(one), at=day(4))
    with pytest.raises(WrongAccount):
        operations.live(fresh(one))


def test_hours_carry_the_wage_of_the_day_and_overhead_by_the_booked_hour(books: Books) -> None:
    _owner(books)
    piece, other = books.workpiece(), books.workpiece()
    for rate, on in ((24, 0), (30, 10)):
        people_operations.set_wage(
            person=books.by, rate_micro=rate * MONEY, paid=False, from_on=day(on).date(), by=books.by, at=day(0)
        )
    _overhead(books, year=6000, hours=1200)
    for on, wage in ((5, 36), (15, 45)):
        legs = labour_legs(person=books.by, shares=[(piece, 2), (other, 1)], seconds=5400, on=day(on).date())
        operations.post(kind="hours", step="turn", legs=legs, at=day(on), by=books.by, now=NOW)
        assert (
            sum(leg.value for leg in legs if leg.component == Component.OWN_LABOUR and leg.value > 0) == wage * MONEY
        )
    assert parts_of(piece) == {"own_labour": 54 * MONEY, "overhead": 10 * MONEY}
    assert parts_of(other) == {"own_labour": 27 * MONEY, "overhead": 5 * MONEY}
    assert pool_value(Kind.OVERHEAD) == -15 * MONEY
    assert differences() == []


def test_paid_hours_are_paid_out_and_fill_from_the_wages(books: Books) -> None:
    _owner(books)
    people_operations.set_wage(
        person=books.by, rate_micro=20 * MONEY, paid=True, from_on=day(0).date(), by=books.by, at=day(0)
    )
    piece = books.workpiece()
    operations.pay_bill(what=Kind.PAID_LABOUR, value=100 * MONEY, at=day(3), by=books.by, now=NOW)
    legs = labour_legs(person=books.by, shares=[(piece, 1)], seconds=7200, on=day(4).date())
    operations.post(kind="hours", legs=legs, at=day(4), by=books.by, now=NOW)
    assert queries.cost_of(piece).paid_out == 40 * MONEY
    assert pool_value(Kind.PAID_LABOUR) == 60 * MONEY


def test_hours_of_somebody_whose_hour_has_no_figure_ask_for_it(books: Books) -> None:
    with pytest.raises(MissingWage):
        labour_legs(person=books.by, shares=[(books.workpiece(), 1)], seconds=60, on=day(4).date())


def test_overhead_waits_until_both_figures_are_told(books: Books) -> None:
    _owner(books)
    assert overhead_per_hour_micro(day(4).date()) == 0
    people_operations.set_setting(key="overhead_year_micro", value=6000 * MONEY, by=books.by, at=day(0))
    assert overhead_per_hour_micro(day(4).date()) == 0
    _overhead(books, year=6000, hours=1200)
    assert overhead_per_hour_micro(day(4).date()) == 5 * MONEY


def test_a_bill_fills_the_pool_that_the_hours_empty(books: Books) -> None:
    piece = books.workpiece()
    operations.pay_bill(what=Kind.ENERGY, value=30 * MONEY, at=day(3), by=books.by, now=NOW)
    _energy(books, piece, 12 * MONEY)
    assert (pool_value(Kind.ENERGY), pool_value(Kind.CASH)) == (18 * MONEY, -30 * MONEY)
    with pytest.raises(WrongAccount):
        operations.pay_bill(what=Kind.WEAR, value=MONEY, at=day(3), by=books.by, now=NOW)


def test_an_accounts_history_is_what_it_went_through_oldest_first(books: Books) -> None:
    batch, piece = books.batch(), books.workpiece()
    books.charge(piece, {Component.WOOD: 9}, on=8)
    drawn = books.draw((batch, 10), to=[(piece, 1)], on=4, step="cast")
    books.reverse(drawn)
    said = [(line.words, line.step, line.component, line.reversed) for line in queries.history(piece)]
    assert said == [
        ("Drawn from the stores", "cast", "resin", True),
        ("Wood bought", "", "wood", False),
        ("Taken back", "cast", "resin", True),
    ]


def test_a_component_that_has_gone_on_cannot_be_taken_back(books: Books) -> None:
    piece, other = books.workpiece(wood=100), books.workpiece()
    books.charge(piece, {Component.RESIN: 50})
    books.move(piece, [(other, 1)], resin=30)
    with pytest.raises(RunsOut):
        books.move(piece, [(other, 1)], resin=21)


def _energy(books: Books, account, value: int) -> None:  # type: ignore[no-untyped-def]
    operations.charge(
        account=account,
        values={Component.ENERGY: value},
        against={Component.ENERGY: Kind.ENERGY},
        kind="load",
        at=day(9),
        by=books.by,
        now=NOW,
    )


def _owner(books: Books) -> None:
    books.by.role = Role.OWNER
    books.by.save()


def _overhead(books: Books, *, year: int, hours: int) -> None:
    for key, value in (("overhead_year_micro", year * MONEY), ("normal_hours_s", hours * 3600)):
        people_operations.set_setting(key=key, value=value, by=books.by, at=day(0))
