"""The four commissions: one delivered, one ready, one in work, one only asked for."""

from datetime import date, timedelta

from studio.commissions import operations as orders
from studio.commissions.models import Commission
from studio.demo.shop import Job, Shop
from studio.demo.story import MONEY

FRIDAY = 4


def ask_for(
    shop: Shop, key: str, client: str, form: str, *, price: int | None = None, by_on: date | None = None
) -> Commission:
    """Will note that somebody wants this made."""
    at = shop.at(14, 10)
    order = orders.ask(
        client=shop.clients[client],
        wanted=shop.story.words["orders"][key],
        form=form,
        by_on=by_on,
        price_micro=None if price is None else price * MONEY,
        at=at,
        by=shop.owner,
        now=at,
    )
    shop.marks[f"order {key}"] = order
    return order


def agree(shop: Shop, key: str, price: int, deposit: int, by_on: date) -> None:
    """Will agree on price and day, and take the deposit in the same hour."""
    at = shop.at(14, 30)
    order: Commission = shop.marks[f"order {key}"]  # type: ignore[assignment]
    order = orders.agree(
        commission=order,
        price_micro=price * MONEY,
        by_on=by_on,
        deposit_asked_micro=deposit * MONEY,
        at=at,
        by=shop.owner,
        now=at,
    )
    paid = shop.at(14, 45)
    orders.take_deposit(commission=order, amount_micro=deposit * MONEY, at=paid, by=shop.owner, now=paid)
    shop.marks[f"order {key}"] = order


def set_aside(shop: Shop, key: str, job: Job) -> None:
    at = shop.at(14, 50)
    order: Commission = shop.marks[f"order {key}"]  # type: ignore[assignment]
    orders.reserve(commission=order, workpieces=[job.row], at=at, by=shop.owner, now=at)
    job.waits_for = key
    shop.marks[f"aside {key}"] = job


def a_blank(shop: Shop, form: str) -> Job | None:
    """A blank for this form that is on its way and kept for nobody, the furthest on first."""
    bench = shop.bench
    for jobs in (bench.to_turn, bench.to_cast, bench.in_oven, bench.to_dry):
        for job in jobs:
            if job.form.name == form and not job.waits_for and not job.second_half:
                return job
    return None


def deliver_what_is_ready(shop: Shop) -> None:
    """Will hand over, on a Friday, the one order that is fetched."""
    if shop.day.weekday() != FRIDAY:
        return
    for made in list(shop.bench.shelf):
        if made.waits_for == "delivered":
            at = shop.at(16, 20)
            order: Commission = shop.marks["order delivered"]  # type: ignore[assignment]
            orders.deliver(commission=order, piece=made.piece, card=True, at=at, by=shop.owner, now=at)
            shop.bench.shelf.remove(made)
            shop.count("sold")


def a_month_on(shop: Shop) -> date:
    return shop.calendar.today + timedelta(days=30)
