"""A turned bowl out of lump 41, and the four ticks to be made on it."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from itertools import count

import pytest

from studio.people import operations as people
from studio.people.models import User
from studio.pictures.models import Picture
from studio.pieces import operations
from studio.pieces.models import Piece
from studio.work import operations as work
from studio.work.models import Workpiece

BEGAN = datetime(2025, 3, 10, 8, 0, tzinfo=UTC)
NOW = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)
DAY = timedelta(days=1)
HOUR_S = 3600
MONEY = 1_000_000
GRAM = 1000
KILO = 1_000_000
MM = 1000
_taken = count()


@pytest.fixture
def owner(db: None) -> User:
    """The owner: 30 an hour, overhead 12,000 over 1,000 hours, 15 % for those that break."""
    user = people.set_up_studio(
        studio_name="Hollow Tree Studio",
        currency="EUR",
        length_unit="mm",
        temperature_unit="°C",
        pressure_unit="bar",
        time_zone="UTC",
        username="ilse",
        display_name="Ilse Brand",
        password="soft wet shavings fly",
        at=BEGAN,
    )
    first = date(2025, 1, 1)
    for key, value in (
        ("overhead_year_micro", 12_000 * MONEY),
        ("normal_hours_s", 1000 * HOUR_S),
        ("loss_allowance_ppm", 150_000),
        ("gallery_share_ppm", 400_000),
        ("card_fee_ppm", 0),
        ("cost_to_sell_micro", 0),
    ):
        people.set_setting(key=key, value=value, by=user, at=BEGAN, from_on=first)
    people.set_wage(person=user, rate_micro=30 * MONEY, paid=False, from_on=first, by=user, at=BEGAN)
    return user


@pytest.fixture
def lump(owner: User) -> Workpiece:
    """Lump 41 for 100."""
    return work.take_in_lump(number="41", mass_mg=12 * KILO, paid_micro=100 * MONEY, at=BEGAN, by=owner)


@pytest.fixture
def make_piece(owner: User) -> Callable[..., Piece]:
    """A piece out of a lump of its own: number, what the wood cost, title and form."""

    def make(number: str, money: int = 100, *, title: str = "Bowl", form: str = "bowl", day: int = 0) -> Piece:
        at = BEGAN + day * DAY
        lump = work.take_in_lump(number=number, paid_micro=money * MONEY, at=at, by=owner)
        work.plan_steps(workpiece=lump, codes=[])
        return operations.become_piece(workpiece=lump, title=title, form=form, at=at, by=owner, now=NOW)

    return make


@pytest.fixture
def bowl(make_piece: Callable[..., Piece]) -> Piece:
    return make_piece("41")


@pytest.fixture
def picture(owner: User) -> Callable[[], Picture]:
    """Rows of pictures; no test here looks at the file."""

    def take() -> Picture:
        number = next(_taken)
        digest = sha256(str(number).encode()).hexdigest()
        return Picture.objects.create(
            sha256=digest,
            name=digest[:32],
            width=640,
            height=480,
            large_sha256=digest,
            small_sha256=digest,
            uploaded_by=owner,
            at=BEGAN,
        )

    return take


@pytest.fixture
def finish(owner: User, picture: Callable[[], Picture]) -> Callable[..., Piece]:
    """Makes the four ticks, a day each from `day` on."""

    def do(piece: Piece, day: int = 1, *, diameter_um: int = 200 * MM, number: str = "") -> Piece:
        stamp = {"by": owner, "now": NOW}
        at = max(BEGAN, piece.became_at) + day * DAY
        operations.measure(
            piece=piece, height_um=80 * MM, diameter_um=diameter_um, mass_mg=700 * GRAM, at=at, sure=True, **stamp
        )
        operations.sign(piece=piece, with_what="burned with a wire", number=number, at=at + DAY, **stamp)
        operations.photograph(piece=piece, picture=picture(), at=at + 2 * DAY, **stamp)
        return operations.rest(piece=piece, at=at + 3 * DAY, **stamp)

    return do
