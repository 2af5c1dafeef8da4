"""Tells the story: day by day, each thing by the operation that a screen would call."""

from collections.abc import Callable
from datetime import datetime
from random import Random

from django.db import transaction

from studio.demo import (
    books,
    drying,
    events,
    finish_bench,
    finished,
    lathe,
    lumps,
    machines_kept,
    orders,
    pours,
    sales,
)
from studio.demo.days import Calendar, Over, works
from studio.demo.opening import add_galleries, open_shop
from studio.demo.shop import Shop
from studio.demo.story import story
from studio.ledger import audit
from studio.people import settings as studio_settings

SEED = 20


class NotWhole(Exception):  # noqa: N818 - the books of the demo don't add up
    """The audit found a difference; nothing was kept."""


def build(
    now: datetime, *, seed: int = SEED, days: int | None = None, tell: Callable[[str], None] = lambda words: None
) -> Shop:
    """Will build the whole demo studio into an empty database, or nothing at all.

    `now` is the moment the story ends at; `days` stops it earlier; `tell` is told each month. The same seed
    and moment make the same story. Raises `NotWhole` where the audit finds a difference.
    """
    with transaction.atomic():
        calendar = Calendar.ending(now)
        shop = open_shop(story(), calendar, Random(seed))  # noqa: S311 - a story, not a secret
        for day in calendar.days()[:days]:
            if day.day == 1 or day == calendar.start:
                tell(f"{day:%B %Y}")
            shop.begin(day)
            try:
                with studio_settings.remembered():
                    _day(shop)
            except Over:
                break
        found = audit.run()
        if not found.clean:
            raise NotWhole("\n".join([*found.differences, found.summary]))
        tell(found.summary)
    return shop


def _day(shop: Shop) -> None:
    if works(shop.day):
        _morning(shop)
        _afternoon(shop)
    events.any_day(shop)
    sales.buyers(shop)


def _morning(shop: Shop) -> None:
    machines_kept.look_after(shop)
    books.bills(shop)
    if not shop.number:
        books.first_orders(shop)
    books.reorder(shop)
    pours.open_pots(shop)
    pours.take_out_of_moulds(shop)
    drying.oven_in_the_morning(shop)
    drying.soak(shop)
    if shop.left == 0:
        drying.warm_before_casting(shop)
    sales.payments(shop)
    lathe.turn(shop, "ines", 9, 35)
    finished.finish_pieces(shop)
    lumps.wood_comes(shop)
    lumps.clean_and_cut(shop)
    finished.look_again(shop)
    if shop.left == 0:
        pours.mix_and_pour(shop)


def _afternoon(shop: Shop) -> None:
    events.working_day(shop)
    lathe.rough(shop)
    sales.to_galleries(shop)
    if shop.left:
        pours.mix_and_pour(shop)
    lathe.turn(shop, "tam", 13, 50)
    add_galleries(shop)
    if shop.left:
        lathe.sand(shop)
    lathe.pair_up(shop)
    drying.oven_in_the_evening(shop)
    finish_bench.at_the_finish_bench(shop)
    lathe.coats(shop)
    if shop.left == 1:
        drying.warm_before_casting(shop)
    orders.deliver_what_is_ready(shop)
