"""Prices of all pieces on one page, and how many come through each step."""

import re

import pytest
from django.test import Client

from studio.people.models import User
from studio.pieces import operations as pieces
from studio.work import operations as work
from tests.selling.shelf import BEGAN, a_piece, day, set_up
from tests.web.pieces_studio import MONEY, a_studio, of_role, signed_in, text


@pytest.fixture
def owner(db: None) -> User:
    return a_studio()


@pytest.fixture
def client(owner: User) -> Client:
    return signed_in(owner)


def rows(page: str) -> dict[str, str]:
    """Title of each row and the text of its cells."""
    found = {}
    for row in re.findall(r"<tr role=\"row\">(.*?)</tr>", page, re.S):
        cells = re.sub(r"<[^>]+>", " ", row)
        title = re.search(r"Bowl \d+", cells)
        if title:
            found[title[0]] = cells
    return found


def test_lowest_ask_and_price_stand_beside_each_other(client: Client, owner: User) -> None:
    a_piece(owner, "41", asking=300)
    cells = rows(text(client.get("/prices/")))["Bowl 41"]
    # 100 and 15 % are 115; with 10 to sell, over 1 - 40 % - 2 %: 215.52 to the next coin
    assert "115.00" in cells and "215.52" in cells and "300.00" in cells


def test_filters_find_what_is_below_its_lowest_and_what_has_no_price(client: Client, owner: User) -> None:
    a_piece(owner, "41", asking=300)
    a_piece(owner, "42", asking=None)
    low = a_piece(owner, "43", asking=None)
    pieces.set_asking_price(
        piece=low, amount_micro=120 * MONEY, lowest_micro=215 * MONEY, reason="a check", at=day(2), by=owner
    )
    a_piece(owner, "44", finished=False, asking=None)
    assert set(rows(text(client.get("/prices/")))) == {"Bowl 41", "Bowl 42", "Bowl 43", "Bowl 44"}
    assert set(rows(text(client.get("/prices/?show=below")))) == {"Bowl 43"}
    assert set(rows(text(client.get("/prices/?show=open")))) == {"Bowl 42", "Bowl 44"}
    assert set(rows(text(client.get("/prices/?show=unfinished")))) == {"Bowl 44"}
    assert set(rows(text(client.get("/prices/?search=41&sort=-lowest")))) == {"Bowl 41"}


def test_without_an_answer_the_page_says_which_one_is_wanting(db: None) -> None:
    owner = set_up()
    a_piece(owner, "41")
    page = text(signed_in(owner).get("/prices/"))
    assert "There is no lowest ask yet" in page and "/settings/gallery_share_ppm/" in page


def test_what_came_through_each_step_is_said_with_how_far_it_can_be_trusted(client: Client, owner: User) -> None:
    for number in range(4):
        lump = work.take_in_lump(number=str(10 + number), paid_micro=MONEY, at=BEGAN, by=owner)
        work.plan_steps(workpiece=lump, codes=["turn"])
        work.begin_step(workpiece=lump, code="turn", at=day(1), person=owner)
        if number:
            work.end_step(workpiece=lump, code="turn", at=day(2), person=owner)
        else:
            work.it_broke(workpiece=lump, step="turn", cause="catch", at=day(2), by=owner)
    page = text(client.get("/prices/"))
    assert "3 of 4" in page and "75\u00a0%" in page and "9 times in 10" in page


def test_a_visitor_has_no_prices(owner: User) -> None:
    assert of_role("visitor", owner).get("/prices/").status_code == 403
    assert of_role("bookkeeper", owner).get("/prices/").status_code == 200
