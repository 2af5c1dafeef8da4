"""It broke: four taps, no typing; looked after later; taken back when it was a slip of the thumb."""

import re
from types import SimpleNamespace

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.ledger import queries as ledger
from studio.work import operations as work
from studio.work.models import Cause, Loss, Workpiece
from tests.web.shop import GRAM, HOUR, MONEY, a_shop, every_trap, key_of, of_role, send, signed_in, text
from tests.web.test_bench_deeds import picture


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    return a_shop()


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


@pytest.fixture
def piece(shop: SimpleNamespace) -> Workpiece:
    return shop.blanks[0]


@pytest.fixture
def loss(shop: SimpleNamespace, piece: Workpiece) -> Loss:
    return work.it_broke(workpiece=piece, cause="catch", at=timezone.now() - HOUR, by=shop.owner)


def test_from_the_round_it_takes_three_taps_and_no_typing(desk, piece):
    page = desk.get(reverse("round"))
    first = reverse("workpiece", args=[piece.pk])
    assert f'href="{first}"' in page.content.decode()
    page = desk.get(first)
    second = re.search(r'href="([^"]+)">It broke<', page.content.decode())[1]
    page = desk.get(second)
    html = page.content.decode().split("<main")[1]
    assert re.findall(r"<(?:input|textarea|select)[^>]*>", html.replace('type="hidden"', "hidden")) == re.findall(
        r"<input hidden[^>]*>", html.replace('type="hidden"', "hidden")
    )
    for value, _ in Cause.choices:
        assert f'name="cause" value="{value}"' in html
    done = desk.post(second, {"cause": "catch", "submission": key_of(page)}, follow=True)
    assert "41/1 is off the bench. Catch or blow-out" in text(done)
    assert Loss.objects.get().step == "clean"


def test_it_breaks_once_however_often_it_is_pressed(desk, piece):
    url = reverse("workpiece_broke", args=[piece.pk])
    data = {"cause": "void", "submission": key_of(desk.get(url))}
    assert [desk.post(url, data).status_code for _ in range(3)] == [303, 303, 303]
    assert Loss.objects.count() == 1 and ledger.pool_sums()["loss_expected"] == 30 * MONEY


def test_a_second_form_for_what_is_lost_already_is_refused(desk, piece, loss):
    answer = send(desk, reverse("workpiece_broke", args=[piece.pk]), {"cause": "void"})
    assert answer.status_code == 422 and "41/1 is no longer on the bench: it was lost" in text(answer)


@pytest.mark.parametrize("cause", ["", "bad luck", "<b>x</b>"])
def test_no_cause_is_no_loss(desk, piece, cause):
    assert send(desk, reverse("workpiece_broke", args=[piece.pk]), {"cause": cause}).status_code == 422
    assert not Loss.objects.exists()


def test_the_loss_says_what_it_had_cost_only_to_those_who_may_know(desk, shop, loss):
    url = reverse("loss", args=[loss.pk])
    assert "It had cost 30.00 EUR all in" in text(desk.get(url)) and "While cleaning" in text(desk.get(url))
    guest = signed_in(of_role(shop.owner, "visitor"))
    assert "30.00" not in text(guest.get(url)) and "Photograph it" not in text(guest.get(url))


def test_it_can_be_taken_back_by_the_word_beside_what_was_said(desk, piece):
    done = send(desk, reverse("workpiece_broke", args=[piece.pk]), {"cause": "void"})
    back = re.search(r'action="([^"]+take-back/)"', done.content.decode())[1]
    said = desk.post(back, {"submission": key_of(done)}, follow=True)
    assert "lies on the bench again" in text(said)
    piece.refresh_from_db()
    assert piece.closed_at is None and ledger.cost_of(piece.account).all_in == 30 * MONEY


def test_a_loss_is_photographed(desk, loss):
    done = send(desk, reverse("loss_picture", args=[loss.pk]), {"photo": picture()})
    assert loss.pictures.count() == 1 and "Another photograph" in text(done)


def test_what_is_saved_carries_wood_by_the_grams_kept(desk, loss):
    url = reverse("loss_salvage", args=[loss.pk])
    assert 'value="3000"' in desk.get(url).content.decode()
    done = send(desk, url, {"kept_wood": "1000", "wood_was": "3000"})
    assert "saved from 41/1" in text(done)
    saved = Workpiece.objects.get(number="41/1b")
    assert ledger.cost_of(saved.account).all_in == 10 * MONEY
    assert "Saved from it 41/1b 33.33 % of its weight" in text(desk.get(reverse("loss", args=[loss.pk])))


def test_no_more_is_saved_than_there_was(desk, loss):
    answer = send(desk, reverse("loss_salvage", args=[loss.pk]), {"kept_wood": "3100", "wood_was": "3000"})
    assert answer.status_code == 422 and "No more can be kept than there was." in text(answer)


def test_every_trap_in_a_salvage_is_answered(desk, loss):
    good = {"kept_wood": "10", "wood_was": "3000"}
    names = ("kept_wood", "wood_was", "kept_resin", "like_blank")
    every_trap(desk, reverse("loss_salvage", args=[loss.pk]), good, names)


def test_nothing_to_save_takes_it_off_the_round_with_words_for_next_time(desk, loss):
    send(desk, reverse("loss_seen_to", args=[loss.pk]), {"words": "blunt tool <b>x</b> 'Ж'"})
    loss.refresh_from_db()
    assert loss.looked_after and loss.words.startswith("blunt tool")
    html = desk.get(reverse("loss", args=[loss.pk])).content.decode()
    assert "<b>x</b>" not in html and "Ж" in html


def test_a_casting_offers_to_save_its_resin_too(desk, shop):
    block = work.pour(
        wood_sure=True,
        system=shop.resin, fills=[work.Fill(planned_mg=400 * GRAM)], planned_a_mg=200 * GRAM,
        planned_b_mg=200 * GRAM, poured_a_mg=200 * GRAM, poured_b_mg=200 * GRAM, at=timezone.now() - HOUR,
        by=shop.owner,
    ).fills.get().casting  # fmt: skip
    lost = work.it_broke(workpiece=block, cause="void", at=timezone.now(), by=shop.owner)
    html = desk.get(reverse("loss_salvage", args=[lost.pk])).content.decode()
    assert 'name="resin_was" value="400"' in html
