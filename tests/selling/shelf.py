"""A studio with finished, priced pieces on its shelf, made by the real operations."""

from datetime import UTC, date, datetime, timedelta
from hashlib import sha256

from studio.ledger import audit
from studio.ledger.accounts import Account, Component, Kind
from studio.ledger.operations import Leg, post
from studio.ledger.queries import pool_sums
from studio.people import operations as people
from studio.people.models import Client, User
from studio.pictures.models import Picture
from studio.pieces import operations as pieces
from studio.pieces.models import AskingPrice, Piece
from studio.selling.models import Gallery, Placement, Sale
from studio.work import operations as work
from studio.work.models import Workpiece

BEGAN = datetime(2025, 3, 10, 8, 0, tzinfo=UTC)
FIRST = date(2025, 1, 1)
MONEY = 1_000_000
COIN = 10_000
MM = 1000
GRAM = 1000
DAY = timedelta(days=1)
PER_CENT = 10_000


def day(number: int) -> datetime:
    """The morning so many days after the studio began; pieces are finished on the first."""
    return BEGAN + number * DAY


def set_up(*, loss_allowance_ppm: int = 0, currency: str = "EUR") -> User:
    """An owner whose studio has no sales tax, a card reader at 2 %, and an hour at 30."""
    user = people.set_up_studio(
        studio_name="Hollow Tree Studio",
        currency=currency,
        length_unit="mm",
        temperature_unit="°C",
        pressure_unit="bar",
        username="ilse",
        display_name="Ilse Brand",
        password="soft wet shavings fly",
        at=BEGAN,
    )
    settle(user, loss_allowance_ppm=loss_allowance_ppm, sales_tax_ppm=0, card_fee_ppm=2 * PER_CENT)
    people.set_wage(person=user, rate_micro=30 * MONEY, paid=False, from_on=FIRST, by=user, at=BEGAN)
    return user


def settle(user: User, **answers: object) -> None:
    for key, value in answers.items():
        people.set_setting(key=key, value=value, by=user, at=BEGAN, from_on=FIRST)


def a_picture(user: User) -> Picture:
    digest = sha256(b"a bowl on a bench").hexdigest()
    known = Picture.objects.filter(sha256=digest).first()
    return known or Picture.objects.create(
        sha256=digest,
        name=digest[:32],
        width=640,
        height=480,
        large_sha256=digest,
        small_sha256=digest,
        uploaded_by=user,
        at=BEGAN,
    )


def finish(piece: Piece, user: User, at: datetime, *, diameter_um: int = 200 * MM) -> Piece:
    """Make the four ticks."""
    pieces.measure(
        piece=piece, height_um=80 * MM, diameter_um=diameter_um, mass_mg=700 * GRAM, at=at, by=user, sure=True
    )
    pieces.sign(piece=piece, with_what="burned with a wire", at=at, by=user)
    pieces.photograph(piece=piece, picture=a_picture(user), at=at, by=user)
    return pieces.rest(piece=piece, at=at, by=user)


def a_piece(
    user: User, number: str, *, cost: int = 100, asking: int | None = 300, form: str = "bowl", finished: bool = True,
    diameter_um: int = 200 * MM,
) -> Piece:  # fmt: skip
    """A piece out of a lump of its own that cost so much, finished on the first day, and priced."""
    lump = work.take_in_lump(number=number, paid_micro=cost * MONEY, at=BEGAN, by=user)
    piece = pieces.become_piece(workpiece=lump, title=f"Bowl {number}", form=form, at=BEGAN, by=user)
    if finished:
        piece = finish(piece, user, day(1), diameter_um=diameter_um)
    if asking is not None:
        pieces.set_asking_price(piece=piece, amount_micro=asking * MONEY, at=day(1), by=user)
    return piece


def a_client(user: User, name: str = "Orla Finch") -> Client:
    return people.add_client(name=name, by=user, at=BEGAN)


def pool(kind: Kind) -> int:
    """What was posted to a pool, in millionths."""
    return pool_sums().get(kind, 0)


def differences() -> tuple[str, ...]:
    return audit.run().differences


def many(gallery: Gallery, count: int, *, sold: bool, start: int = 1000) -> list[Piece]:
    """So many finished pieces as rows only: left with a gallery, or sold by it and not paid. For counting queries."""
    accounts = Account.objects.bulk_create([Account(kind=Kind.WORKPIECE) for _ in range(count)])
    works = Workpiece.objects.bulk_create(
        [
            Workpiece(
                number=f"{start + nth}", sort_key=f"{start + nth:06}", account=account, stage="piece", form="bowl",
                made_at=BEGAN, closed_at=day(3) if sold else None, closed_as="sold" if sold else "",
            )
            for nth, account in enumerate(accounts)
        ]
    )  # fmt: skip
    ticks = dict.fromkeys(("measured_at", "signed_at", "photographed_at", "rested_at", "finished_at"), day(1))
    rows = Piece.objects.bulk_create(
        [
            Piece(
                workpiece=work_row, became_at=BEGAN, diameter_um=200 * MM, mass_mg=1, signed_number=f"s{work_row.pk}",
                signed_on=day(1).date(), **ticks,
            )
            for work_row in works
        ]
    )  # fmt: skip
    AskingPrice.objects.bulk_create([AskingPrice(piece=row, amount_micro=MONEY, at=day(1)) for row in rows])
    back = {"back_at": day(3), "back_on": day(3).date(), "back_why": "sold"} if sold else {}
    Placement.objects.bulk_create(
        [Placement(piece=row, gallery=gallery, left_at=day(2), left_on=day(2).date(), **back) for row in rows]
    )
    if sold:
        owed = [Leg(gallery.account, Component.MONEY, value=count * MONEY)]
        entry = post(kind="sale", legs=[*owed, Leg(Kind.REVENUE, Component.MONEY, value=-count * MONEY)], at=day(3))
        Sale.objects.bulk_create(
            [
                Sale(
                    piece=row, gallery=gallery, sold_at=day(3), sold_on=day(3).date(), price_micro=MONEY,
                    owed_micro=MONEY, due_on=day(33).date(), entry_id=entry.entry_id,
                )
                for row in rows
            ]
        )  # fmt: skip
    return rows
