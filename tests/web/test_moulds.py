"""A mould's outside, the tube, and what was planned for it against what it took."""

from types import SimpleNamespace

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.equipment.models import Mould
from studio.work import operations as work
from studio.work.models import Pour, Stabilizing
from studio.work.queries.pour_allowed import past_pours
from tests.web.pour_shop import a_pour_shop, at, plan
from tests.web.shop import GRAM, every_trap, send, signed_in, text


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    return a_pour_shop()


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


def test_a_tube_is_reckoned_as_a_round_one_and_keeps_its_outside(desk, shop):
    send(desk, reverse("mould_add") + "?shape=tube", {
        "name": "Drain pipe", "diameter_um": "100", "height_um": "200", "outside_diameter_um": "110",
        "outside_height_um": "205",
    })  # fmt: skip
    row = Mould.objects.get(name="Drain pipe")
    assert (row.outside_diameter_um, row.outside_height_um) == (110_000, 205_000)
    page = text(desk.get(reverse("mould_poured", args=[row.pk])))
    assert "Outside 110 mm across, 205 mm high." in page and "Nothing was poured into it yet." in page
    assert "It holds 1570.8 ml." in page


def test_no_trap_in_an_outside_is_a_fault_and_none_is_kept_as_it_was(desk, shop):
    url = reverse("mould_change", args=[shop.mould.pk])
    good = {"name": "Long box", "length_um": "200", "width_um": "100", "height_um": "100"}
    every_trap(desk, url, good, ("outside_length_um", "outside_width_um", "outside_height_um"))
    refused = send(desk, url, {**good, "outside_height_um": "0.5"})
    assert refused.status_code == 422 and "between 1 mm and 5 m" in text(refused)


def test_an_unmeasured_outside_says_so_and_the_last_pours_stand_below(desk, shop):
    send(desk, at("pour_book", plan(shop)), {"poured_a": "220", "poured_b": "220"})
    pour = Pour.objects.get()
    work.demould(pour=pour, at=timezone.now(), by=shop.owner, early=True, weights={shop.blanks[0].pk: 1_195 * GRAM})
    page = text(desk.get(reverse("mould_poured", args=[shop.mould.pk])))
    assert "nobody can say whether a pot takes it" in page
    assert "400 g" in page and "440 g" in page and "395 g" in page


def out_of_it(shop: SimpleNamespace, weighs_mg: int) -> None:
    weights = {shop.blanks[0].pk: weighs_mg}
    work.demould(pour=Pour.objects.get(), at=timezone.now(), by=shop.owner, early=True, weights=weights)


def test_a_seal_coat_is_no_part_of_what_the_pour_took(desk, shop):
    """20 g of coat stand on the casting's weight: without it 395 g went in, where 400 were reckoned."""
    now = timezone.now()
    work.seal_coat(
        mould=shop.mould, blanks=[shop.blanks[0]], resin=shop.resin, mass_mg=20 * GRAM, at=now, now=now, by=shop.owner
    )
    send(desk, at("pour_book", plan(shop)), {"poured_a": "220", "poured_b": "220"})
    out_of_it(shop, 1_215 * GRAM)
    ((reckoned, needed),) = [(past.reckoned_mg, past.needed_mg) for past in past_pours()]
    assert (reckoned, needed) == (400 * GRAM, (395 + 12) * GRAM)
    assert "395 g" in text(desk.get(reverse("mould_poured", args=[shop.mould.pk])))


def test_of_stabilized_wood_nobody_can_say_what_the_pour_took(desk, shop):
    send(desk, at("pour_book", plan(shop)), {"poured_a": "220", "poured_b": "220"})
    out_of_it(shop, 1_395 * GRAM)
    page = reverse("mould_poured", args=[shop.mould.pk])
    assert "595 g" in text(desk.get(page))
    soaked = Stabilizing.objects.create(bath=shop.bath, started_at=shop.began)
    soaked.items.create(workpiece=shop.blanks[0], dry_mg=800 * GRAM, baked_mg=1000 * GRAM)
    assert "595 g" not in text(desk.get(page))


def test_a_mould_that_is_not_there_is_not_found(desk):
    assert desk.get(reverse("mould_poured", args=[99])).status_code == 404
