"""Commissions on screen: from the first word to the piece handed over, or called off."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from studio.commissions import operations
from studio.commissions.models import Commission
from studio.commissions.trail import deposit_held
from studio.people.models import Client as Buyer
from studio.people.models import User
from studio.pieces.models import Piece
from studio.selling.models import Sale
from studio.work import operations as work
from tests.selling.shelf import a_client, a_piece
from tests.web.pieces_studio import MONEY, a_studio, assert_audit_is_clean, key, of_role, send, signed_in, text


@pytest.fixture
def owner(db: None) -> User:
    return a_studio()


@pytest.fixture
def client(owner: User) -> Client:
    return signed_in(owner)


def soon(days: int = 30) -> str:
    return (timezone.now() + timedelta(days=days)).date().isoformat()


@pytest.fixture
def order(owner: User) -> Commission:
    """Agreed at 500 with a deposit of 150 asked, in 30 days."""
    row = operations.ask(client=a_client(owner), wanted="A wide ash bowl", form="bowl", at=timezone.now(), by=owner)
    by_on = (timezone.now() + timedelta(days=30)).date()
    return operations.agree(
        commission=row,
        price_micro=500 * MONEY,
        by_on=by_on,
        deposit_asked_micro=150 * MONEY,
        at=timezone.now(),
        by=owner,
    )


@pytest.fixture
def bowl(owner: User) -> Piece:
    return a_piece(owner, "41", asking=None)


def test_an_empty_queue_says_what_to_do_first(client: Client) -> None:
    assert "Somebody asks for a piece" in text(client.get("/commissions/"))


def test_a_commission_goes_from_the_first_word_to_the_piece_handed_over(client: Client, bowl: Piece) -> None:
    asked = send(client, "/commissions/new/", new_client="Orla O'Hara", wanted="A wide <b>ash</b> bowl", form="bowl")
    assert asked.status_code == 303, text(asked)
    order = Commission.objects.get()
    home = f"/commissions/{order.pk}/"
    assert asked["Location"] == home
    page = text(client.get(home))
    assert "&lt;b&gt;ash" in page and f'class="do" href="{home}agree/"' in page
    send(client, f"{home}agree/", price="500", by_on=soon(), deposit="150")
    assert f'class="do" href="{home}deposit/"' in text(client.get(home))
    form = client.get(f"{home}deposit/")
    assert form.context["form"].initial["amount"] == 150 * MONEY
    send(client, f"{home}deposit/", amount="150")
    assert f'class="do" href="{home}set-aside/"' in text(client.get(home))
    kept = send(client, f"{home}set-aside/", number="41")
    assert kept.status_code == 303, text(kept)
    page = text(client.get(home))
    assert "41 is finished: hand it over" in page and "350.00" in page
    done = send(client, f"{home}deliver/")
    assert done.status_code == 303, text(done)
    order.refresh_from_db()
    assert order.state == "delivered" and order.sale.deposit_used_micro == 150 * MONEY
    assert "Delivered" in text(client.get(home))
    assert "Orla O&#x27;Hara" in text(client.get("/commissions/"))
    assert_audit_is_clean()
    send(client, f"{home}delivery-back/", why="the lid stuck")
    order.refresh_from_db()
    assert order.state == "agreed" and deposit_held(order) == 150 * MONEY
    assert_audit_is_clean()


def test_sent_twice_it_is_one_commission_and_one_client(client: Client) -> None:
    form = {"new_client": "Orla Finch", "wanted": "A bowl", "submission": key(client.get("/commissions/new/"))}
    assert [client.post("/commissions/new/", form).status_code for _ in range(2)] == [303, 303]
    assert Commission.objects.count() == Buyer.objects.count() == 1


def test_a_refused_commission_leaves_no_client_behind(client: Client) -> None:
    answer = send(client, "/commissions/new/", new_client="Orla Finch", wanted="A bowl", price="100", deposit="200")
    assert answer.status_code == 422 and "deposit" in answer.context["form"].errors
    assert answer.context["form"]["wanted"].value() == "A bowl"
    assert not Buyer.objects.exists() and not Commission.objects.exists()


def test_nobody_named_is_asked_for(client: Client) -> None:
    answer = send(client, "/commissions/new/", wanted="A bowl")
    assert answer.status_code == 422 and "Say who it is for" in answer.context["form"].errors["client"][0]


@pytest.mark.parametrize("field, trap", [
    ("wanted", ""), ("wanted", "w" * 2001), ("by_on", "2001-01-01"), ("by_on", "32.13."), ("price", "0"),
    ("price", "-3"), ("price", "<b>x"), ("price", "0.001"),
    ("deposit", "-1"), ("new_client", "w" * 201), ("form", "no such form"),
])  # fmt: skip
def test_a_trap_in_any_field_is_said_beside_it(client: Client, field: str, trap: str) -> None:
    good = {"new_client": "Тис 漢 O'Hara", "wanted": "A bowl"}
    answer = send(client, "/commissions/new/", **{**good, field: trap})
    assert answer.status_code == 422 and field in answer.context["form"].errors
    assert not Commission.objects.exists()


def test_the_queue_has_the_nearest_day_first_and_says_what_is_late(client: Client, owner: User) -> None:
    buyer = a_client(owner)
    long_ago = timezone.now() - timedelta(days=60)
    rows = [("later", 40), ("late", -3), ("soon", 5)]
    for wanted, days in rows:
        operations.ask(
            client=buyer, wanted=wanted, by_on=(timezone.now() + timedelta(days=days)).date(), at=long_ago, by=owner
        )
    operations.ask(client=buyer, wanted="someday", at=long_ago, by=owner)
    page = text(client.get("/commissions/"))
    assert (
        page.index("Finch: late")
        < page.index("Finch: soon")
        < page.index("Finch: later")
        < page.index("Finch: someday")
    )
    assert "three days late" in page and "one of them late" in page


def test_what_holds_somebody_elses_wood_is_refused(
    client: Client, owner: User, order: Commission, bowl: Piece
) -> None:
    work.hold(workpiece=bowl.workpiece, reason="for a friend", ref="friend")
    answer = send(client, f"/commissions/{order.pk}/set-aside/", number="41")
    assert answer.status_code == 422
    none = send(client, f"/commissions/{order.pk}/set-aside/", number="77/7")
    assert "Nothing carries the number 77/7" in text(none)


def test_ticked_wood_is_set_aside_and_let_go(client: Client, order: Commission, bowl: Piece) -> None:
    send(client, f"/commissions/{order.pk}/set-aside/", workpieces=[bowl.workpiece_id])
    bowl.workpiece.refresh_from_db()
    assert bowl.workpiece.hold_ref == order.ref
    assert "Held for commission 1" in text(client.get(f"/pieces/{bowl.pk}/"))
    send(client, f"/commissions/{order.pk}/let-go/{bowl.workpiece_id}/")
    bowl.workpiece.refresh_from_db()
    assert not bowl.workpiece.held


def test_a_deposit_is_not_more_than_the_price_and_goes_back(client: Client, order: Commission) -> None:
    url = f"/commissions/{order.pk}/"
    assert send(client, f"{url}deposit/", amount="501").status_code == 422
    send(client, f"{url}deposit/", amount="150")
    assert send(client, f"{url}deposit-back/", amount="151").status_code == 422
    send(client, f"{url}deposit-back/", amount="50", why="asked for too much")
    assert deposit_held(order) == 100 * MONEY
    assert_audit_is_clean()


def test_called_off_it_must_be_said_what_becomes_of_the_deposit(client: Client, order: Commission) -> None:
    url = f"/commissions/{order.pk}/"
    send(client, f"{url}deposit/", amount="150")
    silent = send(client, f"{url}call-off/", why="moved away")
    assert silent.status_code == 422 and "give_back" in silent.context["form"].errors
    assert send(client, f"{url}call-off/", why="moved away", give_back="100").status_code == 303
    order.refresh_from_db()
    assert order.state == "called_off" and deposit_held(order) == 0
    assert "Called off" in text(client.get(url))
    assert_audit_is_clean()


def test_a_change_is_trailed_and_a_stale_one_shows_what_changed(client: Client, order: Commission) -> None:
    url = f"/commissions/{order.pk}/change/"
    page = client.get(url)
    from tests.web.pieces_studio import shown

    old = {**shown(page), "submission": key(page)}
    send(client, url, price="550", why="a lid as well")
    order.refresh_from_db()
    assert order.price_micro == 550 * MONEY
    assert "a lid as well" in text(client.get(f"/commissions/{order.pk}/"))
    stale = client.post(url, {**old, "price": "450"})
    assert stale.status_code == 422 and "Changed while you were writing" in text(stale)


def test_delivering_twice_sells_once(client: Client, order: Commission, bowl: Piece) -> None:
    operations.reserve(commission=order, workpieces=[bowl.workpiece], at=timezone.now(), by=order.events.first().by)
    url = f"/commissions/{order.pk}/deliver/"
    form = {"piece": bowl.pk, "paid": "cash", "submission": key(client.get(url))}
    assert [client.post(url, form).status_code for _ in range(2)] == [303, 303]
    assert Sale.objects.count() == 1


def test_a_maker_takes_orders_and_a_bookkeeper_takes_money(owner: User, order: Commission) -> None:
    maker, books = of_role("maker", owner), of_role("bookkeeper", owner)
    home = f"/commissions/{order.pk}/"
    assert maker.get("/commissions/new/").status_code == 200 and books.get("/commissions/new/").status_code == 403
    assert maker.get(f"{home}deposit/").status_code == 403 and books.get(f"{home}deposit/").status_code == 200
    assert of_role("visitor", owner).get(home).status_code == 403


def test_what_is_not_there_is_not_found(client: Client, order: Commission) -> None:
    for url in ("/commissions/99/", "/commissions/99/agree/", f"/commissions/{order.pk}/let-go/999/"):
        assert client.get(url).status_code == 404, url
