"""A machine's diary on screen: what is due, done with words, changed, dropped, taken back; and in the round."""

from types import SimpleNamespace

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.equipment.models import Upkeep, UpkeepDone
from tests.web.shop import DAY, a_shop, every_trap, key_of, of_role, send, signed_in, text


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    there = a_shop()
    Upkeep.objects.filter(what="Try the relief valve").update(began_at=timezone.now() - 100 * DAY)
    return there


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


def diary(machine) -> str:
    return reverse("machine_diary", args=[machine.pk])


def valve() -> Upkeep:
    return Upkeep.objects.get(what="Try the relief valve")


def url(name) -> str:
    return reverse(name, args=[valve().pk])


def test_what_is_due_stands_first_on_the_machine_and_in_the_round(desk, shop):
    said = text(desk.get(diary(shop.pot)))
    assert said.index("Try the relief valve") < said.index("Look over the lid gasket")
    assert "Due since" in said and "common practice" in said and "not noted yet" in said
    assert "Its diary asks: Try the relief valve" in text(desk.get(reverse("machine", args=[shop.pot.pk])))
    round_ = desk.get(reverse("round"))
    assert "Look after The grey pot, try the relief valve" in text(round_)
    assert f'href="{diary(shop.pot)}"' in round_.content.decode()


def test_done_today_with_words_and_taken_back(desk, shop):
    asked = desk.get(url("upkeep_done"))
    assert "Gauge at zero and vent open" in text(asked)
    said = text(send(desk, url("upkeep_done"), {"words": "lifts at 4.1 bar"}))
    assert "lifts at 4.1 bar" in said and "Due since" not in said and "Take back" in said
    assert "Look after The grey pot" not in text(desk.get(reverse("round")))
    back = reverse("upkeep_take_back", args=[UpkeepDone.objects.get().pk])
    assert "Due since" in text(send(desk, back, {}))
    assert desk.get(back).status_code == 404 and not UpkeepDone.objects.exists()


def test_how_often_is_changed_in_days_and_becomes_the_studio_s_figure(desk, shop):
    form = desk.get(url("upkeep_change")).context["form"]
    assert form["every_s"].value() == "90"
    said = text(send(desk, url("upkeep_change"), {"what": "Try the relief valve", "every_s": "120", "run_s": ""}))
    assert "Every 4 months your figure" in said
    for wrong in ({"every_s": "0"}, {"every_s": "-3"}, {"every_s": ""}, {"every_s": "x"}, {"every_s": "99999"}):
        answer = send(desk, url("upkeep_change"), {"what": "Mine", "run_s": "", **wrong})
        assert answer.status_code == 422 and 'value="Mine"' in answer.content.decode(), wrong
    assert valve().every_s == 120 * 86_400


def test_what_is_usual_is_asked_for_by_one_tap_and_more_is_written_down(desk, shop):
    Upkeep.objects.filter(machine=shop.oven).delete()
    page = text(desk.get(diary(shop.oven)))
    assert "asks for nothing yet" in page and "Begin the diary" in page
    begin = reverse("machine_diary_begin", args=[shop.oven.pk])
    assert "high-limit" in text(desk.get(begin)) and "Common practice" in text(desk.get(begin))
    assert "Test the high-limit cut-out" in text(send(desk, begin, {}))
    assert send(desk, begin, {}).status_code == 422
    add = reverse("machine_diary_add", args=[shop.oven.pk])
    assert "Sweep it out" in text(send(desk, add, {"what": "Sweep it out", "every_s": "7", "run_s": "40"}))
    row = Upkeep.objects.get(what="Sweep it out")
    assert (row.every_s, row.run_s, row.ours) == (7 * 86_400, 40 * 3600, True)


def test_what_is_dropped_is_gone_from_the_list(desk, shop):
    said = text(send(desk, url("upkeep_drop"), {}))
    assert "not asked for any more" in said and "Due since" not in said


def test_traps_and_sent_twice(desk, shop):
    every_trap(desk, url("upkeep_done"), {"words": ""}, ("words",))
    add = reverse("machine_diary_add", args=[shop.pot.pk])
    every_trap(desk, add, {"what": "Oil", "every_s": "30", "run_s": ""}, ("what", "every_s", "run_s"))
    before, key = UpkeepDone.objects.count(), key_of(desk.get(url("upkeep_done")))
    for _ in range(2):
        assert desk.post(url("upkeep_done"), {"words": "once", "submission": key}).status_code == 303
    assert UpkeepDone.objects.count() == before + 1
    late = (timezone.now() + 400 * DAY).strftime("%Y-%m-%dT%H:%M")
    assert send(desk, url("upkeep_done"), {"words": "kept", "at": late}).status_code == 422


def test_a_visitor_reads_it_and_presses_nothing(shop):
    guest = signed_in(of_role(shop.owner, "visitor"))
    page = guest.get(diary(shop.pot)).content.decode()
    assert "Try the relief valve" in page and url("upkeep_done") not in page and url("upkeep_change") not in page
    assert guest.get(url("upkeep_done")).status_code == 403


def test_a_lathe_knows_its_top_speed(desk, shop):
    add = reverse("machine_add") + "?kind=lathe"
    for wrong in ("0", "-1", "1.5", "many", "50000"):
        answer = send(desk, add, {"name": "The long lathe", "duty_ppm": "40", "highest_rpm": wrong})
        assert answer.status_code == 422 and f'value="{wrong}"' in answer.content.decode(), wrong
    assert "Turns at most 3200 rpm" in text(
        send(desk, add, {"name": "The long lathe", "duty_ppm": "40", "highest_rpm": "3200"})
    )
