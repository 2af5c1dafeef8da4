"""The screens of made things: the shelf, one piece, its four ticks, its price, its ways out."""

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from studio.people.models import User
from studio.pieces import operations as pieces
from studio.pieces.models import AskingPrice, Piece
from studio.work import operations as work
from studio.work.models import Workpiece
from tests.selling.shelf import BEGAN, a_piece
from tests.web.pieces_studio import MONEY, a_studio, key, of_role, photo, send, signed_in, text

TRAPS = ("0", "-5", "3,5", "<b>x", "O'Hara's", "w" * 200, "Тис 漢")


@pytest.fixture
def owner(db: None) -> User:
    return a_studio()


@pytest.fixture
def client(owner: User) -> Client:
    return signed_in(owner)


@pytest.fixture
def turned(owner: User) -> Workpiece:
    """Lump 7, off the lathe, nothing left to be done."""
    lump = work.take_in_lump(number="7", paid_micro=100 * MONEY, at=BEGAN, by=owner)
    work.plan_steps(workpiece=lump, codes=[])
    return lump


@pytest.fixture
def bowl(owner: User) -> Piece:
    return a_piece(owner, "41")


def test_an_empty_shelf_says_how_a_piece_gets_there(client: Client) -> None:
    assert "No piece yet" in text(client.get("/pieces/"))


def test_a_workpiece_becomes_a_finished_piece_by_four_ticks(client: Client, turned: Workpiece) -> None:
    made = send(client, f"/bench/{turned.pk}/piece/", title="Ash bowl <b>", form="bowl")
    assert made.status_code == 303
    piece = Piece.objects.get()
    home = f"/pieces/{piece.pk}/"
    assert made["Location"] == home
    page = text(client.get(home))
    assert "Ash bowl &lt;b&gt;" in page and "Measure and weigh it" in page
    send(client, f"{home}measure/", diameter="148 mm", height="92", mass="412")
    send(client, f"{home}sign/", with_what="burned with a wire")
    sent = send(client, f"{home}photograph/", photo=photo())
    assert sent.status_code == 303, text(sent)
    page = client.get(home)
    assert 'class="do">It has rested' in text(page)
    last = client.post(f"{home}rest/", {"submission": key(page)}, follow=True)
    assert "7 has rested. It is finished." in text(last) or "1 has rested. It is finished." in text(last)
    piece.refresh_from_db()
    assert piece.is_finished
    assert (piece.diameter_um, piece.height_um, piece.mass_mg) == (148_000, 92_000, 412_000)
    assert (piece.signed_number, piece.signed_with) == ("1", "burned with a wire")


def test_the_number_left_as_offered_is_the_next_even_if_another_took_it_meanwhile(
    client: Client, owner: User, turned: Workpiece
) -> None:
    piece = pieces.become_piece(workpiece=turned, at=BEGAN, by=owner)
    page = client.get(f"/pieces/{piece.pk}/sign/")
    assert page.context["form"].initial["number"] == "1"
    a_piece(owner, "8")  # signs number 1
    client.post(f"/pieces/{piece.pk}/sign/", {"number": "1", "offered": "1", "submission": key(page)})
    piece.refresh_from_db()
    assert piece.signed_number == "2"


def test_a_number_another_piece_carries_is_refused_beside_its_field(
    client: Client, owner: User, turned: Workpiece
) -> None:
    a_piece(owner, "8")
    piece = pieces.become_piece(workpiece=turned, at=BEGAN, by=owner)
    answer = send(client, f"/pieces/{piece.pk}/sign/", number="1", offered="2")
    assert answer.status_code == 422
    assert "1 is signed on another piece (8)" in answer.context["form"].errors["number"][0]
    piece.refresh_from_db()
    assert piece.signed_at is None


@pytest.mark.parametrize("trap", TRAPS)
def test_a_measure_nobody_can_read_is_said_and_kept(
    client: Client, owner: User, turned: Workpiece, trap: str
) -> None:
    piece = pieces.become_piece(workpiece=turned, at=BEGAN, by=owner)
    answer = send(client, f"/pieces/{piece.pk}/measure/", diameter=trap, mass=trap)
    piece.refresh_from_db()
    assert answer.status_code == 422
    assert piece.measured_at is None and piece.mass_mg is None
    if len(trap) <= 60:
        assert answer.context["form"]["diameter"].value() == trap


def test_measuring_twice_with_one_form_weighs_once(client: Client, owner: User, turned: Workpiece) -> None:
    piece = pieces.become_piece(workpiece=turned, at=BEGAN, by=owner)
    url = f"/pieces/{piece.pk}/measure/"
    form = {"diameter": "200", "height": "80", "mass": "700", "submission": key(client.get(url))}
    assert [client.post(url, form).status_code for _ in range(2)] == [303, 303]
    assert turned.weighings.count() == 1


def test_a_price_below_the_lowest_ask_wants_a_reason(client: Client, bowl: Piece) -> None:
    url = f"/pieces/{bowl.pk}/price/"
    answer = send(client, url, amount="150")
    assert answer.status_code == 422 and "below the lowest ask" in answer.context["form"].errors["reason"][0]
    assert bowl.asking_prices.count() == 1
    assert send(client, url, amount="150", reason="a small check at the rim").status_code == 303
    newest = bowl.asking_prices.last()
    assert (newest.amount_micro, newest.below_lowest) == (150 * MONEY, True)
    page = text(client.get(f"/pieces/{bowl.pk}/"))
    assert "a small check at the rim" in page and "brings less than it cost" in page


@pytest.mark.parametrize("trap", TRAPS[:1] + TRAPS[1:2] + TRAPS[3:])
def test_a_price_that_is_none_is_refused(client: Client, bowl: Piece, trap: str) -> None:
    answer = send(client, f"/pieces/{bowl.pk}/price/", amount=trap)
    assert answer.status_code == 422
    assert AskingPrice.objects.count() == 1


def test_the_page_shows_lowest_ask_and_what_an_hour_earns(client: Client, owner: User, turned: Workpiece) -> None:
    work.add_hours(
        person=owner, workpieces=[turned], code="turn", seconds=3600, at=BEGAN + timedelta(hours=2), by=owner
    )
    piece = pieces.become_piece(workpiece=turned, title="Bowl", form="bowl", at=BEGAN + timedelta(hours=3), by=owner)
    pieces.set_asking_price(piece=piece, amount_micro=400 * MONEY, at=timezone.now(), by=owner)
    page = text(client.get(f"/pieces/{piece.pk}/"))
    assert "lowest" in page and "ask 400" in page
    assert re.search(r"earns [\d.]+ an hour</text>", page) and ">wage 30.00</text>" in page


def test_a_gift_leaves_and_comes_back_by_undo(client: Client, bowl: Piece) -> None:
    left = send(client, f"/pieces/{bowl.pk}/let-go/", how="gift", words="to Mira, who lent the lathe")
    page = client.get(left["Location"])
    assert "given as a gift" in text(page) and "to Mira" in text(page)
    undo = client.post(f"/pieces/{bowl.pk}/came-back/", {"submission": key(page)})
    assert undo.status_code == 303
    bowl.refresh_from_db()
    assert bowl.way_out == "" and bowl.workpiece.closed_at is None


def test_a_second_says_why_and_can_be_none_again(client: Client, bowl: Piece) -> None:
    assert send(client, f"/pieces/{bowl.pk}/grade/", reason="").status_code == 422
    send(client, f"/pieces/{bowl.pk}/grade/", reason="a pinhole in the resin")
    assert "A second: a pinhole in the resin." in text(client.get(f"/pieces/{bowl.pk}/"))
    send(client, f"/pieces/{bowl.pk}/grade/")
    bowl.refresh_from_db()
    assert bowl.grade == "first"


def test_words_are_kept_escaped_and_a_stale_form_shows_what_changed(client: Client, bowl: Piece) -> None:
    url = f"/pieces/{bowl.pk}/describe/"
    page = client.get(url)
    from tests.web.pieces_studio import shown

    old = {**shown(page), "submission": key(page)}
    send(client, url, story="<script>alert(1)</script> O'Hara's Тис 漢", finish_words="oil and wax")
    assert "&lt;script&gt;" in text(client.get(f"/pieces/{bowl.pk}/"))
    stale = client.post(url, {**old, "story": "mine"})
    assert stale.status_code == 422 and "Changed while you were writing" in text(stale)
    assert stale.context["form"]["story"].value() == "mine"
    bowl.refresh_from_db()
    assert "alert(1)" in bowl.story


def test_parts_are_kept_in_their_order(client: Client, bowl: Piece) -> None:
    send(client, f"/pieces/{bowl.pk}/parts/", parts="bowl\nlid\n\n finial ")
    assert [part.words for part in bowl.parts.all()] == ["bowl", "lid", "finial"]


def test_the_list_filters_by_where_a_piece_is(client: Client, owner: User, bowl: Piece) -> None:
    a_piece(owner, "42", finished=False, asking=None)
    shelf, finishing = text(client.get("/pieces/")), text(client.get("/pieces/?show=finishing"))
    assert "Bowl 41" in shelf and "Bowl 42" not in shelf
    assert "Bowl 42" in finishing and "Bowl 41" not in finishing
    assert "No piece answers to that" in text(client.get("/pieces/?show=sold"))
    assert "Bowl 41" in text(client.get("/pieces/?show=nonsense&search=" + "41" * 1))
    assert client.get("/pieces/?search=" + "x" * 5000 + "&sort=account__value_micro&page=9999").status_code == 200


def test_a_visitor_sees_the_piece_and_none_of_its_figures(owner: User, bowl: Piece) -> None:
    visitor = of_role("visitor", owner)
    pieces.set_asking_price(piece=bowl, amount_micro=737 * MONEY, at=timezone.now(), by=owner)
    for url in ("/pieces/", f"/pieces/{bowl.pk}/", "/pieces/?show=all&sort=asking"):
        page = text(visitor.get(url))
        assert "Bowl 41" in page
        assert "737" not in page and "100.00" not in page and "115.00" not in page and "lowest" not in page
    assert "737" in text(of_role("maker", owner).get(f"/pieces/{bowl.pk}/")), "the same search finds it for a maker"


@pytest.mark.parametrize("role, expected", [("owner", 200), ("maker", 200), ("bookkeeper", 403), ("visitor", 403)])
def test_only_the_bench_changes_a_piece(owner: User, bowl: Piece, role: str, expected: int) -> None:
    person = of_role(role, owner)
    for what in ("measure", "sign", "photograph", "rest", "untick", "describe", "parts", "grade", "price", "let-go"):
        assert person.get(f"/pieces/{bowl.pk}/{what}/").status_code == expected, what


def test_what_is_not_there_is_not_found(client: Client) -> None:
    for url in ("/pieces/999/", "/pieces/999/measure/", "/bench/999/piece/", "/pieces/picture/9/on-card/"):
        assert client.get(url).status_code == 404, url


def test_the_picture_on_the_card_is_chosen_and_the_last_one_stays(client: Client, bowl: Piece) -> None:
    send(client, f"/pieces/{bowl.pk}/photograph/", photo=photo("navy"), on_card="")
    first, second = bowl.pictures.all()
    client.post(
        f"/pieces/picture/{second.pk}/on-card/", {"submission": key(client.get(f"/pieces/{bowl.pk}/pictures/"))}
    )
    second.refresh_from_db()
    assert second.on_card
    send(client, f"/pieces/picture/{first.pk}/take-off/")
    refused = send(client, f"/pieces/picture/{second.pk}/take-off/")
    assert refused.status_code == 422 and "only picture" in text(refused)


def test_a_tick_taken_back_makes_it_unfinished(client: Client, bowl: Piece) -> None:
    assert send(client, f"/pieces/{bowl.pk}/untick/", tick="rested").status_code == 303
    bowl.refresh_from_db()
    assert not bowl.is_finished and "It has rested" in text(client.get(f"/pieces/{bowl.pk}/"))


def test_the_bench_leads_to_the_piece_and_back(client: Client, bowl: Piece) -> None:
    assert f'href="/pieces/{bowl.pk}/"' in text(client.get(f"/bench/{bowl.workpiece_id}/"))
    assert f'href="/bench/{bowl.workpiece_id}/"' in text(client.get(f"/pieces/{bowl.pk}/"))
