"""Whose hours are in a piece: its own and its part of those spent on what it came of."""

from datetime import date, timedelta

import pytest

from studio.equipment import operations as equipment
from studio.people import operations as people
from studio.people.models import Role
from studio.pieces.lineage import lineage
from studio.pricing import queries as pricing
from studio.work import operations as work
from tests.pieces.conftest import BEGAN, DAY, HOUR_S, KILO, MONEY, NOW

ON = NOW.date()


def hours(*workpieces):
    line = lineage(row.pk for row in workpieces)
    found = pricing.own_seconds(line, [row.pk for row in workpieces], ON)
    return [found[row.pk] / HOUR_S for row in workpieces]


def book(workpiece, person, worked, day, code="turn"):
    work.add_hours(
        person=person, workpieces=[workpiece], code=code, seconds=int(worked * HOUR_S), at=BEGAN + day * DAY,
        by=person, now=NOW,
    )  # fmt: skip


def cut(parent, owner, day, *weights, kept=0):
    specs = [work.BlankSpec(weight=weight) for weight in weights]
    return work.cut(parent=parent, blanks=specs, kept_weight=kept, at=BEGAN + day * DAY, by=owner, now=NOW)


def test_a_cut_hands_on_hours_by_its_share(lump, owner):
    book(lump, owner, 4, day=1, code="clean")
    small, large = cut(lump, owner, 2, 1, 3)
    book(large, owner, 2, day=3)
    assert hours(small, large) == [1, 5]


def test_what_is_kept_back_keeps_its_own_and_later_hours_are_not_the_first_blank_s(lump, owner):
    book(lump, owner, 4, day=1, code="clean")
    (first,) = cut(lump, owner, 2, 1, kept=3)
    book(lump, owner, 1, day=3, code="rough")
    (second,) = cut(lump, owner, 4, 1, kept=1)
    assert hours(first, second, lump) == [1, 2, 2]


def test_joined_parts_bring_all_of_theirs(lump, owner):
    box, lid = cut(lump, owner, 1, 1, 1)
    book(box, owner, 3, day=2)
    book(lid, owner, 1, day=2)
    whole = work.join(parts=[box, lid], at=BEGAN + 3 * DAY, by=owner, now=NOW)
    book(whole, owner, 0.5, day=4, code="finish")
    assert hours(whole) == [4.5]


def test_what_was_saved_from_a_loss_carries_no_hours(lump, owner):
    book(lump, owner, 4, day=1)
    loss = work.it_broke(workpiece=lump, cause="catch", at=BEGAN + 2 * DAY, by=owner, now=NOW)
    saved = work.salvage(loss=loss, kept_wood_mg=KILO, wood_was_mg=2 * KILO, at=BEGAN + 3 * DAY, by=owner, now=NOW)
    book(saved, owner, 1, day=4)
    assert hours(saved) == [1]


def test_hours_that_are_paid_out_are_not_the_maker_s_own(lump, owner):
    helper = people.add_user(
        username="tove", display_name="Tove Lind", role=Role.MAKER, password="long shavings in the sun", by=owner,
        at=BEGAN,
    )  # fmt: skip
    people.set_wage(person=helper, rate_micro=15 * MONEY, paid=True, from_on=date(2025, 1, 1), by=owner, at=BEGAN)
    book(lump, owner, 2, day=1, code="turn")
    book(lump, helper, 3, day=2, code="sand")
    assert hours(lump) == [2]


def test_minutes_at_a_load_are_shared_like_its_hours(lump, owner):
    one, two = cut(lump, owner, 1, 1, 1)
    oven = equipment.add_machine(kind="oven", name="The brick oven", by=owner, at=BEGAN)
    began = BEGAN + 2 * DAY
    load = equipment.start_load(
        machine=oven, purpose="dry", at=began, by=owner, places=[(one.account, 1), (two.account, 3)],
        share_by="mass", now=NOW,
    )  # fmt: skip
    equipment.end_load(load=load, at=began + timedelta(hours=8), by=owner, hands_on_s=2 * HOUR_S, now=NOW)
    assert hours(one, two) == [0.5, 1.5]
    assert sum(hours(one, two)) == pytest.approx(2)
