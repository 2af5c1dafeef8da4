"""Taking mistyped hours back from the page of the workpiece, and who may."""

import pytest
from django.urls import reverse
from django.utils import timezone

from studio.ledger import queries as ledger
from studio.people import operations as people
from studio.work import operations as work
from studio.work.models import ClockRun

from .shop import HOUR, MONEY, a_shop, key_of, of_role, send, signed_in, text


@pytest.fixture
def shop(db):
    return a_shop()


def book(shop, person, seconds=5400):
    return work.add_hours(
        person=person, workpieces=[shop.blanks[0]], code="clean", seconds=seconds, at=timezone.now() - HOUR, by=person
    )


def page_of(client, shop):
    return text(client.get(reverse("workpiece", args=[shop.blanks[0].pk])))


def test_hours_are_taken_back_from_the_list_on_the_page(shop):
    desk = signed_in(shop.owner)
    piece = shop.blanks[0]
    url = reverse("workpiece_hours", args=[piece.pk])
    said = send(desk, url, {"code": "clean", "worked": "600"})
    run = ClockRun.objects.get()
    back = reverse("hours_take_back", args=[run.pk])
    assert f'href="{back}"' in said.content.decode() and f'action="{back}"' in said.content.decode()
    assert "10 h on 41/1, clean, of Ilse Brand" in text(desk.get(back))
    answer = send(desk, back, {})
    assert "Taken back: 10 h on 41/1" in text(answer) and "taken back" in page_of(desk, shop)
    assert back not in answer.content.decode()
    assert ledger.cost_of(piece.account).all_in == 30 * MONEY


def test_the_same_hours_taken_back_from_two_tabs_come_off_once(shop):
    desk = signed_in(shop.owner)
    url = reverse("hours_take_back", args=[book(shop, shop.owner).pk])
    keys = [key_of(desk.get(url)) for _ in range(2)]
    answers = [desk.post(url, {"submission": key}) for key in keys]
    assert [answer.status_code for answer in answers] == [303, 422]
    assert "taken back before" in text(answers[1])


def test_a_maker_takes_back_own_hours_and_the_owner_all(shop):
    maker = of_role(shop.owner, "maker")
    people.set_wage(
        person=maker, rate_micro=20 * MONEY, paid=True, from_on=shop.began.date(), by=shop.owner, at=shop.began
    )
    own, others = book(shop, maker), book(shop, shop.owner)
    bench = signed_in(maker)
    page = bench.get(reverse("workpiece", args=[shop.blanks[0].pk])).content.decode()
    assert reverse("hours_take_back", args=[own.pk]) in page
    assert reverse("hours_take_back", args=[others.pk]) not in page
    refused = bench.get(reverse("hours_take_back", args=[others.pk]))
    assert refused.status_code == 403
    assert bench.post(reverse("hours_take_back", args=[others.pk]), {}).status_code == 403
    assert "Taken back" in text(send(signed_in(shop.owner), reverse("hours_take_back", args=[own.pk]), {}))


@pytest.mark.parametrize("role", ["bookkeeper", "visitor"])
def test_who_does_not_stand_at_the_bench_reads_the_hours_only(shop, role):
    run = book(shop, shop.owner)
    client = signed_in(of_role(shop.owner, role))
    assert "1 h 30" in page_of(client, shop)
    assert client.get(reverse("hours_take_back", args=[run.pk])).status_code == 403


def test_hours_of_what_broke_are_asked_about_on_the_same_form(shop):
    run = book(shop, shop.owner)
    work.it_broke(workpiece=shop.blanks[0], cause="catch", at=timezone.now(), by=shop.owner)
    desk, url = signed_in(shop.owner), reverse("hours_take_back", args=[run.pk])
    asked = send(desk, url, {})
    assert asked.status_code == 422 and "41/1 was lost" in text(asked)
    done = desk.post(url, {"sure": "on", "submission": key_of(asked)}, follow=True)
    assert "Taken back" in text(done)
    assert ledger.pool_sums()["loss_expected"] == 30 * MONEY


def test_there_are_no_hours_while_the_clock_runs(shop):
    run = work.start_clock(person=shop.owner, workpieces=[shop.blanks[0]], code="clean", at=timezone.now() - HOUR)
    assert signed_in(shop.owner).get(reverse("hours_take_back", args=[run.pk])).status_code == 404
