"""A perpetual inventory worked by hand elsewhere, posted through the journal's own operations.

Source: OpenStax, Principles of Accounting, Volume 1: Financial Accounting (2019, CC BY-NC-SA 4.0), section 10.3,
"Calculate the Cost of Goods Sold and Ending Inventory Using the Perpetual Method": the example's data (150 units at
21, 225 at 27, 210 at 33; 120 sold at 36, then 180 at 39) and its answer by specific identification: cost of goods
sold 7,260, ending inventory 8,895, gross margin 4,080.
"""

import pytest

from studio.ledger import operations, queries
from studio.ledger.accounts import Account, Component, Kind
from studio.ledger.journal import Leg
from tests.ledger.books import MONEY, NOW, Books, day, differences, fresh, parts_of, pool_value
from tests.ledger.conftest import books, maker

__all__ = ["books", "maker"]

UNIT = 1000  # a counted thing is kept in thousandths
LOTS = [(150, 21, 1), (225, 27, 10), (210, 33, 20)]


@pytest.fixture
def lots(books: Books) -> list[Account]:
    """Three purchases of the same counted thing, each its own batch at its own cost."""
    thing = operations.new_commodity(counted=True)
    return [
        books.batch(count * UNIT, count * cost * MONEY, on=on, commodity=thing, component=Component.CONSUMABLE)
        for count, cost, on in LOTS
    ]


def sell(books: Books, draws: list[tuple[Account, int]], price: int, *, on: int) -> int:
    """Sell pieces made of nothing but these things; returns what was taken for them."""
    piece = books.workpiece()
    books.draw(*((lot, count * UNIT) for lot, count in draws), to=[(piece, 1)], on=on, component=Component.CONSUMABLE)
    taken = sum(count for _, count in draws) * price * MONEY
    legs = [
        Leg(Kind.CASH, Component.MONEY, taken),
        Leg(Kind.REVENUE, Component.MONEY, -taken),
        *operations.share_legs(fresh(piece), [(Kind.COST_OF_SALES, 1)], queries.cost_of(piece).parts),
    ]
    operations.post(kind="sale", legs=legs, at=day(on), by=books.by, now=NOW)
    operations.close_account(account=piece, successor=Kind.COST_OF_SALES, at=day(on))
    return taken


def in_stock(lots: list[Account]) -> int:
    return sum(fresh(lot).value_micro for lot in lots)


def test_cost_of_sales_stock_and_margin_by_specific_identification(books: Books, lots: list[Account]) -> None:
    sales = sell(books, [(lots[0], 120)], 36, on=5) + sell(books, [(lots[0], 20), (lots[1], 160)], 39, on=15)
    assert sales == 11_340 * MONEY
    assert pool_value(Kind.COST_OF_SALES) == 7_260 * MONEY
    assert in_stock(lots) == 8_895 * MONEY
    assert sales - pool_value(Kind.COST_OF_SALES) == 4_080 * MONEY
    assert [fresh(lot).amount // UNIT for lot in lots] == [10, 65, 210]
    assert differences() == []


def test_the_same_entered_late_and_in_another_order_comes_to_the_same(books: Books, lots: list[Account]) -> None:
    """Draws on a purchase commute: the second sale is entered first, the first one back-dated."""
    sell(books, [(lots[0], 20), (lots[1], 160)], 39, on=15)
    sell(books, [(lots[0], 120)], 36, on=5)
    assert pool_value(Kind.COST_OF_SALES) == 7_260 * MONEY
    assert in_stock(lots) == 8_895 * MONEY
    assert differences() == []


def test_carriage_billed_after_the_sales_follows_the_units_where_they_went(books: Books, lots: list[Account]) -> None:
    """Transport is a cost of purchase (IAS 2 paragraph 11). 450 on the second lot is 2 a unit; 160 were sold."""
    sell(books, [(lots[0], 120)], 36, on=5)
    sell(books, [(lots[0], 20), (lots[1], 160)], 39, on=15)
    books.late(lots[1], 450 * MONEY, on=30, component=Component.CONSUMABLE)
    assert pool_value(Kind.COST_OF_SALES) == (7_260 + 320) * MONEY
    assert in_stock(lots) == (8_895 + 130) * MONEY
    assert parts_of(fresh(lots[1])) == {"consumable": (65 * 27 + 130) * MONEY}
    assert differences() == []


def test_carriage_known_at_once_comes_to_the_same_as_carriage_billed_late(books: Books) -> None:
    thing = operations.new_commodity(counted=True)
    known = books.batch(225 * UNIT, (225 * 27 + 450) * MONEY, on=10, commodity=thing, component=Component.CONSUMABLE)
    sell(books, [(known, 160)], 39, on=15)
    at_once = pool_value(Kind.COST_OF_SALES)
    billed = books.batch(225 * UNIT, 225 * 27 * MONEY, on=10, commodity=thing, component=Component.CONSUMABLE)
    sell(books, [(billed, 160)], 39, on=15)
    books.late(billed, 450 * MONEY, on=30, component=Component.CONSUMABLE)
    assert pool_value(Kind.COST_OF_SALES) - at_once == at_once
    assert fresh(billed).value_micro == fresh(known).value_micro
