"""A studio whose prices have the tax in them types, reads and prints them so; what is kept is before tax."""

import pytest
from django.test import Client
from django.utils import timezone

from studio.papers.from_pieces import Studio, tag_facts
from studio.people import settings as answers
from studio.people.models import User
from studio.pieces import operations as pieces
from studio.pieces import queries
from studio.pieces.errors import NotLikeThat
from studio.pieces.models import Piece
from studio.selling import operations as selling
from studio.selling.models import Gallery, Sale
from tests.selling.shelf import BEGAN, a_piece, day, settle
from tests.web.pieces_studio import MONEY, a_studio, assert_audit_is_clean, send, signed_in, text

# No whole cent before 25.5 % comes to 799.98.
TYPED, KEPT = "799.98", 637_434_263


@pytest.fixture
def owner(db: None) -> User:
    owner = a_studio()
    settle(owner, sales_tax_ppm=255_000, prices_include_tax=True)
    return owner


@pytest.fixture
def client(owner: User) -> Client:
    return signed_in(owner)


@pytest.fixture
def bowl(owner: User) -> Piece:
    return a_piece(owner, "41", asking=None)


@pytest.fixture
def priced(client: Client, bowl: Piece) -> Piece:
    assert send(client, f"/pieces/{bowl.pk}/price/", amount=TYPED).status_code == 303
    return bowl


def test_what_was_typed_is_said_again_everywhere(client: Client, priced: Piece, owner: User) -> None:
    assert priced.asking_prices.get().amount_micro == KEPT
    form = client.get(f"/pieces/{priced.pk}/price/")
    assert "With tax." in text(form) and "Before tax" not in text(form)
    assert f'value="{TYPED}"' in form.content.decode()
    piece, shelf, prices = (text(client.get(url)) for url in (f"/pieces/{priced.pk}/", "/pieces/", "/prices/"))
    assert piece.count(TYPED) >= 2 and "637.4" not in piece
    assert TYPED in shelf and "637.4" not in shelf
    assert TYPED in prices and "With tax." in prices and "637.4" not in prices


def test_the_tag_prints_the_price_that_was_typed(priced: Piece) -> None:
    studio = Studio.now(answers.local_date(timezone.now()))
    assert TYPED in tag_facts(queries.page(priced.pk), studio, price=True).price_words


def test_the_lowest_ask_is_said_with_tax_and_asking_it_loses_nothing(client: Client, bowl: Piece) -> None:
    url = f"/pieces/{bowl.pk}/price/"
    low = send(client, url, amount="1")
    assert low.status_code == 422
    said = text(low).split("below the lowest ask, ")[1].split(":")[0]
    assert send(client, url, amount=said).status_code == 303
    price = bowl.asking_prices.get()
    assert not price.below_lowest and price.amount_micro >= price.lowest_micro


def test_a_sale_at_the_price_asked_splits_it_into_price_and_tax(client: Client, priced: Piece) -> None:
    page = client.get(f"/pieces/{priced.pk}/sell/")
    assert "With tax." in text(page) and f'value="{TYPED}"' in page.content.decode()
    assert send(client, f"/pieces/{priced.pk}/sell/").status_code == 303
    sale = Sale.objects.get()
    assert (sale.price_micro, sale.tax_micro) == (637_430_000, 162_550_000)
    assert_audit_is_clean()


@pytest.mark.parametrize(("collects", "tax"), [(True, 0), (False, 162_550_000)])
def test_a_gallery_sells_at_the_price_on_the_tag(client: Client, owner: User, priced: Piece, collects, tax) -> None:
    gallery: Gallery = selling.add_gallery(
        name="Harbour Rooms", share_ppm=400_000, collects_tax=collects, by=owner, at=BEGAN
    )
    selling.leave_with(pieces=[priced], gallery=gallery, at=timezone.now(), by=owner)
    for url in ("/galleries/", f"/galleries/{gallery.pk}/"):
        assert TYPED in text(client.get(url))
    assert send(client, f"/pieces/{priced.pk}/sell/").status_code == 303
    sale = Sale.objects.get()
    assert (sale.price_micro, sale.tax_micro, sale.share_micro) == (637_430_000, tax, 254_970_000)
    assert_audit_is_clean()


def test_the_history_says_each_price_as_it_was_said_then(client: Client, owner: User, priced: Piece) -> None:
    answer = send(client, f"/pieces/{priced.pk}/price/", amount="820")
    assert answer.status_code == 303
    page = text(client.get(f"/pieces/{priced.pk}/"))
    assert TYPED in page and "820.00" in page


def test_tax_in_the_price_and_nobody_knows_how_much_is_asked_on_the_form(client: Client, db: None) -> None:
    from studio.people.models import DatedSetting

    bowl = a_piece(User.objects.get(username="ilse"), "42", asking=None)
    DatedSetting.objects.filter(key="sales_tax_ppm").delete()
    asked = send(client, f"/pieces/{bowl.pk}/price/", amount="800")
    assert asked.status_code == 422 and "What sales tax do you add to a price?" in text(asked)
    assert not bowl.asking_prices.exists()


def test_a_part_of_a_coin_that_stands_for_no_price_with_tax_is_refused(owner: User, bowl: Piece) -> None:
    with pytest.raises(NotLikeThat, match="part of the smallest coin"):
        pieces.set_asking_price(piece=bowl, amount_micro=300 * MONEY + 1, at=day(2), by=owner)


def test_a_studio_that_adds_tax_at_the_till_types_before_tax(client: Client, owner: User, bowl: Piece) -> None:
    settle(owner, prices_include_tax=False)
    page = client.get(f"/pieces/{bowl.pk}/price/")
    assert "Before tax." in text(page) and "With tax" not in text(page)
    send(client, f"/pieces/{bowl.pk}/price/", amount="800.00")
    assert bowl.asking_prices.get().amount_micro == 800 * MONEY
