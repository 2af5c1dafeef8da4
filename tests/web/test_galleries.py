"""Galleries on screen: agreed, left, sold, paid, taken back; and sales from the studio."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from studio.people.models import Client as Buyer
from studio.people.models import User
from studio.pieces.models import Piece
from studio.selling import operations as selling
from studio.selling import queries
from studio.selling.models import Gallery, Payment, Placement, Sale
from studio.work import operations as work
from tests.selling.shelf import BEGAN, COIN, PER_CENT, a_client, a_piece, day
from tests.web.pieces_studio import MONEY, a_studio, assert_audit_is_clean, key, of_role, send, signed_in, text

TRAPS = ("", "0", "-5", "<b>x", "O'Hara's", "w" * 200, "Тис 漢")


@pytest.fixture
def owner(db: None) -> User:
    return a_studio()


@pytest.fixture
def client(owner: User) -> Client:
    return signed_in(owner)


@pytest.fixture
def harbour(owner: User) -> Gallery:
    return selling.add_gallery(name="Harbour Rooms", share_ppm=40 * PER_CENT, at=BEGAN, by=owner)


@pytest.fixture
def bowl(owner: User) -> Piece:
    return a_piece(owner, "41")


@pytest.fixture
def placed(owner: User, bowl: Piece, harbour: Gallery) -> Placement:
    return selling.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)[0]


def test_an_empty_list_says_what_to_do_first(client: Client) -> None:
    assert "Add a gallery" in text(client.get("/galleries/"))


def test_a_gallery_is_added_with_what_was_agreed(client: Client) -> None:
    answer = send(client, "/galleries/new/", name="The Old Mill", share="45 %", days_to_pay="14", town="Skerry")
    gallery = Gallery.objects.get()
    assert answer["Location"] == f"/galleries/{gallery.pk}/"
    terms = gallery.terms.get()
    assert (terms.share_ppm, terms.days_to_pay, terms.collects_tax) == (450_000, 14, True)
    page = text(client.get(answer["Location"]))
    assert "45" in page and "14 days" in page


def test_a_name_twice_is_refused_beside_the_name_and_kept(client: Client, harbour: Gallery) -> None:
    answer = send(client, "/galleries/new/", name="harbour rooms")
    assert answer.status_code == 422
    assert "already" in answer.context["form"].errors["name"][0]
    assert answer.context["form"]["name"].value() == "harbour rooms"


@pytest.mark.parametrize("trap", ["100 %", "-1", "abc", "w" * 200])
def test_a_share_that_is_none_is_refused(client: Client, trap: str) -> None:
    assert send(client, "/galleries/new/", name="Mill", share=trap).status_code == 422
    assert not Gallery.objects.exists()


def test_a_dated_change_of_terms_stands_beside_the_old(client: Client, harbour: Gallery) -> None:
    send(client, f"/galleries/{harbour.pk}/terms/", share="50", days_to_pay="30", from_on="2026-01-01")
    assert harbour.terms.count() == 2
    page = text(client.get(f"/galleries/{harbour.pk}/"))
    assert "40\u00a0%" in page and "50\u00a0%" in page


def test_ticked_pieces_are_left_once_though_sent_twice(client: Client, harbour: Gallery, bowl: Piece) -> None:
    url = f"/galleries/{harbour.pk}/leave/"
    form = {"pieces": [bowl.pk], "submission": key(client.get(url))}
    assert [client.post(url, form).status_code for _ in range(2)] == [303, 303]
    assert Placement.objects.count() == 1
    page = text(client.get(f"/galleries/{harbour.pk}/"))
    assert "Bowl 41" in page and "1 piece" in page
    assert "Bowl 41" in text(client.get("/pieces/?show=away")) and "Bowl 41" not in text(client.get("/pieces/"))


def test_what_is_not_finished_or_not_priced_is_not_offered(client: Client, owner: User, harbour: Gallery) -> None:
    a_piece(owner, "42", asking=None)
    a_piece(owner, "43", finished=False)
    assert "Nothing on the shelf can go" in text(client.get(f"/galleries/{harbour.pk}/leave/"))


def test_nothing_ticked_is_said(client: Client, harbour: Gallery, bowl: Piece) -> None:
    answer = send(client, f"/galleries/{harbour.pk}/leave/")
    assert answer.status_code == 422 and "Tick the pieces" in text(answer)


def test_a_piece_left_elsewhere_meanwhile_is_refused(
    client: Client, owner: User, harbour: Gallery, bowl: Piece
) -> None:
    url = f"/galleries/{harbour.pk}/leave/"
    stale = key(client.get(url))
    mill = selling.add_gallery(name="Mill", share_ppm=0, at=BEGAN, by=owner)
    selling.leave_with(pieces=[bowl], gallery=mill, at=day(2), by=owner)
    answer = client.post(url, {"pieces": [bowl.pk], "submission": stale})
    assert answer.status_code == 422 and Placement.objects.count() == 1


def test_a_piece_comes_back_with_a_word_why(client: Client, placed: Placement) -> None:
    url = f"/galleries/piece/{placed.pk}/back/"
    assert send(client, url, why="").status_code == 422
    assert send(client, url, why="unsold since spring").status_code == 303
    placed.refresh_from_db()
    assert placed.back_why == "unsold since spring"
    again = send(client, url, why="again")
    assert again.status_code == 422 and "already" in text(again)


def test_sold_at_the_gallery_it_owes_the_rest_and_pays_it(
    client: Client, placed: Placement, harbour: Gallery
) -> None:
    page = client.get(f"/pieces/{placed.piece_id}/sell/")
    assert "Sold through Harbour Rooms" in text(page) and page.context["form"].initial["price"] == 300 * MONEY
    sold = send(client, f"/pieces/{placed.piece_id}/sell/", price="300")
    sale = Sale.objects.get()
    assert sold["Location"] == f"/sales/{sale.pk}/"
    assert (sale.share_micro, sale.owed_micro) == (120 * MONEY, 180 * MONEY)
    assert "180.00" in text(client.get(f"/galleries/{harbour.pk}/"))
    url = f"/galleries/{harbour.pk}/payment/"
    asked = send(client, url, amount="500")
    assert asked.status_code == 422 and "sure" in asked.context["form"].fields
    paid = send(client, url, amount="180")
    assert paid.status_code == 303
    assert queries.gallery_page(harbour.pk).debt.owed_micro == 0
    payment = Payment.objects.get()
    send(client, f"/galleries/payment/{payment.pk}/take-back/")
    assert queries.gallery_page(harbour.pk).debt.owed_micro == 180 * MONEY
    assert_audit_is_clean()


def test_more_than_owed_is_taken_when_confirmed_and_paid_back(client: Client, harbour: Gallery) -> None:
    url = f"/galleries/{harbour.pk}/payment/"
    first = key(client.get(url))
    assert client.post(url, {"amount": "50", "submission": first}).status_code == 422
    assert client.post(url, {"amount": "50", "sure": "on", "submission": first}).status_code == 303
    assert "to its credit" in text(client.get("/galleries/"))
    assert send(client, f"/galleries/{harbour.pk}/give-back/", amount="50").status_code == 303
    assert queries.gallery_page(harbour.pk).debt.owed_micro == 0


@pytest.mark.parametrize("trap", TRAPS)
def test_a_payment_that_is_none_is_refused_and_nothing_posted(client: Client, harbour: Gallery, trap: str) -> None:
    answer = send(client, f"/galleries/{harbour.pk}/payment/", amount=trap)
    assert answer.status_code == 422 and not Payment.objects.exists()


def test_a_sale_from_the_studio_by_card_to_somebody_new(client: Client, bowl: Piece) -> None:
    answer = send(client, f"/pieces/{bowl.pk}/sell/", price="300", paid="card", new_client="Orla O'Hara 漢")
    assert answer.status_code == 303, text(answer)
    sale = Sale.objects.get()
    assert (sale.client.name, sale.card, sale.card_fee_micro) == ("Orla O'Hara 漢", True, 6 * MONEY)
    page = text(client.get(f"/sales/{sale.pk}/"))
    assert "294.00" in page and "115.00" in page
    assert "sold from the studio" in text(client.get(f"/pieces/{bowl.pk}/"))
    assert_audit_is_clean()


def test_a_refused_sale_leaves_no_client_behind(client: Client, bowl: Piece) -> None:
    answer = send(client, f"/pieces/{bowl.pk}/sell/", price="300.005", new_client="Orla Finch")
    assert answer.status_code == 422 and not Buyer.objects.exists()


def test_a_client_who_pays_later_owes_and_pays(client: Client, owner: User, bowl: Piece) -> None:
    buyer = a_client(owner)
    assert send(client, f"/pieces/{bowl.pk}/sell/", price="300", paid="later").status_code == 422
    send(client, f"/pieces/{bowl.pk}/sell/", price="300", paid="later", client=buyer.pk)
    assert "Owes EUR" in text(client.get(f"/clients/{buyer.pk}/")) or "300.00" in text(
        client.get(f"/clients/{buyer.pk}/")
    )
    assert queries.owed_by(buyer) == 300 * MONEY
    send(client, f"/clients/{buyer.pk}/payment/", amount="300")
    assert queries.owed_by(buyer) == 0


def test_a_sale_is_taken_back_with_a_word_why(client: Client, placed: Placement) -> None:
    send(client, f"/pieces/{placed.piece_id}/sell/", price="300")
    sale = Sale.objects.get()
    url = f"/sales/{sale.pk}/take-back/"
    assert send(client, url, why="").status_code == 422
    assert send(client, url, why="the cheque bounced", still_there="on").status_code == 303
    assert queries.where_is([placed.piece_id])[placed.piece_id].kind == "gallery"
    assert_audit_is_clean()


def test_a_gallery_that_holds_something_is_not_put_away(client: Client, placed: Placement, harbour: Gallery) -> None:
    assert send(client, f"/galleries/{harbour.pk}/close/").status_code == 422
    send(client, f"/galleries/piece/{placed.pk}/back/", why="closing")
    assert send(client, f"/galleries/{harbour.pk}/close/").status_code == 303
    client.get("/galleries/")  # says what was done, once
    assert "Harbour Rooms" not in text(client.get("/galleries/"))
    assert "Harbour Rooms" in text(client.get("/galleries/?closed=1"))


def test_a_visitor_and_a_maker_see_where_things_are_and_not_what_is_owed(
    owner: User, placed: Placement, harbour: Gallery
) -> None:
    other = a_piece(owner, "42", asking=413)
    selling.leave_with(pieces=[other], gallery=harbour, at=day(2), by=owner)
    selling.sell(piece=other, price_micro=413 * MONEY, gallery=harbour, at=day(3), by=owner)
    owed = "247.80"
    assert owed in text(signed_in(owner).get(f"/galleries/{harbour.pk}/"))
    for role in ("visitor", "maker"):
        person = of_role(role, owner)
        for url in ("/galleries/", f"/galleries/{harbour.pk}/"):
            page = text(person.get(url))
            assert "Harbour Rooms" in page and owed not in page and "413" not in page, (role, url)
        assert person.get("/sales/").status_code == 403
        assert person.get(f"/sales/{Sale.objects.get().pk}/").status_code == 403
        assert person.get(f"/pieces/{placed.piece_id}/sell/").status_code == 403
    assert "300.00" not in text(of_role("visitor", owner).get(f"/galleries/{harbour.pk}/"))


def test_what_is_not_there_is_not_found(client: Client) -> None:
    urls = ("/galleries/99/", "/galleries/99/leave/", "/galleries/piece/9/back/", "/galleries/payment/9/take-back/",
            "/sales/9/", "/sales/9/take-back/", "/pieces/9/sell/", "/clients/9/", "/suppliers/9/change/")  # fmt: skip
    for url in urls:
        assert client.get(url).status_code == 404, url


def test_a_client_is_written_down_changed_found_and_erased(client: Client) -> None:
    assert send(client, "/clients/new/", name="Żofia Kęs", email="nonsense").status_code == 422
    send(client, "/clients/new/", name="Żofia Kęs", country="PL")
    buyer = Buyer.objects.get()
    assert "Żofia" in text(client.get("/clients/?search=zofia"))
    send(client, f"/clients/{buyer.pk}/change/", phone="123")
    assert send(client, f"/clients/{buyer.pk}/erase/").status_code == 303
    buyer.refresh_from_db()
    assert buyer.name == "" and "erased" in text(client.get(f"/clients/{buyer.pk}/"))


def test_a_visitor_sees_no_client(owner: User) -> None:
    buyer = a_client(owner)
    visitor = of_role("visitor", owner)
    for url in ("/clients/", f"/clients/{buyer.pk}/", "/suppliers/", "/commissions/"):
        assert visitor.get(url).status_code == 403, url


def test_coins_stay_whole(client: Client, placed: Placement, harbour: Gallery) -> None:
    send(client, f"/pieces/{placed.piece_id}/sell/", price="299.99")
    sale = Sale.objects.get()
    assert sale.share_micro % COIN == 0 and sale.owed_micro == sale.price_micro - sale.share_micro


def test_a_tick_is_not_taken_away_while_the_piece_stands_at_a_gallery(client: Client, placed: Placement) -> None:
    answer = send(client, f"/pieces/{placed.piece_id}/untick/", tick="rested")
    assert answer.status_code == 422 and "is with Harbour Rooms. Take it back first" in text(answer)
    assert Piece.objects.get(pk=placed.piece_id).is_finished


def test_a_finish_that_still_cures_is_named_in_the_list_and_asked_about(
    client: Client, owner: User, bowl: Piece, harbour: Gallery
) -> None:
    at = timezone.now() - timedelta(hours=2)
    lines = [work.LineSpec("buff"), work.LineSpec("cure", wait_s=14 * 86_400)]
    finish = work.keep_schedule(name="Wax", lines=lines, at=at, by=owner)
    (run,) = work.put_on_finish(schedule=finish, workpieces=[bowl.workpiece], at=at, by=owner)
    work.do_line(run=run, line=finish.lines.get(kind="buff"), at=at, by=owner)
    where = f"/galleries/{harbour.pk}/leave/"
    assert "the finish of 41 cures until" in text(client.get(where))
    answer = send(client, where, pieces=str(bowl.pk))
    assert answer.status_code == 422 and "Packed too early" in text(answer) and not Placement.objects.exists()
    send(client, where, pieces=str(bowl.pk), sure="on")
    assert Placement.objects.get().gallery == harbour
