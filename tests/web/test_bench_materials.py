"""Materials that go into a workpiece: drawn, run short and counted, past their day, not yet bought."""

from types import SimpleNamespace

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.ledger import queries as ledger
from studio.stores import operations as stores
from studio.stores import queries as stores_queries
from studio.work.models import Workpiece
from tests.web.shop import DAY, GRAM, MONEY, a_shop, every_trap, key_of, send, signed_in, text


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    return a_shop()


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


@pytest.fixture
def piece(shop: SimpleNamespace) -> Workpiece:
    return shop.blanks[0]


def to(name: str, piece: Workpiece) -> str:
    return reverse(name, args=[piece.pk])


def test_a_material_is_drawn_and_charged(desk, shop, piece):
    done = send(desk, to("workpiece_use", piece), {"material": str(shop.oil.pk), "amount": "50 g", "code": "finish"})
    assert "50 g of Hard oil went into 41/1." in text(done)
    assert ledger.cost_of(piece.account).all_in == 32 * MONEY


def test_where_the_stores_run_short_what_is_really_there_is_asked_and_it_goes_on(desk, shop, piece):
    url = to("workpiece_use", piece)
    data = {"material": str(shop.oil.pk), "amount": "600 g", "code": "finish"}
    short = send(desk, url, data)
    assert short.status_code == 422 and "How much Hard oil is really there" in text(short)
    done = desk.post(url, {**data, f"there__{shop.oil.pk}": "1 kg", "submission": key_of(short)}, follow=True)
    assert "600 g of Hard oil went into 41/1." in text(done)
    assert stores_queries.material_row(shop.oil.pk, timezone.now().date()).left == 400 * GRAM


def test_every_trap_in_an_amount_is_answered(desk, shop, piece):
    good = {"material": str(shop.oil.pk), "amount": "1 g", "code": "finish"}
    every_trap(desk, to("workpiece_use", piece), good, ("amount", "material", f"there__{shop.oil.pk}"))


def test_a_count_still_too_small_is_undone_with_the_use(desk, shop, piece):
    url = to("workpiece_use", piece)
    data = {"material": str(shop.oil.pk), "amount": "600 g", "code": "finish", f"there__{shop.oil.pk}": "550"}
    refused = send(desk, url, data)
    assert refused.status_code == 422 and "hold 550 g" in text(refused)
    assert stores_queries.material_row(shop.oil.pk, timezone.now().date()).left == 500 * GRAM


def test_what_is_past_its_day_goes_into_a_workpiece_only_when_said_so(desk, shop, piece):
    now = timezone.now()
    wax = stores.add_material(name="Old wax", kind="finish", at=shop.began, by=shop.owner)
    stores.buy(
        material=wax, amount=100 * GRAM, paid_micro=5 * MONEY, use_by=(now - 2 * DAY).date(), at=now - 8 * DAY,
        by=shop.owner,
    )  # fmt: skip
    data = {"material": str(wax.pk), "amount": "20 g", "code": "finish"}
    asked = send(desk, to("workpiece_use", piece), data)
    assert asked.status_code == 422 and 'name="allow_past"' in asked.content.decode()
    assert ledger.cost_of(piece.account).all_in == 30 * MONEY
    done = desk.post(
        to("workpiece_use", piece), {**data, "allow_past": "on", "submission": key_of(asked)}, follow=True
    )
    assert "20 g of Old wax went into 41/1." in text(done)
    assert ledger.cost_of(piece.account).all_in == 31 * MONEY


def test_nothing_is_used_before_it_was_bought(desk, shop, piece):
    wax = stores.add_material(name="New wax", kind="finish", at=shop.began, by=shop.owner)
    stores.buy(material=wax, amount=100 * GRAM, paid_micro=5 * MONEY, at=timezone.now(), by=shop.owner)
    early = (timezone.now() - 2 * DAY).strftime("%Y-%m-%dT%H:%M")
    refused = send(
        desk, to("workpiece_use", piece), {"material": str(wax.pk), "amount": "20 g", "code": "finish", "at": early}
    )
    assert refused.status_code == 422 and "The stores hold none of New wax" in text(refused)
