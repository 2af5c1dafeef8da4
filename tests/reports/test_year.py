"""The year's money, to the coin, and what bills no piece carried."""

from datetime import date

import pytest

from studio.ledger import operations as ledger
from studio.ledger.accounts import Kind
from studio.ledger.queries import cost_of, pool_sums
from studio.reports.year import Year, year
from studio.selling import operations as selling
from studio.stores import operations as stores
from tests.web.people_of_a_studio import open_studio
from tests.web.small_studio import GRAM, SmallStudio, coins, day

FIRST, LAST = date(2025, 1, 1), date(2025, 12, 31)


def of(found: Year, key: str) -> tuple[int | None, int | None]:
    line = next(line for line in found.sums if line.key == key)
    return line.paid_out_micro, line.all_in_micro


def test_a_year_without_anything_made_nothing(db: None) -> None:
    open_studio()
    found = year(FIRST, LAST)
    assert (found.paid_out_micro, found.all_in_micro, found.sold, found.differences) == (0, 0, 0, ())


def test_a_sale_brings_its_price_less_the_gallerys_share(small: SmallStudio) -> None:
    found = year(FIRST, LAST)
    assert of(found, "sales") == (coins("389.00"), coins("389.00"))
    assert of(found, "share") == (-coins("175.05"), -coins("175.05"))
    assert found.sold == 1


def test_what_the_sold_piece_had_cost_stands_paid_out_and_all_in(small: SmallStudio) -> None:
    # Bought for 71.23; 13 % of that was set aside when it was finished.
    assert of(year(FIRST, LAST), "sold") == (-coins("71.23"), -(coins("71.23") + 9_259_900))


def test_a_gift_is_no_sale_and_its_cost_stands_apart(small: SmallStudio) -> None:
    paid, all_in = of(year(FIRST, LAST), "given")
    assert paid == -coins("29.83") and all_in == -(coins("29.83") + 3_877_900)


def test_what_was_set_aside_for_breakage_is_counted_once(small: SmallStudio) -> None:
    paid, all_in = of(year(FIRST, LAST), "set_aside")
    assert paid is None and all_in == -pool_sums()[Kind.ALLOWANCE]


def test_bills_and_what_work_carried_of_them(small: SmallStudio) -> None:
    found = {line.words: line for line in year(FIRST, LAST).pools}
    # A day of the oven: 2 kW × half × 24 h × 0.317. Two hours of the maker at 23.71 and a quarter for the oven,
    # an hour and a half cleaning, one roughing.
    assert found["Power"].spent_micro == coins("47.91") and found["Power"].carried_micro == 7_608_000
    assert found["Wages"].spent_micro == coins("211.13")
    assert found["Wages"].carried_micro == (5400 + 3600 + 900) * coins("23.71") // 3600
    # 11,731.00 over 1,000 hours; 9 h 45 were booked.
    assert found["Overhead"].carried_micro == 11_731_000 * 35_100 // 3600
    assert found["Overhead"].left_micro == coins("913.37") - found["Overhead"].carried_micro
    assert "carried by no piece" in found["Overhead"].sentence


def test_more_carried_than_paid_says_so(small: SmallStudio) -> None:
    ledger.reverse(entry_id=small.entry, at=day(33), by=small.owner)
    wages = {line.words: line for line in year(FIRST, LAST).pools}["Wages"]
    assert wages.spent_micro == 0 and wages.left_micro < 0
    assert "not paid yet" in wages.sentence


def test_a_bill_taken_back_is_as_if_never_paid(small: SmallStudio) -> None:
    before = year(FIRST, LAST)
    posted = ledger.pay_bill(what=Kind.OVERHEAD, value=coins("55.00"), at=day(34), by=small.owner)
    assert year(FIRST, LAST).paid_out_micro == before.paid_out_micro - coins("55.00")
    ledger.reverse(entry_id=posted.entry_id, at=day(35), by=small.owner)
    assert year(FIRST, LAST) == before


def test_what_is_used_in_the_shop_is_overhead_that_was_spent(small: SmallStudio) -> None:
    before = {line.words: line for line in year(FIRST, LAST).pools}["Overhead"]
    taken = stores.use_in_shop(material=small.oil, amount=100 * GRAM, at=day(36), by=small.owner)
    after = {line.words: line for line in year(FIRST, LAST).pools}["Overhead"]
    assert taken.entry_id and after.spent_micro - before.spent_micro == 1_532_000
    assert after.carried_micro == before.carried_micro


def test_the_sum_all_in_is_the_sum_of_every_pool_of_the_year(small: SmallStudio) -> None:
    """What is left all in: every pool that is neither money, stuff nor a reckoned cost, turned round."""
    outside = {
        Kind.CASH, Kind.SALES_TAX, Kind.GALLERY_OWES, Kind.CLIENT_OWES, Kind.DEPOSIT, Kind.OUTSIDE, Kind.USED_UP,
        Kind.GONE, Kind.OWN_LABOUR, Kind.WEAR, Kind.GIVEN_WOOD,
    }  # fmt: skip
    pools = pool_sums(since=FIRST, until=LAST)
    assert year(FIRST, LAST).all_in_micro == -sum(value for kind, value in pools.items() if kind not in outside)


def test_only_the_days_asked_for_count(small: SmallStudio) -> None:
    assert of(year(FIRST, date(2025, 3, 27)), "sales") == (0, 0)
    assert of(year(date(2025, 3, 28), date(2025, 3, 28)), "sales") == (coins("389.00"), coins("389.00"))
    assert of(year(date(2026, 1, 1), date(2026, 12, 31)), "sales") == (0, 0)


def test_a_sale_taken_back_leaves_the_year_as_it_was(small: SmallStudio) -> None:
    cost = cost_of(small.piece.workpiece.account).all_in
    before = year(FIRST, LAST)
    sale = selling.sell(piece=small.piece, price_micro=coins("714.00"), at=day(40), by=small.owner)
    between = year(FIRST, LAST)
    assert between.all_in_micro - before.all_in_micro < coins("714.00") - cost + coins("1.00")
    assert between.sold == before.sold + 1
    selling.take_back_sale(sale=sale, why="too wide", at=day(41), by=small.owner)
    assert year(FIRST, LAST) == before


def test_the_lines_say_the_same_and_one_that_was_changed_is_named(small: SmallStudio, monkeypatch) -> None:
    assert year(FIRST, LAST).differences == ()
    from studio.reports import second

    real = second.ledger.lines_frame
    monkeypatch.setattr(
        second.ledger,
        "lines_frame",
        lambda: [(*row[:5], row[5] + 10_000, row[6]) if row[1] == Kind.REVENUE else row for row in real()],
    )
    assert year(FIRST, LAST).differences == ("Sales: −389.00 by the balances, −388.99 by the single lines.",)


@pytest.mark.parametrize("key", ["lost", "missing", "power", "wages", "overhead", "selling", "accident"])
def test_every_line_is_there_even_at_nothing(db: None, key: str) -> None:
    open_studio()
    assert of(year(FIRST, LAST), key) == (0, 0)
