"""From the last coat to the shelf: a title, four ticks, a price."""

import io
from datetime import datetime
from typing import Any

from studio.demo import drawing
from studio.demo.lumps import maker
from studio.demo.pours import cured
from studio.demo.shop import Job, Made, Shop, minutes
from studio.demo.story import GRAM, MM, MONEY
from studio.pictures import operations as pictures
from studio.pieces import operations as pieces
from studio.pieces.models import Piece
from studio.pricing.offers import offer

# Days a finish lies before the piece is looked at once more, and up to so many more.
RESTS_DAYS, OR_MORE = 6, 4
SECONDS = (17, 52, 83)
# What is asked over the lowest ask, in thousandths.
OVER = (1040, 1420)
ROUND_TO = 10 * MONEY
BELOW = 23


def finish_pieces(shop: Shop) -> None:
    """Will make pieces of what has had its last coat, and tick what can be ticked today."""
    for job in list(shop.bench.done):
        at = shop.at(10, 5)
        if cured(job, at):
            shop.bench.done.remove(job)
            _becomes(shop, job)


def _becomes(shop: Shop, job: Job) -> None:
    at, person = shop.at(10, 5), maker(shop)
    nth = shop.count("pieces")
    piece = pieces.become_piece(
        workpiece=job.row, title=_title(shop, job, nth), form=job.form.name, at=at, by=person, now=at
    )
    stories = shop.story.words["stories"]["bogoak" if job.species == "bogoak" else job.kind]
    pieces.describe_piece(
        piece=piece,
        finish_words=shop.story.shop["finishes"][nth % 2],
        story=stories[nth % len(stories)],
    )
    _name_parts(shop, job, piece)
    sizes: dict[str, Any] = {f"{side}_um": (mm + shop.between(-4, 5)) * MM for side, mm in job.form.size_mm.items()}
    pieces.measure(
        piece=piece,
        mass_mg=max(GRAM, job.mass_mg),
        at=at + minutes(4),
        by=person,
        now=at + minutes(4),
        sure=True,
        **sizes,
    )
    if nth in SECONDS:
        pieces.make_second(piece=piece, reason=shop.story.words["second"])
    signed = at + minutes(9)
    tool = shop.story.shop["signed_with"][person.username == "tam"]
    pieces.sign(piece=piece, with_what=tool, at=signed, by=person, now=signed)
    _photograph(shop, job, piece, nth)
    shop.bench.resting.append(Made(piece, job.form, job.species, person, at, nth, waits_for=job.waits_for))


def _photograph(shop: Shop, job: Job, piece: Piece, nth: int) -> None:
    rgb = tuple(shop.story.species[job.species]["rgb"])
    colour = tuple(shop.story.shop["colours"][job.colour]["rgb"]) if job.colour else None
    data = drawing.draw(job.form.profile, rgb, colour, nth)
    at = shop.at(10, 25)
    picture = pictures.take(file=io.BytesIO(data), by=shop.owner, at=at)
    pieces.photograph(piece=piece, picture=picture, at=at, by=shop.owner, now=at)


def _name_parts(shop: Shop, job: Job, piece: Piece) -> None:
    cups = shop.marks.pop(f"cups {job.row.pk}", None)
    if cups:
        parts = [pieces.PartSpec(words, row) for words, row in zip(("first cup", "second cup"), cups, strict=True)]  # type: ignore[call-overload]
    else:
        parts = [pieces.PartSpec(words) for words in job.form.parts]
    if parts:
        pieces.set_parts(piece=piece, parts=parts)


def _title(shop: Shop, job: Job, nth: int) -> str:
    if nth % 7 == 3:
        names = shop.story.words["titles"]
        return names[nth // 7 % len(names)]
    wood = shop.story.species[job.species]["short"]
    first = f"{wood} {job.form.noun}"
    if not job.colour:
        return first
    seam = ("seam", "shore", "edge", "tide-line")[nth % 4]
    return f"{first} with a {shop.story.shop['colours'][job.colour]['words']} {seam}"


def look_again(shop: Shop) -> None:
    """Will tick *rested* on what has lain for a week, and price it."""
    for made in list(shop.bench.resting):
        at = shop.at(11, 10)
        if (at - made.became).days < RESTS_DAYS + made.nth % OR_MORE:
            continue
        made.piece = pieces.rest(piece=made.piece, at=at, by=made.maker, now=at)
        shop.bench.resting.remove(made)
        made.since = at
        _price(shop, made)
        shop.bench.shelf.append(made)


def _price(shop: Shop, made: Made) -> None:
    if made.waits_for:
        return
    at = shop.at(11, 20)
    found = offer(made.piece, on=shop.day, now=at, person=shop.owner)
    lowest = found.lowest_ask_micro or 100 * MONEY
    below = shop.count("priced") % BELOW == 0
    share = 930 if below or made.piece.grade == "second" else shop.between(*OVER)
    reason = shop.story.words["below"] if below else ""
    if made.piece.grade == "second":
        reason = "a second, and priced as one"
    amount = -(-lowest * share // 1000 // ROUND_TO) * ROUND_TO
    ask(shop, made, amount, lowest, reason, at=at)


def ask(shop: Shop, made: Made, amount: int, lowest: int, reason: str, *, at: datetime) -> None:
    """Will ask this for a piece from now on."""
    pieces.set_asking_price(
        piece=made.piece,
        amount_micro=amount,
        lowest_micro=lowest,
        reason=reason,
        at=at,
        by=shop.owner,
        now=at,
    )
    made.asking, made.lowest = amount, lowest
