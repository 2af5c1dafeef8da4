"""What a piece must bring, what is asked, and what an hour earns; in one go for one and for a thousand."""

from dataclasses import asdict
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from studio.people import operations as people
from studio.people.models import DatedSetting
from studio.people.settings import MissingSetting
from studio.pieces import operations as pieces
from studio.pricing import queries as pricing
from studio.pricing.offers import ASKED
from studio.work import operations as work
from studio.work.models import Step, Workpiece
from studio.work.queries import still_to_come
from tests.pieces.conftest import BEGAN, DAY, HOUR_S, MONEY, NOW
from tests.pieces.test_queries import fill

ON = NOW.date()


def offer(subject, owner, **more):
    return pricing.offer(subject, on=ON, now=NOW, person=owner, **more)


def book(workpiece, owner, hours, code="turn", day=1):
    work.add_hours(
        person=owner, workpieces=[workpiece], code=code, seconds=int(hours * HOUR_S), at=BEGAN + day * DAY,
        by=owner, now=NOW,
    )  # fmt: skip


def test_the_lowest_ask_carries_the_share_and_the_cost_to_sell(bowl, finish, owner):
    finish(bowl)
    plain = offer(bowl, owner)
    assert plain.all_in_micro == 115 * MONEY
    assert plain.lowest_ask_micro == 191_670_000  # 115 / .6 = 191.666…, raised to the coin
    given = offer(bowl, owner, share_ppm=450_000, card_ppm=20_000, cost_to_sell_micro=12 * MONEY)
    assert given.lowest_ask_micro == 239_630_000  # 127 / .53 = 239.622…


def test_what_is_asked_is_held_against_it(bowl, finish, owner):
    finish(bowl)
    for money, below in ((191, True), (192, False)):
        pieces.set_asking_price(
            piece=bowl, amount_micro=money * MONEY, reason="so", at=BEGAN + 9 * DAY, by=owner, now=NOW
        )
        found = offer(bowl, owner)
        assert (found.asking_micro, found.below_lowest) == (money * MONEY, below)


def test_an_hour_earns_what_the_price_leaves_after_every_other_cost(lump, finish, owner):
    book(lump, owner, 2)
    piece = finish(pieces.become_piece(workpiece=lump, at=BEGAN + DAY, by=owner, now=NOW))
    pieces.set_asking_price(piece=piece, amount_micro=500 * MONEY, at=BEGAN + 9 * DAY, by=owner, now=NOW)
    found = offer(piece, owner, cost_to_sell_micro=10 * MONEY)
    # 100 wood, 60 own hours, 24 overhead, 15 % of that
    assert (found.all_in_micro, found.own_labour_micro, found.own_seconds) == (211_600_000, 60 * MONEY, 2 * HOUR_S)
    assert found.wage_micro == (500 * 60 // 100 * MONEY - 151_600_000 - 10 * MONEY) // 2
    # raised to the coin, the lowest ask earns the wage and a fraction of a coin
    assert 30 * MONEY <= found.wage_at_lowest_micro <= 30 * MONEY + 10_000


def test_without_an_hour_of_ones_own_nothing_is_said_of_a_wage(bowl, finish, owner):
    finish(bowl)
    assert offer(bowl, owner).wage_at_lowest_micro is None


def test_before_it_is_finished_the_share_of_lost_pieces_and_the_steps_to_come_are_counted_in(lump, finish, owner):
    work.plan_steps(workpiece=lump, codes=["turn", "finish"])
    work.set_usual_minutes(person=owner, code="turn", seconds=3 * HOUR_S)
    book(lump, owner, 1)
    piece = pieces.become_piece(workpiece=lump, at=BEGAN, by=owner, now=NOW)
    before = offer(piece, owner)
    assert (before.to_come.seconds, before.to_come.unknown) == (2 * HOUR_S, ("Finish",))
    # so far 100 + 42, to come 84, and 15 % of 226
    assert before.allowance_to_come_micro == 33_900_000
    assert before.own_seconds == 3 * HOUR_S
    book(lump, owner, 2, day=2)
    finish(piece, day=3)
    after = offer(piece, owner)
    assert after.allowance_to_come_micro == 0
    assert (after.all_in_micro, after.paid_out_micro) == (before.all_in_micro, before.paid_out_micro)
    assert after.lowest_ask_micro == before.lowest_ask_micro


def test_what_is_to_come_is_what_the_bench_says(lump, owner):
    work.plan_steps(workpiece=lump, codes=["turn", "finish", "sand"])
    work.set_usual_minutes(person=owner, code="turn", seconds=3 * HOUR_S)
    work.set_usual_minutes(person=owner, code="sand", seconds=999)
    book(lump, owner, 1, code="sand")
    row = Workpiece.objects.get(pk=lump.pk)
    assert asdict(pricing.coming([row], person=owner, on=ON)[row.pk].to_come) == asdict(
        still_to_come(row, person=owner, on=ON)
    )
    people.set_wage(person=owner, rate_micro=20 * MONEY, paid=True, from_on=date(2025, 4, 1), by=owner, at=NOW)
    paid = pricing.coming([row], person=owner, on=ON)[row.pk]
    assert asdict(paid.to_come) == asdict(still_to_come(row, person=owner, on=ON))
    assert (paid.own_seconds, paid.own_labour_micro) == (0, 0) and paid.to_come.paid_out_micro > 0


def test_a_workpiece_that_is_no_piece_yet_has_a_lowest_ask_too(lump, owner):
    work.plan_steps(workpiece=lump, codes=[])
    found = offer(lump, owner)
    assert (found.piece, found.asking_micro, found.like) == (None, None, None)
    assert found.lowest_ask_micro == 191_670_000


@pytest.mark.parametrize("key", ASKED)
def test_an_answer_that_is_missing_is_named_and_no_lowest_ask_is_made_up(bowl, owner, key):
    DatedSetting.objects.filter(key=key).delete()
    found = offer(bowl, owner)
    assert (found.missing, found.lowest_ask_micro, found.below_lowest) == ((key,), None, False)
    with pytest.raises(MissingSetting) as asked:
        offer(bowl, owner, must_know=True)
    assert asked.value.key == key


def test_a_share_that_leaves_nothing_leaves_no_lowest_ask(bowl, owner):
    found = offer(bowl, owner, share_ppm=950_000, card_ppm=50_000)
    assert (found.lowest_ask_micro, found.earns(10**9)) == (None, None)


def test_nothing_is_asked_for_what_has_left(bowl, owner):
    pieces.let_go(piece=bowl, how="gift", at=BEGAN + DAY, by=owner, now=NOW)
    with pytest.raises(pricing.HasLeft, match="41 has left"):
        offer(Workpiece.objects.get(pk=bowl.workpiece_id), owner)


def test_the_figures_of_many_are_those_of_each(make_piece, finish, owner):
    several = [make_piece(str(n), 10 * n) for n in range(1, 5)]
    finish(several[0])
    rows = list(Workpiece.objects.filter(piece__in=several).order_by("pk"))
    together = pricing.offers(rows, on=ON, now=NOW, person=owner)
    assert [one.lowest_ask_micro for one in together] == [offer(row, owner).lowest_ask_micro for row in rows]
    assert len({one.lowest_ask_micro for one in together}) == 4


def test_a_thousand_offers_ask_as_often_as_ten(owner):
    def asked():
        rows = list(Workpiece.objects.filter(piece__isnull=False))
        with CaptureQueriesContext(connection) as seen:
            assert len(pricing.offers(rows, on=ON, now=NOW, person=owner)) == len(rows)
        return len(seen)

    def work_on_them():
        Step.objects.all().delete()
        Step.objects.bulk_create(
            Step(workpiece=row, code=code, position=1, state=state, hands_on_s=HOUR_S, started_at=BEGAN)
            for row in Workpiece.objects.all()
            for code, state in (("turn", "done"), ("finish", "planned"))
        )

    fill(owner, 10)
    work_on_them()
    few = asked()
    fill(owner, 990)
    work_on_them()
    assert asked() == few
