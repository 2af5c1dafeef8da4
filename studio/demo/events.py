"""What happens once: the story's own days, counted from its beginning or from its end."""

from collections.abc import Callable
from datetime import date, timedelta
from functools import partial

from studio.demo import books, lathe, lumps, orders, sales
from studio.demo.days import works
from studio.demo.shop import Job, Shop

LATE_BILL, COUNT, PAPER, NEW_TARIFF = 260, 372, 70, 215
LET_GO = {130: "sample", 205: "gift", 290: "kept", 405: "donated"}
# Days before the last one.
DELIVERED, CLIENTS_OWN, OFFCUT_BACK, IN_WORK, ASKED = 205, 128, 96, 62, 6


def working_day(shop: Shop) -> None:
    """Will do what is due once, on the first working day from its day on."""
    once = _Once(shop)
    once.from_start(LATE_BILL, lumps.late_bill)
    once.from_start(COUNT, books.count_the_stores)
    once.from_start(PAPER, lumps.tell_the_desk)
    once.from_start(NEW_TARIFF, books.dearer_power)
    for number, how in LET_GO.items():
        once.from_start(number, partial(sales.let_go, how=how), name=how)
    once.before_end(DELIVERED, _order_the_dish)
    once.before_end(DELIVERED - 1, _reserve_the_dish)
    once.before_end(CLIENTS_OWN, _order_the_vessel)
    once.before_end(CLIENTS_OWN - 2, lumps.clients_wood_comes)
    once.before_end(CLIENTS_OWN - 2, _reserve_clients_wood)
    once.before_end(OFFCUT_BACK, lumps.offcut_goes_back)
    once.before_end(IN_WORK, _order_the_jar)
    once.before_end(IN_WORK - 3, _reserve_the_jar)
    once.before_end(ASKED, _order_the_box)
    once.before_end(sales.WINTER_SHOW, sales.winter_show)
    if shop.left == 1:
        books.run_low(shop)
        _begin_the_jar(shop)


def any_day(shop: Shop) -> None:
    """Will do what happens on a day of its own, working day or not."""
    ago = (shop.calendar.today - shop.day).days
    if ago == sales.SHOW_SOLD + 1 and works(shop.day):
        sales.settle(shop, sales.SHOW)
    if ago == sales.SHOW_SOLD:
        sales.show_sells(shop)


class _Once:
    """Does each thing once; what says that it isn't to be done yet is asked again the next day."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop

    def from_start(self, number: int, do: Callable[[Shop], bool | None], *, name: str = "") -> None:
        self._do(self.shop.number >= number, do, name)

    def before_end(self, days: int, do: Callable[[Shop], bool | None]) -> None:
        self._do(self.shop.before_end(days), do, "")

    def _do(self, due: bool, do: Callable[[Shop], bool | None], name: str) -> None:
        mark = f"once {name or do.__name__}"
        if due and mark not in self.shop.marks and do(self.shop) is not False:
            self.shop.marks[mark] = True


def _in(shop: Shop, days: int) -> date:
    return shop.calendar.today + timedelta(days=days)


def _order_the_dish(shop: Shop) -> None:
    orders.ask_for(shop, "delivered", "Sunniva Brecht", "keel dish")
    orders.agree(shop, "delivered", 640, 150, shop.day + timedelta(days=120))


def _reserve_the_dish(shop: Shop) -> bool:
    return _aside(shop, "delivered", orders.a_blank(shop, "keel dish"))


def _aside(shop: Shop, key: str, job: Job | None) -> bool:
    if job is not None:
        orders.set_aside(shop, key, job)
    return job is not None


def _order_the_vessel(shop: Shop) -> None:
    orders.ask_for(shop, "clients_own", "Paal Winter", "small vessel for ashes")
    orders.agree(shop, "clients_own", 580, 200, _in(shop, 6))


def _reserve_clients_wood(shop: Shop) -> None:
    blank = next(job for job in shop.bench.to_dry if job.waits_for == "clients_own")
    orders.set_aside(shop, "clients_own", blank)


def _order_the_jar(shop: Shop) -> None:
    orders.ask_for(shop, "in_work", "Edda Lorring", "lidded jar", price=730, by_on=orders.a_month_on(shop))
    orders.agree(shop, "in_work", 730, 220, orders.a_month_on(shop))


def _reserve_the_jar(shop: Shop) -> bool:
    return _aside(shop, "in_work", _the_jar(shop))


def _order_the_box(shop: Shop) -> None:
    orders.ask_for(shop, "asked", "Maren Ohlin", "net-float box")


def _the_jar(shop: Shop) -> Job | None:
    bench = shop.bench
    for jobs in (bench.to_dry, bench.in_oven, bench.to_cast, bench.to_turn):
        for job in jobs:
            if job.lump == 33 and job.form.name == "lidded jar":
                return job
    return None


def _begin_the_jar(shop: Shop) -> None:
    job = _the_jar(shop)
    if job is not None:
        lathe.half_the_jar(shop, job)
