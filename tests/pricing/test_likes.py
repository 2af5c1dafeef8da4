"""What like pieces fetched, and how long they stood, those that still stand counted in."""

from datetime import timedelta

import pytest

from studio.people import operations as people
from studio.pieces.models import Piece
from studio.pricing import queries as pricing
from studio.selling import operations as selling
from studio.selling import queries as sales
from tests.pieces.conftest import BEGAN, DAY, MM, MONEY, NOW


@pytest.fixture
def sold(make_piece, finish, owner):
    """Sells a piece of a form and width for so much, so many days after it was finished."""
    people.set_setting(key="sales_tax_ppm", value=0, by=owner, at=BEGAN, from_on=BEGAN.date())
    people.set_setting(key="prices_include_tax", value=False, by=owner, at=BEGAN, from_on=BEGAN.date())

    def sell(number, price, days, *, form="bowl", width=200 * MM):
        piece = finish(make_piece(number, form=form), diameter_um=width)
        selling.sell(
            piece=piece, price_micro=price * MONEY, at=piece.finished_at + timedelta(days=days), by=owner, now=NOW
        )
        return piece

    return sell


def like(piece):
    row = Piece.objects.select_related("workpiece").get(pk=piece.pk)
    return pricing.likes([row], NOW).get(piece.pk)


def test_like_is_the_same_form_and_a_size_within_a_quarter(sold, make_piece, finish):
    ours = finish(make_piece("1"))
    sold("2", 300, 30, width=160 * MM)
    sold("3", 500, 60, width=240 * MM)
    sold("4", 9000, 60, width=600 * MM)
    sold("5", 9000, 60, form="vase")
    standing = finish(make_piece("6"))
    found = like(ours)
    assert (found.sold, found.unsold, found.count) == (2, 1, 3)
    assert (found.prices.lowest, found.prices.middle, found.prices.highest) == (
        300 * MONEY,
        400 * MONEY,
        500 * MONEY,
    )
    assert found.median_days == 60
    assert found.median_months == 2
    assert standing.pk != ours.pk
    assert sorted(sales.sold_like("bowl", 150 * MM, 250 * MM)) == [(300 * MONEY, 30), (500 * MONEY, 60)]


def test_a_piece_not_measured_yet_is_compared_by_form_alone(sold, make_piece):
    sold("2", 300, 30, width=160 * MM)
    sold("3", 900, 60, width=600 * MM)
    assert like(make_piece("1")).sold == 2


def test_where_nothing_like_it_was_sold_or_its_form_is_not_named_nothing_is_said(sold, make_piece, finish):
    sold("2", 300, 30)
    assert like(finish(make_piece("1", form="vase"))) is None
    assert like(finish(make_piece("3", form=""))) is None


def test_a_sale_taken_back_counts_as_standing_again(sold, make_piece, finish, owner):
    ours = finish(make_piece("1"))
    sold("2", 300, 30)
    back = sold("3", 900, 30)
    selling.take_back_sale(sale=back.sales.get(), why="cracked", at=NOW - DAY, by=owner, now=NOW)
    found = like(ours)
    assert (found.sold, found.unsold, found.prices.highest) == (1, 1, 300 * MONEY)


def test_half_of_them_sell_within_so_many_days_those_that_stand_counted_in():
    assert pricing.median_days([10, 20, 30, 40], []) == 20
    # left out, the three that still stand after 100 days would make it 20; counted, it is 40
    assert pricing.median_days([10, 20, 30, 40], [100, 100, 100]) == 40
    # one that has stood two days says nothing yet against those that took longer
    assert pricing.median_days([10, 20, 30, 40], [2]) == 20
    assert pricing.median_days([10], [50, 50]) is None
    assert pricing.median_days([], [50]) is None


def test_the_product_limit_of_a_published_example():
    """Remission weeks of 21 treated patients: half within 23 weeks; 21 untreated: within 8.

    E. A. Gehan, Biometrika 52 (1965) 203, data after E. J. Freireich and others 1963; *from memory*.
    """
    relapsed = [6, 6, 6, 7, 10, 13, 16, 22, 23]
    still_well = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
    assert pricing.median_days(relapsed, still_well) == 23
    untreated = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]
    assert pricing.median_days(untreated, []) == 8
