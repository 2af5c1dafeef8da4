"""What a shop that sells for us keeps, what it owes, and what the piece was worth to us: by the real operations.

Sources, at each test: OpenStax, Principles of Accounting, Volume 1: Financial Accounting (2019, CC BY-NC-SA 4.0),
section 10.1; the study text of the national accounting institute of India on AS 2, Illustration 2.
"""

from decimal import Decimal

import pytest

from studio.craft.pricing import price_for_net
from studio.ledger.accounts import Kind
from studio.ledger.queries import cost_of, newest_entry_id
from studio.people.models import User
from studio.selling import operations, queries
from studio.selling.models import Sale
from tests.selling.shelf import BEGAN, MONEY, PER_CENT, a_piece, day, differences, pool, set_up


@pytest.fixture
def owner(db: None) -> User:
    return set_up()


def through_a_gallery(owner: User, *, cost: int, price: int, share_ppm: int) -> Sale:
    gallery = operations.add_gallery(name="Harbour Rooms", share_ppm=share_ppm, at=BEGAN, by=owner)
    piece = a_piece(owner, "41", cost=cost, asking=price)
    operations.leave_with(pieces=[piece], gallery=gallery, at=day(2), by=owner)
    return operations.sell(piece=piece, gallery=gallery, price_micro=price * MONEY, at=day(3), by=owner)


def test_the_shop_keeps_a_third_and_the_owner_is_owed_the_rest(owner: User) -> None:
    """OpenStax volume 1, 10.1: sold for 15,000, a third to the shop is 5,000, 10,000 to the owner."""
    sale = through_a_gallery(owner, cost=4_000, price=15_000, share_ppm=333_333)
    assert (sale.price_micro, sale.share_micro, sale.owed_micro) == (15_000 * MONEY, 5_000 * MONEY, 10_000 * MONEY)
    assert pool(Kind.REVENUE) == -15_000 * MONEY
    assert (pool(Kind.GALLERY_SHARE), pool(Kind.GALLERY_OWES)) == (5_000 * MONEY, 10_000 * MONEY)
    assert differences() == ()


def test_until_it_is_sold_it_stays_the_owners_own_at_cost(owner: User) -> None:
    """OpenStax volume 1, 10.1: goods out on consignment stay in the owner's stock until they are sold."""
    gallery = operations.add_gallery(name="Harbour Rooms", share_ppm=333_333, at=BEGAN, by=owner)
    piece = a_piece(owner, "41", cost=4_000, asking=15_000)
    before = newest_entry_id()
    operations.leave_with(pieces=[piece], gallery=gallery, at=day(2), by=owner)
    assert newest_entry_id() == before
    assert cost_of(piece.workpiece.account).all_in == 4_000 * MONEY
    assert [pool(kind) for kind in (Kind.REVENUE, Kind.GALLERY_OWES, Kind.COST_OF_SALES)] == [0, 0, 0]
    (row,) = queries.galleries()
    assert (row.held, row.asking_micro) == (1, 15_000 * MONEY)


def test_what_it_brings_after_an_agents_tenth_is_less_than_it_cost(owner: User) -> None:
    """AS 2, Illustration 2: cost 1,000,000; price 1,100,000 less 10 % to the agent brings 990,000."""
    sale = through_a_gallery(owner, cost=1_000_000, price=1_100_000, share_ppm=10 * PER_CENT)
    assert (sale.cost_micro, sale.net_micro) == (1_000_000 * MONEY, 990_000 * MONEY)
    result = -(pool(Kind.REVENUE) + pool(Kind.GALLERY_SHARE) + pool(Kind.COST_OF_SALES))
    assert result == -10_000 * MONEY


@pytest.mark.parametrize(("net", "percent", "price"), [(300, 40, 500), (150, 50, 300)])
def test_the_price_that_leaves_a_net_really_leaves_it(owner: User, net: int, percent: int, price: int) -> None:
    """Arithmetic: N / (1 − c). Half to the shop makes the price twice the net (keystone, common practice)."""
    assert price_for_net(net, Decimal(percent) / 100) == price
    sale = through_a_gallery(owner, cost=100, price=price, share_ppm=percent * PER_CENT)
    assert sale.owed_micro == net * MONEY
