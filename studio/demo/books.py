"""The desk: bills on the first, buying when a level is reached, and the count."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from studio.demo.shop import Job, Shop
from studio.demo.story import GRAM, HOUR_S, MONEY
from studio.ledger import operations as ledger
from studio.ledger.accounts import Kind
from studio.people import operations as people
from studio.people.models import User
from studio.stores import operations as stores
from studio.stores.errors import StoresRunShort
from studio.stores.models import Batch
from studio.stores.queries import material_row, stores_page
from studio.work import operations as work

CENT = 10_000
FETCHED_BEFORE = timedelta(minutes=30)


def first_orders(shop: Shop) -> None:
    """Will buy a first pack of everything."""
    for key in shop.materials:
        buy(shop, key, shop.at(8, 20))


def buy(shop: Shop, key: str, at: datetime, *, use_by: date | None = None) -> Batch:
    """Will buy one pack."""
    row = next(row for row in shop.story.shop["materials"] if row["key"] == key)
    wood_or_resin = row["kind"] in ("resin_a", "resin_b", "stabilizing", "colorant")
    supplier = shop.suppliers["Kettle Resin Supply" if wood_or_resin else "Sandvane Finishes"]
    # prices creep up a little over the months
    price = row["price"] * MONEY * (1000 + shop.number // 10) // 1000 // CENT * CENT
    return stores.buy(
        material=shop.materials[key],
        amount=row["pack"] * GRAM,
        paid_micro=price,
        carriage_micro=row.get("carriage", 0) * MONEY,
        use_by=use_by,
        supplier=supplier,
        at=at,
        by=shop.owner,
        now=at,
    )


def reorder(shop: Shop) -> None:
    """Will buy on a Monday what has fallen below its level; in the last weeks only what runs out is bought."""
    if shop.day.weekday() or shop.before_end(20):
        return
    at = shop.at(8, 15)
    low = {row.material.pk for row in stores_page(shop.day).materials if row.below_reorder}
    for key, material in shop.materials.items():
        if material.pk in low:
            buy(shop, key, at)


def use(shop: Shop, jobs: Sequence[Job], key: str, amount: int, *, step: str, at: datetime, by: User) -> None:
    """Will draw a material for these, and fetch a pack first where there isn't as much."""
    for _ in range(2):
        try:
            work.use_material(
                workpieces=[job.row for job in jobs], material=shop.materials[key], amount=amount, step=step, at=at,
                by=by, now=at,
            )  # fmt: skip
            return
        except StoresRunShort:
            buy(shop, key, at - FETCHED_BEFORE)


def fill_the_bath(shop: Shop, amount: int, at: datetime) -> None:
    """Will pour resin into the bath, a new pack where that is wanted."""
    for _ in range(2):
        try:
            stores.fill_bath(bath=shop.bath, amount=amount, at=at, by=shop.owner, now=at)
            return
        except StoresRunShort:
            buy(shop, "soak", at - FETCHED_BEFORE)


def _there_is(shop: Shop, key: str) -> int:
    """All there is of it, what is past its day too."""
    found = material_row(shop.materials[key].pk, shop.day, costs=False)
    return found.left + found.past if found else 0


def bills(shop: Shop) -> None:
    """Will pay power, the shop and Tam's month, on the first working day of a month."""
    month = (shop.day.year, shop.day.month)
    if shop.marks.get("month") == month:
        return
    first = "month" not in shop.marks
    shop.marks["month"] = month
    at = shop.at(8, 5)
    if first:
        return
    figures = shop.story.words["bills"]
    power = (figures["power"] + shop.between(-9, 14)) * MONEY + shop.between(0, 99) * CENT
    hours = shop.hours_s.pop("tam", 0)
    wages = hours * 19 * MONEY // HOUR_S // CENT * CENT + 40 * MONEY
    for what, value in ((Kind.ENERGY, power), (Kind.OVERHEAD, figures["shop"] * MONEY), (Kind.PAID_LABOUR, wages)):
        ledger.pay_bill(what=what, value=value, at=at, by=shop.users["mirre"], now=at)


def dearer_power(shop: Shop) -> None:
    """Will note the tariff of the new year, and Tam's raise."""
    at = shop.at(8, 30)
    people.set_setting(key="tariff_micro", value=236_000, by=shop.owner, at=at, from_on=shop.day)
    people.set_wage(
        person=shop.users["tam"], rate_micro=20 * MONEY, paid=True, from_on=shop.day, by=shop.owner, at=at
    )


def count_the_stores(shop: Shop) -> None:
    """Will count a few things: some are short, one has more than the books say."""
    at = shop.at(16, 20)
    by = shop.users["mirre"]
    for key, missing in (("a", 180 * GRAM), ("oil", 35 * GRAM), ("discs", 3000), ("slate", -6 * GRAM)):
        left = _there_is(shop, key)
        really = max(0, left - missing)
        if key == "discs":
            really = really // 1000 * 1000
        stores.count(material=shop.materials[key], really_there=really, at=at, by=by, now=at)


def run_low(shop: Shop) -> None:
    """Will count the discs a few days before the end: fewer than the level; and buy resin, Part A near its day."""
    at = shop.at(16, 30)
    really = min(_there_is(shop, "discs") // 1000 * 1000, 9_000)
    stores.count(material=shop.materials["discs"], really_there=really, at=at, by=shop.users["tam"], now=at)
    soon = shop.calendar.today + timedelta(days=12)
    buy(shop, "b", at)
    batch = buy(shop, "a", at, use_by=soon)
    stores.open_batch(batch=batch, at=at, by=shop.owner)
