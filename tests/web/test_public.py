"""The page behind a card's code: for anybody, without a cookie, and without what is nobody's business."""

import pytest
from django.test import Client

from studio.people.models import User
from studio.pieces import operations as pieces
from studio.pieces.models import Piece
from studio.selling import operations as selling
from tests.selling.shelf import a_client, a_piece, day
from tests.web.pieces_studio import MONEY, a_studio, photo, send, signed_in, text


@pytest.fixture
def owner(db: None) -> User:
    return a_studio()


@pytest.fixture
def bowl(owner: User) -> Piece:
    piece = a_piece(owner, "41", asking=737)
    pieces.describe_piece(piece=piece, story="It fell in the <b>storm</b>.\n\nTwo years it dried.")
    piece.refresh_from_db()
    return piece


@pytest.fixture
def address(bowl: Piece) -> str:
    return f"/p/{bowl.public_token}/"


def test_anybody_with_the_address_reads_the_piece(address: str) -> None:
    answer = Client().get(address)
    page = text(answer)
    assert answer.status_code == 200
    assert "Bowl 41" in page and "Hollow Tree Studio" in page and "Two years it dried." in page
    assert "&lt;b&gt;storm" in page and "Not for food or flame." in page


def test_it_sets_no_cookie_and_asks_not_to_be_listed(address: str) -> None:
    answer = Client().get(address)
    assert not answer.cookies
    assert "noindex" in answer["X-Robots-Tag"] and 'name="robots" content="noindex' in text(answer)
    assert "script" not in text(answer)


def test_neither_price_nor_cost_nor_client_nor_who_works_here_is_on_it(
    owner: User, bowl: Piece, address: str
) -> None:
    buyer = a_client(owner, "Orla Finch")
    before = text(Client().get(address))
    selling.sell(piece=bowl, price_micro=737 * MONEY, client=buyer, at=day(9), by=owner)
    page = text(Client().get(address))
    for secret in ("737", "100.00", "Orla", "Finch", "Ilse", "EUR"):
        assert secret not in page and secret not in before, secret
    assert "Bowl 41" in page, "it stays when the piece is sold"


def test_a_guess_finds_nothing(owner: User, bowl: Piece) -> None:
    unsigned = a_piece(owner, "42", finished=False, asking=None)
    for token in ("x" * 22, "1", str(bowl.pk), unsigned.public_token, "y" * 3000, "%00"):
        assert Client().get(f"/p/{token}/").status_code == 404, token


def test_its_photographs_are_shown_without_signing_in_and_no_others(owner: User, bowl: Piece, address: str) -> None:
    send(signed_in(owner), f"/pieces/{bowl.pk}/photograph/", photo=photo("green"))
    answer = Client().get(f"{address}1-small.jpg")
    assert answer.status_code == 200 and answer["Content-Type"] == "image/jpeg" and not answer.cookies
    for wrong in ("2-small.jpg", "1-huge.jpg", "99999999-large.jpg"):
        assert Client().get(address + wrong).status_code == 404
    name = bowl.pictures.last().picture.name
    assert Client().get(f"/photographs/{name}/small.jpg").status_code == 302, "the studio's own address stays shut"
