"""A textbook's jobs, costed by the studio's real operations to the exact figures.

Source: OpenStax, Principles of Accounting, Volume 2: Managerial Accounting (2019, CC BY-NC-SA 4.0), sections 4.2,
4.4 and 4.5 (four jobs), 4.6 and 6.3 (overhead applied at a rate set beforehand). The jobs' figures are in dollars;
labour is booked here at 10 an hour, so that the book's rate of 2.50 overhead per dollar of labour (250,000 over
100,000) is 250,000 over 10,000 hours.
"""

from dataclasses import dataclass
from decimal import Decimal

import pytest

from studio.ledger.accounts import Kind
from studio.ledger.operations import pay_bill
from studio.ledger.queries import cost_of, costs_of
from studio.people import operations as people
from studio.people.models import User
from studio.pieces import operations as pieces
from studio.pieces.models import Piece
from studio.selling import operations as selling
from studio.stores import operations as stores
from studio.stores.models import Material, MaterialKind
from studio.work import operations as work
from studio.work.models import Workpiece
from tests.selling.shelf import BEGAN, FIRST, GRAM, MONEY, day, differences, finish, pool, set_up, settle

HOUR = 3600
MOST_AT_ONCE_S = 12 * HOUR


def paid_by_the_hour(user: User, wage: int) -> None:
    people.set_wage(person=user, rate_micro=wage * MONEY, paid=True, from_on=FIRST, by=user, at=BEGAN)


@dataclass
class Shop:
    """The book's shop: one material at 1 a gram, one worker at 10 an hour."""

    owner: User
    material: Material

    def job(self, number: str, brought_forward: int = 0) -> Workpiece:
        return work.take_in_lump(number=number, paid_micro=brought_forward * MONEY, at=BEGAN, by=self.owner)

    def materials(self, job: Workpiece, *dollars: int) -> None:
        for each in dollars:
            work.use_material(
                workpieces=[job], material=self.material, amount=each * GRAM, step="turn", at=day(1), by=self.owner
            )

    def labour(self, job: Workpiece, *dollars: int) -> None:
        for each in dollars:
            seconds = each * HOUR // 10
            while seconds:
                now = min(seconds, MOST_AT_ONCE_S)
                work.add_hours(
                    person=self.owner, workpieces=[job], code="turn", seconds=now, at=day(1), by=self.owner
                )
                seconds -= now

    def finished(self, job: Workpiece) -> Piece:
        return finish(pieces.become_piece(workpiece=job, at=day(2), by=self.owner), self.owner, day(3))


@pytest.fixture
def shop(db: None) -> Shop:
    owner = set_up()
    paid_by_the_hour(owner, 10)
    settle(owner, overhead_year_micro=250_000 * MONEY, normal_hours_s=10_000 * HOUR)
    material = stores.add_material(name="Boards", kind=MaterialKind.CONSUMABLE, at=BEGAN, by=owner)
    stores.buy(material=material, amount=1_500 * GRAM, paid_micro=1_500 * MONEY, at=BEGAN, by=owner)
    return Shop(owner, material)


def all_in(*jobs: Workpiece) -> Decimal:
    found = costs_of([job.account_id for job in jobs])
    return Decimal(sum(found[job.account_id].all_in for job in jobs if job.account_id in found)) / MONEY


def test_one_job_by_component(shop: Shop) -> None:
    """Sections 4.2 and 4.4: 700 of materials in two lots of draws, 66 of labour, 165 of overhead: 931."""
    job = shop.job("B")
    shop.materials(job, 300, 100, 60, 60)
    assert all_in(job) == 520
    shop.labour(job, 30)
    shop.materials(job, 120, 60)
    shop.labour(job, 36)
    parts = {part.value: value // MONEY for part, value in cost_of(job.account).parts.items()}
    assert parts == {"consumable": 700, "paid_labour": 66, "overhead": 165}
    assert all_in(job) == 931


def test_the_job_sold_leaves_its_gross_profit(shop: Shop) -> None:
    """Section 4.5: sold at 2,000, a gross profit of 1,069."""
    job = shop.job("B")
    shop.materials(job, 520, 180)
    shop.labour(job, 66)
    sale = selling.sell(piece=shop.finished(job), price_micro=2_000 * MONEY, at=day(4), by=shop.owner)
    assert (sale.price_micro - sale.cost_micro) == 1_069 * MONEY
    assert -pool(Kind.REVENUE) - pool(Kind.COST_OF_SALES) == 1_069 * MONEY


def test_four_jobs_finished_sold_and_still_in_work(shop: Shop) -> None:
    """Section 4.5: made 2,656, cost of goods sold 2,462, finished goods 1,725, work in process 1,025."""
    a, b, c = shop.job("A", brought_forward=1_000), shop.job("B"), shop.job("C")
    d = shop.finished(shop.job("D", brought_forward=1_531))
    shop.materials(a, 200)
    shop.labour(a, 150)
    shop.materials(b, 520, 180)
    shop.labour(b, 30, 36)
    shop.materials(c, 500)
    shop.labour(c, 150)
    assert (all_in(a), all_in(b), all_in(c)) == (1_725, 931, 1_025)

    shop.finished(a)
    made_b = shop.finished(b)
    assert all_in(a, b) == 2_656
    for piece in (made_b, d):
        selling.sell(piece=piece, price_micro=2_000 * MONEY, at=day(4), by=shop.owner)

    assert pool(Kind.COST_OF_SALES) == 2_462 * MONEY
    on_the_shelf = Workpiece.objects.on_the_bench().filter(piece__finished_at__isnull=False)
    in_work = Workpiece.objects.on_the_bench().filter(piece__isnull=True)
    assert all_in(*on_the_shelf) == 1_725
    assert all_in(*in_work) == 1_025
    assert all_in(*on_the_shelf, *in_work) + pool(Kind.COST_OF_SALES) // MONEY == 5_212
    assert differences() == ()


def booked(owner: User, seconds: int) -> None:
    """Book hands-on time on forty lumps at once, as often as it takes."""
    lumps = [work.take_in_lump(number=f"j{n}", at=BEGAN, by=owner) for n in range(40)]
    most = MOST_AT_ONCE_S * len(lumps)
    while seconds:
        now = min(seconds, most)
        work.add_hours(person=owner, workpieces=lumps, code="turn", seconds=now, at=day(1), by=owner)
        seconds -= now


def test_overhead_is_applied_by_the_hour_at_the_rate_set_beforehand(db: None) -> None:
    """Section 4.6: 33.50 an hour for 6,240 hours is 209,040."""
    owner = set_up()
    paid_by_the_hour(owner, 0)
    settle(owner, overhead_year_micro=33_500 * MONEY, normal_hours_s=1_000 * HOUR)
    booked(owner, 6_240 * HOUR)
    assert pool(Kind.OVERHEAD) == -209_040 * MONEY
    assert all_in(*Workpiece.objects.all()) == 209_040


@pytest.mark.parametrize(
    ("year", "normal", "actual", "spent", "applied", "left_over"),
    [
        pytest.param(1_000_000, 500_000, 490_000, 950_000, 980_000, -30_000, id="machine hours: over by 30,000"),
        pytest.param(750_000, 15_000, 15_500, 780_000, 775_000, 5_000, id="requisitions: under by 5,000"),
    ],
)
def test_what_bills_and_applied_overhead_leave_is_over_or_under_absorbed(
    db: None, year: int, normal: int, actual: int, spent: int, applied: int, left_over: int
) -> None:
    """Section 6.3: the book's drivers, one minute at the bench for each machine hour or requisition."""
    owner = set_up()
    paid_by_the_hour(owner, 0)
    settle(owner, overhead_year_micro=year * MONEY, normal_hours_s=normal * 60)
    booked(owner, actual * 60)
    assert pool(Kind.OVERHEAD) == -applied * MONEY
    pay_bill(what=Kind.OVERHEAD, value=spent * MONEY, at=day(2), by=owner)
    assert pool(Kind.OVERHEAD) == left_over * MONEY
