"""Machines and moulds on screen: what a pot may take, what an hour costs, and who may say so."""

from types import SimpleNamespace

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.equipment import operations as equipment
from studio.equipment.models import Machine, Mould
from tests.web.shop import BAR, a_shop, an_owner, every_trap, key_of, of_role, send, signed_in, text


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    return a_shop()


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


def test_an_empty_studio_is_told_to_name_its_oven(db):
    client = signed_in(an_owner())
    assert "Name your oven" in text(client.get(reverse("equipment")))
    assert "Measure a mould" in text(client.get(reverse("moulds")))


def test_an_hour_of_a_machine_is_told_to_those_who_see_costs(desk, shop):
    url = reverse("machine", args=[shop.oven.pk])
    page = text(desk.get(url))
    assert "Power for an hour 0.300" in page and "Wear for an hour 0.100" in page
    page = text(signed_in(of_role(shop.owner, "visitor")).get(url))
    assert "for an hour" not in page and "0.300" not in page
    assert "0.300" in text(desk.get(reverse("equipment")))


def test_only_what_concerns_the_kind_is_asked(desk, shop):
    pot = desk.get(reverse("machine_add") + "?kind=pressure_pot").content.decode()
    oven = desk.get(reverse("machine_add") + "?kind=oven").content.decode()
    assert 'name="certified_pa"' in pot and 'name="highest_mdegc"' not in pot
    assert 'name="certified_pa"' not in oven and 'name="highest_mdegc"' in oven


def test_a_machine_is_added_changed_retired_and_brought_back(desk, shop):
    url = reverse("machine_add") + "?kind=lathe"
    figures = {"power_w": "1.5 kW", "duty_ppm": "50", "price_micro": "900", "life_s": "9000"}
    send(desk, url, {"name": "The long bed", **figures})
    lathe = Machine.objects.get(name="The long bed")
    assert (lathe.power_w, lathe.duty_ppm, lathe.life_s) == (1500, 500_000, 9000 * 3600)
    send(desk, reverse("machine_change", args=[lathe.pk]), {"name": "The short bed", "duty_ppm": "40"})
    lathe.refresh_from_db()
    assert (lathe.name, lathe.duty_ppm, lathe.power_w) == ("The short bed", 400_000, None)
    send(desk, reverse("machine_retire", args=[lathe.pk]), {})
    assert "The short bed" not in text(desk.get(reverse("equipment")))
    assert "The short bed" in text(desk.get(reverse("equipment") + "?retired=1"))
    send(desk, reverse("machine_bring_back", args=[lathe.pk]), {})
    lathe.refresh_from_db()
    assert lathe.retired_on is None


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"certified_pa": None}, "No certified maximum is known for this pot"),
        ({"relief_pa": None}, "This pot has no relief valve"),
        ({"unaltered": "no"}, "This pot was altered"),
        ({"unaltered": "unknown"}, "Nobody has said yet whether this pot is as it left its maker"),
    ],
)
def test_a_pot_that_takes_no_load_says_why_on_every_page_about_it(desk, shop, changed, sentence):
    equipment.change_machine(machine=shop.pot, by=shop.owner, at=timezone.now(), **changed)
    for url in (
        reverse("machine", args=[shop.pot.pk]),
        reverse("equipment"),
        reverse("load_start") + f"?machine={shop.pot.pk}",
    ):
        assert sentence in text(desk.get(url)), url
    assert "Usual" not in text(desk.get(reverse("machine", args=[shop.pot.pk])))


def test_usual_pressures_never_stand_beside_a_lower_plate(desk, shop):
    pages = [reverse("machine", args=[shop.pot.pk]), reverse("load_start") + f"?machine={shop.pot.pk}"]
    assert all("2.76 bar to 4.14 bar" in text(desk.get(url)) for url in pages)
    equipment.change_machine(machine=shop.pot, certified_pa=4 * BAR, by=shop.owner, at=timezone.now())
    assert not any("2.76 bar" in text(desk.get(url)) or "4.14 bar" in text(desk.get(url)) for url in pages)


def test_a_mould_is_measured_and_says_what_it_holds(desk, shop):
    answer = send(
        desk, reverse("mould_add") + "?shape=tapered",
        {"name": "The pail", "diameter_um": "180 mm", "top_diameter_um": "200 mm", "height_um": "190"},
    )  # fmt: skip
    assert "The pail holds 5392.4 ml" in text(answer) or "The pail holds 539" in text(answer)
    pail = Mould.objects.get(name="The pail")
    answer = send(
        desk, reverse("mould_change", args=[pail.pk]),
        {"name": "The pail", "diameter_um": "180", "top_diameter_um": "200", "height_um": "190", "fill_mm3": "5 l"},
    )  # fmt: skip
    assert "holds 5000 ml" in text(answer)
    send(desk, reverse("mould_retire", args=[pail.pk]), {})
    assert "The pail" not in text(desk.get(reverse("moulds")))


def test_the_same_form_twice_names_one_machine(desk, shop):
    url = reverse("machine_add") + "?kind=scale"
    data = {"name": "Bench scale", "step_mg": "1", "submission": key_of(desk.get(url))}
    assert [desk.post(url, data).status_code for _ in range(2)] == [303, 303]
    assert Machine.objects.filter(name="Bench scale").count() == 1


def test_every_trap_in_a_machine_and_a_mould_is_answered(desk, shop):
    every_trap(
        desk, reverse("machine_add") + "?kind=pressure_pot", {"name": "Trap pot"},
        ("name", "certified_pa", "unaltered", "last_inspected_on", "inside_diameter_um", "price_micro", "life_s"),
    )  # fmt: skip
    every_trap(
        desk, reverse("mould_add") + "?shape=round", {"name": "Trap mould", "diameter_um": "90", "height_um": "40"},
        ("name", "diameter_um", "height_um", "fill_mm3", "note"),
    )  # fmt: skip


@pytest.mark.parametrize("query", ["?kind=nonsense", "?shape=nonsense", "?machine=99999", "?machine=x", "?page=zz"])
def test_a_strange_address_is_answered(desk, shop, query):
    for name in ("equipment", "machine_add", "moulds", "mould_add", "load_start"):
        assert desk.get(reverse(name) + query).status_code == 200


def test_a_compressors_air_is_typed_by_the_minute(desk, shop):
    send(
        desk,
        reverse("machine_add") + "?kind=compressor",
        {"name": "The pump", "delivery_mm3_s": "100", "duty_ppm": "50"},
    )
    pump = Machine.objects.get(name="The pump")
    assert pump.delivery_mm3_s == 1_666_667
    assert "Free air in a minute 100 l" in text(desk.get(reverse("machine", args=[pump.pk])))
    url = reverse("machine_change", args=[pump.pk])
    assert desk.get(url).context["form"]["delivery_mm3_s"].value() == "100"
    for wrong, says in (("0", "free air it delivers"), ("-1", "above"), ("many", "read")):
        answer = send(desk, url, {"name": "The pump", "delivery_mm3_s": wrong, "duty_ppm": "50"})
        assert answer.status_code == 422, wrong
        assert f'value="{wrong}"' in answer.content.decode(), says
    pump.refresh_from_db()
    assert pump.delivery_mm3_s == 1_666_667
