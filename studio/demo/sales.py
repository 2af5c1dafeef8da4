"""Galleries, buyers, and the money that comes of them."""

from datetime import date, timedelta
from typing import cast

from studio.demo.days import moment
from studio.demo.finished import ask
from studio.demo.shop import Made, Shop
from studio.demo.story import MONEY
from studio.ledger.queries import balances
from studio.people.models import Client
from studio.pieces import operations as pieces
from studio.selling import operations as selling

# How often somebody buys, in hundredths a day, month by month: the islands are full in July, and gifts are
# bought in December.
BUYS = (5, 5, 6, 7, 10, 15, 19, 16, 10, 9, 13, 20)
AT_A_GALLERY = 0.62
BY_CARD = 0.45
SHELF_KEEPS = 7
GALLERY_HOLDS = 11
LONG_ENOUGH = timedelta(days=185)
WINTER_SHOW, SHOW_SOLD = 104, 71
SHOW_PRICES = (1020, 880)
# What the gallery of the winter show still owes for; nothing else may be sold there meanwhile.
SHOW = "north"


def to_galleries(shop: Shop) -> None:
    """Will take pieces round on the first Monday of a month: some out, some back."""
    if shop.day.weekday() or shop.day.day > 7 or shop.left == 0:
        return
    _take_back_slow_ones(shop)
    for key in shop.galleries:
        held = [made for made in shop.bench.shelf if made.gallery == key]
        free = [made for made in shop.bench.shelf if _free(made)]
        many = min(GALLERY_HOLDS - len(held), len(free) - SHELF_KEEPS, 5)
        if many > 0:
            leave(shop, key, shop.rng.sample(free, many))


def _free(made: Made) -> bool:
    return not made.gallery and not made.waits_for and made.asking > 0


def leave(shop: Shop, key: str, chosen: list[Made]) -> None:
    at = shop.at(13, 30)
    selling.leave_with(
        pieces=[made.piece for made in chosen], gallery=shop.galleries[key], at=at, by=shop.owner, now=at
    )
    for made in chosen:
        made.gallery = key
        shop.marks[f"left {made.piece.pk}"] = shop.day


def _take_back_slow_ones(shop: Shop) -> None:
    words = shop.story.people["why_back"]
    for made in shop.bench.shelf:
        if not made.gallery or shop.day - shop.marks[f"left {made.piece.pk}"] < LONG_ENOUGH:  # type: ignore[operator]
            continue
        if made.waits_for:
            continue
        at = shop.at(13, 0)
        placement = made.piece.placements.get(back_at=None)
        selling.take_back(placement=placement, why=words[made.nth % len(words)], at=at, by=shop.owner, now=at)
        made.gallery = ""
        lower = made.asking * 92 // 100 // (10 * MONEY) * 10 * MONEY
        reason = shop.story.words["cheaper"]
        ask(shop, made, lower, made.lowest, reason, at=at)


def buyers(shop: Shop) -> None:
    """Will sell a piece where somebody buys one today, on the shelf or at a gallery."""
    if not shop.chance(BUYS[shop.day.month - 1] / 100):
        return
    at_gallery = shop.chance(AT_A_GALLERY)
    standing = [
        made
        for made in shop.bench.shelf
        if not made.waits_for and made.asking and bool(made.gallery) == at_gallery and made.gallery != _closed(shop)
    ]
    if len(standing) > (2 if at_gallery else SHELF_KEEPS - 2):
        sell(shop, shop.rng.choice(standing))


def _closed(shop: Shop) -> str:
    return SHOW if shop.before_end(WINTER_SHOW + 4) else "-"


def sell(shop: Shop, made: Made) -> None:
    """Will sell one piece for what is asked."""
    at = shop.at(15, 10 + shop.between(0, 30))
    shop.bench.shelf.remove(made)
    shop.count("sold")
    if made.gallery:
        selling.sell(
            piece=made.piece, price_micro=made.asking, gallery=shop.galleries[made.gallery], at=at, by=shop.owner,
            now=at,
        )  # fmt: skip
        return
    card = shop.chance(BY_CARD)
    client = None if shop.chance(0.5) else shop.clients[shop.rng.choice(sorted(shop.clients))]
    later = client is not None and not card and shop.chance(0.4)
    sale = selling.sell(
        piece=made.piece,
        price_micro=made.asking,
        client=client,
        card=card,
        paid_now=not later,
        at=at,
        by=shop.users["mirre"] if card else shop.owner,
        now=at,
    )
    if later and client is not None:
        shop.marks[f"owes {client.pk} {shop.day}"] = (client, sale.owed_micro, shop.day + timedelta(days=18))


def payments(shop: Shop) -> None:
    """Will take what clients owe when their days are over, and what galleries owe on the twelfth."""
    for key, told in list(shop.marks.items()):
        if key.startswith("owes "):
            client, owed, due = cast(tuple[Client, int, date], told)
            if due <= shop.day:
                at = shop.at(9, 25)
                selling.record_payment(client=client, amount_micro=owed, at=at, by=shop.users["mirre"], now=at)
                del shop.marks[key]
    if shop.marks.get("paid") == (shop.day.year, shop.day.month) or shop.day.day < 12:
        return
    shop.marks["paid"] = (shop.day.year, shop.day.month)
    for key in shop.galleries:
        settle(shop, key)


def settle(shop: Shop, key: str) -> None:
    """Will take what a gallery owes by now, unless it is the one that lets itself be asked."""
    gallery = shop.galleries[key]
    owed = balances([gallery.account_id]).get(gallery.account_id, 0)
    if owed > 0 and not (key == SHOW and "show sold" in shop.marks):
        at = shop.at(9, 30)
        selling.record_payment(gallery=gallery, amount_micro=owed, at=at, by=shop.users["mirre"], now=at)


def winter_show(shop: Shop) -> bool:
    """Will price two fine pieces for the show and leave them with the gallery by the quay, once there are two."""
    free = [made for made in shop.bench.shelf if _free(made) and made.form.name in ("tide bowl", "keel dish")]
    free = (free + [made for made in shop.bench.shelf if _free(made) and made not in free])[:2]
    if len(free) < 2:
        return False
    at = shop.at(11, 40)
    for made, price in zip(free, SHOW_PRICES, strict=True):
        ask(shop, made, price * MONEY, made.lowest, shop.story.words["dearer"], at=at)
        made.waits_for = "show"
    leave(shop, SHOW, free)
    return True


def show_sells(shop: Shop) -> None:
    """Will sell both to one buyer, on a day that may be a Sunday; the gallery hasn't paid for them since."""
    at = moment(shop.day, 14, 20)
    for made in [made for made in shop.bench.shelf if made.waits_for == "show"]:
        selling.sell(
            piece=made.piece, price_micro=made.asking, gallery=shop.galleries[SHOW], at=at, by=shop.owner, now=at
        )
        shop.bench.shelf.remove(made)
        shop.count("sold")
    shop.marks["show sold"] = True


def let_go(shop: Shop, how: str) -> bool:
    """Will let a piece go without a sale, once one stands on the shelf."""
    made = next((made for made in shop.bench.shelf if _free(made)), None)
    if made is None:
        return False
    at = shop.at(16, 10)
    pieces.let_go(piece=made.piece, how=how, words=shop.story.words[how], at=at, by=shop.owner, now=at)
    shop.bench.shelf.remove(made)
    return True
