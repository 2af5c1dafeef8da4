"""Through the bath on screen: dry, drained, baked, and what the wood drank."""

import re
from types import SimpleNamespace

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.stores import operations as stores
from studio.stores.models import Count
from studio.work import queries
from studio.work.models import Stabilizing, StepState
from tests.web.shop import GRAM, KILO, TRAPS, a_shop, an_owner, dried, key_of, send, signed_in, text


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    there = a_shop()
    dried(there, there.blanks[0], 800 * GRAM)
    dried(there, there.blanks[1], 500 * GRAM)
    return there


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


@pytest.fixture
def run(desk: Client, shop: SimpleNamespace) -> Stabilizing:
    first, second = shop.blanks[0].pk, shop.blanks[1].pk
    weights = {f"in_{first}": "on", f"dry_{first}": "800", f"in_{second}": "on", f"dry_{second}": "500"}
    send(desk, reverse("stabilize_start"), {"bath": shop.bath.pk, "cooled": "on", **weights})
    return Stabilizing.objects.get()


def page(desk: Client, run: Stabilizing) -> str:
    return text(desk.get(reverse("stabilizing", args=[run.pk])))


def test_without_bath_or_dry_wood_it_says_what_is_missing(db):
    owner, url = an_owner(), reverse("stabilize_start")
    assert "No bath is started yet" in text(signed_in(owner).get(url))
    resin = stores.add_material(name="Bath resin", kind="stabilizing", at=timezone.now(), by=owner)
    stores.start_bath(name="The jar", material=resin, at=timezone.now(), by=owner)
    assert "Nothing is ready for the bath" in text(signed_in(owner).get(url))


def test_the_last_weighing_is_offered_and_only_what_is_ticked_goes_in(desk, shop):
    url = reverse("stabilize_start")
    html = desk.get(url).content.decode()
    assert f'name="dry_{shop.blanks[0].pk}" value="800"' in html
    pk = shop.blanks[0].pk
    send(desk, url, {"bath": shop.bath.pk, "cooled": "on", f"in_{pk}": "on", f"dry_{pk}": "801"})
    assert [(item.workpiece.number, item.dry_mg) for item in Stabilizing.objects.get().items.all()] == [
        ("41/1", 801 * GRAM)
    ]
    assert "41/1" not in text(desk.get(url)) and "41/2" in text(desk.get(url))


def test_nothing_ticked_or_no_weight_is_told(desk, shop):
    url, pk = reverse("stabilize_start"), shop.blanks[0].pk
    assert "Tick what goes into the bath" in text(send(desk, url, {"bath": shop.bath.pk, "cooled": "on"}))
    answer = send(desk, url, {"bath": shop.bath.pk, "cooled": "on", f"in_{pk}": "on", f"dry_{pk}": ""})
    assert answer.status_code == 422 and "Type its oven-dry weight" in text(answer)
    assert not Stabilizing.objects.exists()


def test_the_bath_gives_what_the_wood_kept_and_the_share_stands_beside_its_bound(desk, shop, run):
    first, second = shop.blanks[0].pk, shop.blanks[1].pk
    drained, baked = reverse("stabilizing_drained", args=[run.pk]), reverse("stabilizing_baked", args=[run.pk])
    send(desk, drained, {f"drained_{first}": "1.5 kg", f"drained_{second}": "0.9 kg"})
    answer = send(desk, baked, {f"baked_{first}": "1.2 kg", f"baked_{second}": "750"})
    shop.bath.account.refresh_from_db()
    assert shop.bath.account.amount == 2 * KILO - 400 * GRAM - 250 * GRAM
    assert "41/1 kept 400 g, 50 % of its dry weight" in text(answer)
    # every hollow of wood of 500 kg/m³: (1 - 0.5 / 1.54) · 1.05 / 0.5 = 141.8 %
    assert "400 g, 50 % 142 % at most" in text(answer)
    assert shop.blanks[0].steps.get(code="stabilize").state == StepState.DONE
    through = text(desk.get(reverse("bath", args=[shop.bath.pk])))
    assert re.search(r"What went through it (workpiece )?41/1 (workpiece )?41/2", through)
    assert "In it now" not in through


def test_more_than_there_is_room_for_is_asked_about(desk, shop, run):
    first, second = shop.blanks[0].pk, shop.blanks[1].pk
    url = reverse("stabilizing_baked", args=[run.pk])
    data = {f"baked_{first}": "1.99 kg", f"baked_{second}": "750"}
    asked = send(desk, url, data)
    assert asked.status_code == 422 and 'name="sure"' in asked.content.decode() and "has room for" in text(asked)
    run.refresh_from_db()
    assert run.ended_at is None
    assert "more than it has room for" in text(send(desk, url, {**data, "sure": "on"}))


def test_lighter_than_it_went_in_is_refused_beside_it(desk, shop, run):
    first, second = shop.blanks[0].pk, shop.blanks[1].pk
    url = reverse("stabilizing_baked", args=[run.pk])
    answer = send(desk, url, {f"baked_{first}": "790", f"baked_{second}": "750"})
    assert answer.status_code == 422 and "41/1 weighs less than when it went in" in text(answer)


def test_a_bath_with_too_little_by_the_books_is_counted_in_place(desk, shop, run):
    stores.throw_away_bath(bath=shop.bath, amount=1_900 * GRAM, why="other", at=run.started_at, by=shop.owner)
    first, second = shop.blanks[0].pk, shop.blanks[1].pk
    url = reverse("stabilizing_baked", args=[run.pk])
    data = {f"baked_{first}": "1.2 kg", f"baked_{second}": "750", "submission": key_of(desk.get(url))}
    short = desk.post(url, data)
    assert short.status_code == 422 and 'name="bath_there"' in short.content.decode()
    assert not Count.objects.exists()
    assert desk.post(url, {**data, "bath_there": "1 kg"}).status_code == 303
    shop.bath.account.refresh_from_db()
    assert shop.bath.account.amount == 350 * GRAM


def test_finished_twice_is_one_entry(desk, shop, run):
    first, second = shop.blanks[0].pk, shop.blanks[1].pk
    url = reverse("stabilizing_baked", args=[run.pk])
    data = {f"baked_{first}": "1.2 kg", f"baked_{second}": "750", "submission": key_of(desk.get(url))}
    assert [desk.post(url, data).status_code for _ in range(2)] == [303, 303]
    shop.bath.account.refresh_from_db()
    assert shop.bath.account.amount == 1_350 * GRAM
    again = send(desk, url, {f"baked_{first}": "1.2 kg", f"baked_{second}": "750"})
    assert again.status_code == 422 and "finished already" in text(again)


@pytest.mark.parametrize("trap", TRAPS)
def test_no_trap_is_a_fault(desk, shop, trap):
    url, pk = reverse("stabilize_start"), shop.blanks[0].pk
    for name in ("bath", f"dry_{pk}", "at"):
        good = {"bath": shop.bath.pk, "cooled": "on", f"in_{pk}": "on", f"dry_{pk}": "800"}
        assert send(desk, url, {**good, name: trap}, follow=False).status_code in (303, 422), name
        if Stabilizing.objects.exists():
            break


def test_what_lies_in_a_bath_is_not_offered_again(desk, shop, run):
    assert queries.ready_to_soak() == []
    assert "41/1" in page(desk, run) and "Weigh them" in page(desk, run)
