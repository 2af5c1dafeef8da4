"""Wood on screen: three figures at the truck, the rest at the desk."""

import re
from types import SimpleNamespace

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from studio.ledger import queries as ledger
from studio.ledger.accounts import Component
from studio.ledger.queries import newest_entry_id
from studio.people.models import Supplier
from studio.wood.models import Purchase, Species
from studio.work import operations as work
from studio.work.models import Workpiece
from tests.web.shop import (
    HOUR,
    KILO,
    MONEY,
    TRAPS,
    a_shop,
    an_owner,
    every_trap,
    key_of,
    of_role,
    send,
    signed_in,
    text,
)
from tests.web.test_bench_deeds import picture


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    return a_shop()


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


@pytest.fixture
def guest(shop: SimpleNamespace) -> Client:
    return signed_in(of_role(shop.owner, "visitor"))


@pytest.fixture
def purchase(shop: SimpleNamespace) -> Purchase:
    return shop.blanks[0].purchase


BOUGHT = {"number": "42", "mass": "6.4 kg", "how": "bought", "paid": "80", "waxed": "unknown"}


def test_wood_sold_as_dry_says_what_a_yard_means_by_that_until_its_weights_tell_more(desk, shop):
    """8 to 12 % is common practice, no source."""
    send(desk, reverse("wood_take_in"), {**BOUGHT, "sold_dry": "on"})
    lump = Workpiece.objects.get(number="42")
    assert lump.purchase.sold_dry
    here = reverse("workpiece", args=[lump.pk])
    assert "sold as dry. A yard’s dry wood holds 8 to 12 % of water" in text(desk.get(here))
    send(desk, reverse("purchase", args=[lump.purchase_id]), {"waxed": "no"})
    assert "sold as dry" not in text(desk.get(here))


# taking in


def test_an_empty_shed_says_what_is_asked_at_the_truck(db):
    assert "No wood yet" in text(signed_in(an_owner()).get(reverse("wood")))


def test_at_the_truck_a_number_a_weight_and_a_price_are_enough(desk):
    page = desk.get(reverse("wood_take_in"))
    assert 'value="42"' in page.content.decode()
    done = send(desk, reverse("wood_take_in"), BOUGHT)
    assert "Lump 42 is in." in text(done)
    lump = Workpiece.objects.get(number="42")
    assert ledger.cost_of(lump.account).parts == {Component.WOOD: 80 * MONEY}
    assert lump.weighings.get().mass_mg == 6_400_000


def test_a_lump_sent_twice_comes_in_once(desk):
    url = reverse("wood_take_in")
    data = {**BOUGHT, "submission": key_of(desk.get(url))}
    before = newest_entry_id()
    assert [desk.post(url, data).status_code for _ in range(2)] == [303, 303]
    assert newest_entry_id() == before + 1 and Workpiece.objects.filter(number="42").count() == 1


def test_its_photograph_stays_when_another_figure_was_wrong(desk):
    url = reverse("wood_take_in")
    wrong = send(desk, url, {**BOUGHT, "mass": "heavy", "photo": picture()})
    assert wrong.status_code == 422 and "Your photograph is kept" in text(wrong)
    kept = re.search(r'name="photo_kept" value="([0-9a-f]{32})"', wrong.content.decode())[1]
    done = desk.post(url, {**BOUGHT, "photo_kept": kept, "submission": key_of(wrong)}, follow=True)
    assert Purchase.objects.get(workpieces__number="42").pictures.count() == 1
    address = re.search(r'src="([^"]+small.jpg)"', done.content.decode())[1]
    shown = desk.get(address)
    assert shown["Content-Type"] == "image/jpeg" and b"".join(shown.streaming_content)[:3] == b"\xff\xd8\xff"
    assert Client().get(address).status_code == 302


def test_wood_given_to_us_comes_in_at_what_it_would_have_cost(desk):
    given = {**BOUGHT, "how": "gift", "paid": "", "market_value": "60", "carriage": "5"}
    send(desk, reverse("wood_take_in"), given)
    lump = Workpiece.objects.get(number="42")
    assert ledger.cost_of(lump.account).parts == {Component.WOOD: 5 * MONEY, Component.GIVEN_WOOD: 60 * MONEY}


def test_a_gift_that_cost_something_is_refused_beside_the_price(desk):
    answer = send(desk, reverse("wood_take_in"), {**BOUGHT, "how": "gift"})
    assert answer.status_code == 422 and "Wood that was given or found cost nothing." in text(answer)
    assert 'value="80"' in answer.content.decode() and not Workpiece.objects.filter(number="42").exists()


def test_every_trap_at_the_truck_is_answered(desk):
    names = ("mass", "paid", "carriage", "market_value", "where_it_stood", "title", "species", "at")
    for n, name in enumerate(names):
        for m, trap in enumerate(TRAPS):
            data = {**BOUGHT, "number": f"9{n}{m}", name: trap}
            answer = send(desk, reverse("wood_take_in"), data, follow=False)
            assert answer.status_code in (303, 422), (name, trap)


def test_every_trap_in_a_lumps_number_is_answered(desk):
    every_trap(desk, reverse("wood_take_in"), BOUGHT, ("number", "how"))


def test_a_clients_own_wood_has_no_value_and_its_owner(desk):
    done = send(desk, reverse("wood_take_in_client"), {"new_client": "Ada Fell", "number": "42", "mass": "3 kg"})
    assert "Lump 42 of Ada Fell is in." in text(done)
    lump = Workpiece.objects.get(number="42")
    assert (lump.client_owned, ledger.cost_of(lump.account).all_in) == (True, 0)
    again = {"client": str(lump.owner_id), "number": "43"}
    assert "Lump 43 of Ada Fell" in text(send(desk, reverse("wood_take_in_client"), again))


@pytest.mark.parametrize("whose", [{}, {"client": "x"}])
def test_a_clients_own_wood_wants_its_client(desk, whose):
    assert send(desk, reverse("wood_take_in_client"), {"number": "42", **whose}).status_code == 422


def test_a_visitor_may_not_take_wood_in(guest):
    for name in ("wood_take_in", "wood_take_in_client", "species_add"):
        assert (guest.get(reverse(name)).status_code, guest.post(reverse(name)).status_code) == (403, 403)


# the list


def test_the_list_says_what_became_of_each_lump(desk, shop):
    work.it_broke(workpiece=shop.blanks[0], cause="void", at=timezone.now() - HOUR, by=shop.owner)
    work.take_in_lump(number="42", mass_mg=KILO, at=shop.began, by=shop.owner)
    said = text(desk.get(reverse("wood")))
    assert "three blanks: two still here 70.00" in said and "not named yet – 1000 g whole 0.00" in said


@pytest.mark.parametrize(
    ("query", "shown"),
    [
        ("?stands=whole", ["42"]),
        ("?stands=begun", ["41"]),
        ("?stands=gone", []),
        ("?kind=burr", ["42"]),
        ("?q=ash", ["41"]),
        ("?rest=waits", ["41", "42"]),
        ("?sort=-number", ["42", "41"]),
        ("?sort=lies_micro", ["42", "41"]),
    ],
)
def test_each_filter_has_an_address(desk, shop, query, shown):
    work.take_in_lump(number="42", mass_mg=KILO, kind="burr", at=shop.began, by=shop.owner)
    html = desk.get(reverse("wood") + query).content.decode()
    assert re.findall(r'<td role="cell"[^>]*data-label="Lump"[^>]*>.*?</span>([^<]+)</a>', html) == shown


@pytest.mark.parametrize(
    "query", ["?species=x", "?sort=purchase__paid_micro", "?page=-1", "?q=%00", "?q=" + "я" * 400]
)
def test_a_strange_address_is_still_a_list(desk, shop, query):
    assert desk.get(reverse("wood") + query).status_code == 200
    assert desk.get(reverse("species_list") + query).status_code == 200


def test_a_visitor_sees_no_cost_of_wood(guest, desk, shop, purchase):
    assert "100.00" in text(desk.get(reverse("wood")))
    for url in (reverse("wood"), reverse("wood") + "?sort=lies_micro", reverse("purchase", args=[purchase.pk])):
        with CaptureQueriesContext(connection) as caught:
            said = text(guest.get(url))
        assert "100.00" not in said and "ash" in said
        assert not any("paid_micro" in one["sql"] or "value_micro" in one["sql"] for one in caught)


# the purchase


def test_the_rest_is_filled_in_and_handed_down_to_what_was_cut(desk, shop):
    lump = work.take_in_lump(number="42", mass_mg=KILO, at=shop.began, by=shop.owner)
    (blank,) = work.cut(parent=lump, blanks=[work.BlankSpec(weight=1)], at=shop.began, by=shop.owner)
    url = reverse("purchase", args=[lump.purchase_id])
    assert "What wood it is" in text(desk.get(url))
    done = send(
        desk, url,
        {
            "species": str(shop.ash.pk), "species_certainty": "likely", "kind": "burr", "country": "IE",
            "where_it_stood": "the old weir", "new_supplier": "Brae sawyers", "waxed": "yes",
        },
    )  # fmt: skip
    assert "Nothing of it is open any more." in text(done)
    blank.refresh_from_db()
    assert (blank.species, blank.wood_kind) == (shop.ash, "burr")
    assert Supplier.objects.get().name == "Brae sawyers"
    assert "Field ash burr" in text(desk.get(reverse("workpiece", args=[blank.pk])))
    assert "42/1" in text(desk.get(reverse("bench") + "?q=ash+42"))


def test_a_blank_that_was_named_by_itself_keeps_its_name(desk, shop):
    lump = work.take_in_lump(number="42", mass_mg=KILO, at=shop.began, by=shop.owner)
    (blank,) = work.cut(parent=lump, blanks=[work.BlankSpec(weight=1)], at=shop.began, by=shop.owner)
    other = Species.objects.exclude(pk=shop.ash.pk).first()
    work.describe(workpiece=blank, species=other)
    send(desk, reverse("purchase", args=[lump.purchase_id]), {"species": str(shop.ash.pk), "waxed": "no"})
    blank.refresh_from_db()
    assert blank.species == other


def test_every_trap_in_the_rest_is_answered(desk, purchase):
    names = ("where_it_stood", "country", "species", "new_supplier", "document_note", "waxed")
    every_trap(desk, reverse("purchase", args=[purchase.pk]), {"waxed": "no"}, names)


def test_a_visitor_reads_a_purchase_without_who_sold_it(desk, guest, purchase):
    url = reverse("purchase", args=[purchase.pk])
    send(desk, url, {"new_supplier": "Brae sawyers", "waxed": "no"})
    assert "Brae sawyers" in text(desk.get(url))
    page = guest.get(url)
    assert page.status_code == 200 and "Brae" not in page.content.decode() and "<form" not in text(page)
    assert guest.post(url, {"waxed": "no"}).status_code == 403


def test_a_later_bill_is_shared_by_what_was_cut(desk, shop, purchase):
    send(desk, reverse("purchase_bill", args=[purchase.pk]), {"what": "sawing", "amount": "10"})
    assert [ledger.cost_of(piece.account).all_in for piece in shop.blanks] == [33 * MONEY, 22 * MONEY, 55 * MONEY]
    assert "sawing" in text(desk.get(reverse("purchase", args=[purchase.pk])))


def test_every_trap_in_a_bill_is_answered(desk, purchase):
    url = reverse("purchase_bill", args=[purchase.pk])
    every_trap(desk, url, {"what": "sawing", "amount": "10"}, ("what", "amount", "at"))


# kinds of wood


def test_each_figure_says_what_it_stands_on_and_where_it_is_from(desk):
    row = Species.objects.exclude(density_source="").filter(own=False).first()
    said = text(desk.get(reverse("species", args=[row.pk])))
    assert row.density_source in said and str(row.get_density_basis_display()) in said


def test_dust_and_protection_stand_in_the_danger_box(desk):
    row = Species.objects.exclude(protected_note="").first()
    html = desk.get(reverse("species", args=[row.pk])).content.decode()
    assert 'class="danger"' in html and "Protected?" in html


def test_a_wood_of_our_own_is_added_and_changed(desk):
    new = {
        "common_name": "Strandkiefer Ж", "density_kgm3": "0.53 g/ml", "density_basis": "green",
        "density_source": "our scale", "stabilizing": "always",
    }  # fmt: skip
    assert "is among the woods" in text(send(desk, reverse("species_add"), new))
    row = Species.objects.get(common_name="Strandkiefer Ж")
    assert (row.density_kgm3, row.own) == (530, True)
    send(desk, reverse("species_change", args=[row.pk]), {**new, "oily": "on"})
    row.refresh_from_db()
    assert row.oily
    assert "Strandkiefer Ж" in text(desk.get(reverse("species_list") + "?q=STRANDKIEFER"))


def test_a_density_without_its_basis_is_asked_about(desk):
    half = {"common_name": "X", "density_kgm3": "530 kg/m3", "stabilizing": "never"}
    answer = send(desk, reverse("species_add"), half)
    assert answer.status_code == 422 and "Say what the density stands on" in text(answer)


def test_figures_of_a_named_source_are_not_ours_to_change(desk):
    row = Species.objects.filter(own=False).first()
    url = reverse("species_change", args=[row.pk])
    assert 'name="density_kgm3"' not in desk.get(url).content.decode()
    was = row.density_kgm3
    send(desk, url, {"stabilizing": "never", "density_kgm3": "1 g/ml", "practice_note": "ours"})
    row.refresh_from_db()
    assert (row.density_kgm3, row.practice_note) == (was, "ours")


def test_every_trap_in_a_wood_is_answered(desk):
    good = {"common_name": "A wood", "stabilizing": "never"}
    names = ("density_kgm3", "shrinkage_ppm", "common_name", "dust_note", "stabilizing")
    every_trap(desk, reverse("species_add"), good, names)
