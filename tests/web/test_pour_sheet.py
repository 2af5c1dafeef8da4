"""The mix sheet by its plan: whatever the scale's screens say stands on the paper too."""

import re
from io import BytesIO
from types import SimpleNamespace

import pytest
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from studio.people import operations as people
from studio.stores import operations as stores
from tests.web.pour_shop import a_pour_shop, at, plan
from tests.web.shop import GRAM, MONEY, signed_in, text


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    there = a_pour_shop()
    there.red = stores.add_material(name="Brick red", kind="colorant", by=there.owner, at=there.began)
    stores.buy(material=there.red, amount=20 * GRAM, paid_micro=7 * MONEY, by=there.owner, at=there.began)
    return there


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


def tell(shop: SimpleNamespace, **answers: int) -> None:
    for key, value in answers.items():
        people.set_setting(key=key, value=value, by=shop.owner, at=timezone.now())


def paper(desk: Client, query: dict[str, object]) -> str:
    answer = desk.get(at("pour_sheet", query))
    assert answer["Content-Type"] == "application/pdf"
    (page,) = PdfReader(BytesIO(answer.content)).pages
    return " ".join(page.extract_text().replace("\u00a0", " ").split())


def swirled(shop: SimpleNamespace, **more: object) -> dict[str, object]:
    """Two percent of blue in 440 g, and a tenth of the mix with red for the first mould."""
    return plan(shop, colorant=shop.blue.pk, share="2", cups=1, takes_0="10", colour_0_0=shop.red.pk,
                strength_0_0="0.5", **more)  # fmt: skip


def test_cups_for_swirls_stand_on_the_paper_with_their_window(shop, desk):
    stores.change_resin_system(system=shop.resin, at=timezone.now(), work_time_mass_mg=900 * GRAM)
    screen, said = text(desk.get(at("pour_plan", swirled(shop)))), paper(desk, swirled(shop))
    assert "Swirl cup 1: 44 g of the mix, 0.2 g of Brick red" in screen
    assert "Swirl cup 1: 44 g of the mix" in said and "Brick red 0.2 g" in said
    window = "not before 10 min and not after 20 min from when A meets B"
    assert window in screen and window in said


def test_several_cups_have_each_the_figures_of_the_scale(shop, desk):
    tell(shop, scale_most_mg=200 * GRAM)
    said = paper(desk, swirled(shop))
    for cup in ("1", "2", "3"):
        screen = text(desk.get(at("pour_mix", swirled(shop, step="a", cup=cup))))
        shown = re.search(r"Cup done 0 A (\S+) Colour (\S+) B (\S+)", screen)
        assert shown, screen
        assert f"Cup {cup} of 3" in screen and f"Cup {cup}" in said
        a, colour, b = shown.groups()
        assert f"{a} g" in said and f"{round(float(colour) - float(a), 1):g} g" in said and f"{b} g" in said
    assert "put in as much of Part B as of Part A" in said


def test_the_paper_has_the_work_time_of_the_screen_for_this_warmth_and_mass(shop, desk):
    stores.change_resin_system(
        system=shop.resin, at=timezone.now(), work_time_at_mdegc=25_000, work_time_mass_mg=500 * GRAM
    )
    tell(shop, pot_fill_s=240)
    query = plan(shop, warmth="15 °C")
    assert "40 min for 440 g: lid shut within 36 min" in text(desk.get(at("pour_plan", query)))
    said = paper(desk, query)
    assert "In the mould by (40 min for 440 g)" in said and "Lid shut at (within 36 min)" in said
    assert "20 min" not in said


def test_an_unknown_work_time_is_unknown_on_paper_too(shop, desk):
    assert "(at most 20 min: unknown for 440 g)" in paper(desk, plan(shop))
