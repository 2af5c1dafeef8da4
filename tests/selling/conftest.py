from collections.abc import Callable
from functools import partial

import pytest

from studio.people.models import Client, User
from studio.pieces.models import Piece
from studio.selling import operations
from studio.selling.models import Gallery
from tests.selling.shelf import BEGAN, PER_CENT, a_client, a_piece, set_up


@pytest.fixture
def owner(db: None) -> User:
    return set_up()


@pytest.fixture
def make(owner: User) -> Callable[..., Piece]:
    return partial(a_piece, owner)


@pytest.fixture
def bowl(make: Callable[..., Piece]) -> Piece:
    """Bowl 41: cost 100, asked 300."""
    return make("41")


@pytest.fixture
def harbour(owner: User) -> Gallery:
    """A gallery that keeps 40 %, pays within 30 days and hands the tax on itself."""
    return operations.add_gallery(name="Harbour Rooms", share_ppm=40 * PER_CENT, at=BEGAN, by=owner)


@pytest.fixture
def mill(owner: User) -> Gallery:
    return operations.add_gallery(name="The Old Mill", share_ppm=50 * PER_CENT, at=BEGAN, by=owner)


@pytest.fixture
def orla(owner: User) -> Client:
    return a_client(owner)
