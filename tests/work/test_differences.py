"""For each thing the bench can compute twice: the data broken beneath it, and the audit saying so."""

import pytest
from django.db import connection
from django.utils import timezone

from studio.ledger import audit
from studio.ledger.accounts import Kind, pool
from studio.work import operations as work
from studio.work.models import Descent

from .conftest import BEGAN, DAY, GRAM, HOUR, KILO, MONEY


def differences():
    return list(audit.run().differences)


def sql(statement, *params):
    with connection.cursor() as cursor:
        cursor.execute(statement, params)


@pytest.fixture
def whole_story(lump, blanks, resin, owner):
    """A cut lump, a casting of two blanks, a loss with something saved of it, and a client's wood given back."""
    work.pour(
        wood_sure=True,
        system=resin, fills=[work.Fill(planned_mg=400 * GRAM, blanks=blanks[:2])], planned_a_mg=200 * GRAM,
        planned_b_mg=200 * GRAM, poured_a_mg=200 * GRAM, poured_b_mg=200 * GRAM, at=BEGAN + DAY, by=owner,
    )  # fmt: skip
    loss = work.it_broke(workpiece=blanks[2], cause="checked", at=BEGAN + DAY, by=owner)
    work.salvage(loss=loss, kept_wood_mg=KILO, wood_was_mg=5 * KILO, at=BEGAN + DAY, by=owner)
    assert {link.how for link in Descent.objects.all()} == {"cut", "cast", "salvage"}
    assert differences() == []
    return blanks


def test_shares_of_a_cut_that_are_not_the_whole_are_found(whole_story, lump):
    sql("UPDATE work_descent SET share_ppm = share_ppm - 1 WHERE child_id = %s", whole_story[0].pk)
    (found,) = differences()
    assert f"the cut of {lump.number} on 2025-03-10 09:00 shares out 999999 of a million, and nothing" in found


def test_shares_of_a_cut_that_are_more_than_the_whole_are_found(lump, owner):
    (blank,) = work.cut(parent=lump, blanks=[work.BlankSpec(weight=4)], kept_weight=6, at=BEGAN + HOUR, by=owner)
    assert differences() == []
    sql("UPDATE work_descent SET share_ppm = 1000001 WHERE child_id = %s", blank.pk)
    (found,) = differences()
    assert "1000001 of a million: more than there was" in found


def test_two_cuts_of_the_same_minute_are_two(lump, owner):
    at = BEGAN + HOUR
    (first,) = work.cut(parent=lump, blanks=[work.BlankSpec(weight=1)], kept_weight=1, at=at, by=owner)
    (rest,) = work.cut(parent=lump, blanks=[work.BlankSpec(weight=1)], at=at, by=owner)
    assert differences() == []
    work.add_wood_bill(purchase=lump.purchase, amount_micro=10 * MONEY, what="sawing", at=at, by=owner)
    first.account.refresh_from_db()
    rest.account.refresh_from_db()
    assert (first.account.value_micro, rest.account.value_micro) == (55 * MONEY, 55 * MONEY)


def test_a_workpiece_closed_without_its_account_is_found(lump):
    sql("UPDATE work_workpiece SET closed_at = %s, closed_as = 'lost' WHERE id = %s", timezone.now(), lump.pk)
    assert differences() == [f"work: {lump.number} has left the bench and its account is open."]


def test_a_workpiece_open_on_a_closed_account_is_found(whole_story):
    sql("UPDATE work_workpiece SET closed_at = NULL, closed_as = '' WHERE id = %s", whole_story[2].pk)
    assert differences() == [f"work: {whole_story[2].number} lies on the bench and its account is closed."]


def test_a_lost_workpiece_whose_late_costs_go_elsewhere_is_found(whole_story):
    sold = pool(Kind.COST_OF_SALES).pk
    sql("UPDATE ledger_account SET successor_id = %s WHERE id = %s", sold, whole_story[2].account_id)
    assert differences() == [f"work: {whole_story[2].number} was lost, and what comes late for it goes elsewhere."]


def test_a_cut_lump_whose_late_costs_go_to_another_lump_is_found(whole_story, lump, owner):
    other = work.take_in_lump(number="77", mass_mg=KILO, paid_micro=MONEY, at=BEGAN, by=owner)
    sql("UPDATE ledger_account SET successor_id = %s WHERE id = %s", other.account_id, lump.account_id)
    assert differences() == [
        f"work: {lump.number} was cut up, and what comes late for it goes to nothing that came of it."
    ]


@pytest.mark.parametrize("how", ["cut", "cast", "salvage"])
def test_a_descent_that_points_at_an_entry_which_moved_something_else_is_found(whole_story, how):
    link = Descent.objects.filter(how=how).order_by("pk").first()
    other = Descent.objects.exclude(how=how).filter(entry__isnull=False).order_by("-pk").first()
    sql("UPDATE work_descent SET entry_id = %s WHERE id = %s", other.entry_id, link.pk)
    (found,) = differences()
    assert f"{link.child.number} was" in found and "did not hand that cost on" in found
    assert "by entry" in found


def test_a_cut_that_points_at_the_cut_of_another_lump_is_found(whole_story, owner):
    lump = work.take_in_lump(number="77", mass_mg=KILO, paid_micro=MONEY, at=BEGAN, by=owner)
    (blank,) = work.cut(parent=lump, blanks=[work.BlankSpec(weight=1)], at=BEGAN + HOUR, by=owner)
    own = Descent.objects.get(child=blank).entry_id
    sql("UPDATE work_descent SET entry_id = %s WHERE child_id = %s", own, whole_story[0].pk)
    (found,) = differences()
    assert f"{whole_story[0].number} was cut from 41 by entry {own}" in found
