"""A mix sheet typed in later: the paper's figures in the paper's order, booked once, as it was then."""

from datetime import datetime, timedelta
from types import SimpleNamespace

import pytest
from django.test import Client
from django.utils import timezone

from studio.people import operations as people
from studio.stores import operations as stores
from studio.work import operations as work
from studio.work.models import Pour, PourColorant, PourFill, PourSwirl
from tests.web.pour_shop import a_pour_shop, at, plan
from tests.web.shop import DAY, GRAM, HOUR, MONEY, TRAPS, a_shop, key_of, send, signed_in, text


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    return a_pour_shop()


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


def minute(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%dT%H:%M")


def ago(**how: float) -> str:
    return minute(timezone.now() - timedelta(**how))


def test_the_boxes_stand_in_the_order_of_the_sheet(shop, desk):
    red = stores.add_material(name="Brick red", kind="colorant", by=shop.owner, at=shop.began)
    stores.buy(material=red, amount=20 * GRAM, paid_micro=7 * MONEY, by=shop.owner, at=shop.began)
    query = plan(shop, colorant=shop.blue.pk, share="2", cups=1, takes_0="10", colour_0_0=red.pk, strength_0_0="0.5")
    page = desk.get(at("pour_typed", query))
    asked = [field.name for _, fields in page.context["form"].groups() for field in fields]
    assert asked[:8] == ["a_0", "c_0", "b_0", "taken_0", "taken_0_0", "into_0", "began", "at"]
    said = text(page)
    assert "Empty: 220 g." in said and "Empty: 8.8 g." in said and "Empty: 448.8 g." in said
    assert "For the sheet of 440 g in all" in said
    send(desk, at("pour_typed", query), {"at": ago(minutes=30), "taken_0": "40"})
    pour = Pour.objects.get()
    assert (pour.poured_a_mg, pour.poured_b_mg) == (220 * GRAM, 220 * GRAM)
    assert PourSwirl.objects.get().taken_mg == 40 * GRAM
    assert sorted(PourColorant.objects.values_list("mass_mg", flat=True)) == [200, 8_800]


def test_what_the_scale_showed_is_turned_into_what_was_weighed(shop, desk):
    query = plan(shop, colorant=shop.blue.pk, share="2")
    when = timezone.now() - timedelta(minutes=40)
    sent = {"a_0": "224", "c_0": "9", "b_0": "457", "began": minute(when - timedelta(minutes=9)), "at": minute(when)}
    answer = send(desk, at("pour_typed", query), sent)
    pour = Pour.objects.get()
    assert (pour.poured_a_mg, pour.poured_b_mg, pour.colorants.get().mass_mg) == (224 * GRAM, 224 * GRAM, 9 * GRAM)
    assert (pour.planned_a_mg, PourFill.objects.get().reckoned_mg) == (220 * GRAM, 400 * GRAM)
    assert minute(pour.at) == sent["at"] and pour.began_at is not None and minute(pour.began_at) == sent["began"]
    assert pour.demould_not_before == pour.at + 4 * HOUR
    assert "448 g are poured into 41/1." in text(answer)


def test_an_overshoot_wants_to_know_where_part_b_stopped(shop, desk):
    answer = send(desk, at("pour_typed", plan(shop)), {"a_0": "224 g", "at": ago(hours=1)})
    assert answer.status_code == 422 and not Pour.objects.exists()
    assert "Part A stopped at 224, not at 220: say what the scale showed after Part B." in text(answer)
    assert 'value="224 g"' in answer.content.decode()


def test_off_its_ratio_is_asked_as_at_the_bench(shop, desk):
    url, sent = at("pour_typed", plan(shop)), {"a_0": "220", "b_0": "470", "at": ago(minutes=30)}
    answer = send(desk, url, sent)
    assert "further off their ratio than the resin's sheet allows" in text(answer) and not Pour.objects.exists()
    send(desk, url, {**sent, "off_ratio_words": "the light went out"})
    assert Pour.objects.get().off_ratio_words == "the light went out"


def test_a_scale_that_went_down_is_no_part_b(shop, desk):
    answer = send(desk, at("pour_typed", plan(shop)), {"b_0": "220", "at": ago(minutes=5)})
    assert "The scale can't show less than the 220 that were in the cup before Part B." in text(answer)


def test_several_cups_are_asked_one_after_the_other_and_booked_together(shop, desk):
    people.set_setting(key="scale_most_mg", value=300 * GRAM, by=shop.owner, at=timezone.now())
    url = at("pour_typed", plan(shop))
    page = text(desk.get(url))
    assert page.index("Cup 1") < page.index("Cup 2") < page.index("Into the moulds")
    send(desk, url, {"a_0": "111", "b_0": "222", "at": ago(minutes=20)})
    pour = Pour.objects.get()
    assert (pour.cups, pour.poured_a_mg, pour.poured_b_mg) == (2, 221 * GRAM, 221 * GRAM)


def test_what_was_weighed_into_each_mould_decides_its_share(shop, desk):
    query = plan(shop, rows=2, mould_1="none", room_1="400 ml")
    assert "Poured into mould 2" in text(desk.get(at("pour_typed", query)))
    wrong = send(desk, at("pour_typed", query), {"into_0": "800", "into_1": "300", "at": ago(minutes=20)})
    assert "More went into the moulds than was mixed, 880 g." in text(wrong) and not Pour.objects.exists()
    send(desk, at("pour_typed", query), {"into_0": "600", "into_1": "200", "at": ago(minutes=20)})
    assert list(PourFill.objects.order_by("pk").values_list("planned_mg", "share_mg")) == [
        (440 * GRAM, 660 * GRAM), (440 * GRAM, 220 * GRAM),
    ]  # fmt: skip


def test_the_wood_is_judged_as_it_was_when_it_was_poured(db):
    """Out of the oven nine hours ago, limit six: no more for the bench, but it was poured in the third hour."""
    shop = a_shop()
    shop_dry(shop, 9 * HOUR)
    desk = signed_in(shop.owner)
    assert "been out of the oven 9 hours" in text(desk.get(at("pour_plan", plan(shop))))
    late = send(desk, at("pour_typed", plan(shop)), {"at": ago(minutes=1)})
    assert "out of the oven" in text(late) and not Pour.objects.exists()
    send(desk, at("pour_typed", plan(shop)), {"at": ago(hours=6)})
    assert Pour.objects.get().poured_mg == 440 * GRAM


def shop_dry(shop: SimpleNamespace, before: timedelta) -> None:
    """41/1 ready to be cast, oven-dry so long ago."""
    from tests.web.shop import dried

    dried(shop, shop.blanks[0], 800 * GRAM, timezone.now() - before)
    work.leave_out_step(workpiece=shop.blanks[0], code="stabilize", why="dense and sound")


@pytest.mark.parametrize(
    ("times", "sentence"),
    [
        ({}, "Say when it was poured"),
        ({"at": "soon"}, "no time we can read"),
        ({"at": minute(timezone.now() + 2 * DAY)}, "still to come"),
        ({"at": minute(timezone.now() - timedelta(days=8, hours=23, minutes=30))}, "41/1 came into being after that"),
        ({"at": minute(timezone.now() - timedelta(days=30))}, "41/1 came into being after that"),
        ({"at": minute(timezone.now() - HOUR), "began": minute(timezone.now())}, "before it was poured"),
        ({"at": minute(timezone.now() - HOUR), "began": minute(timezone.now() - 2 * DAY)}, "more than a day before"),
    ],
)
def test_a_time_that_can_not_be_is_refused_and_kept(shop, desk, times, sentence):
    answer = send(desk, at("pour_typed", plan(shop)), {"a_0": "220", "sure": "on", **times})
    assert answer.status_code == 422 and sentence in text(answer) and not Pour.objects.exists()
    assert 'value="220"' in answer.content.decode()


def test_a_sheet_of_other_figures_is_typed_whole(shop, desk):
    printed = plan(shop, sheet=440 * GRAM)
    assert "Empty: 220 g" in text(desk.get(at("pour_typed", printed)))
    other = plan(shop, sheet=450 * GRAM)
    page = text(desk.get(at("pour_typed", other)))
    assert "The sheet was printed for other figures" in page and "Empty: 220 g" not in page
    assert send(desk, at("pour_typed", other), {"a_0": "225", "at": ago(minutes=9)}).status_code == 422
    send(desk, at("pour_typed", other), {"a_0": "225", "b_0": "450", "at": ago(minutes=9)})
    assert Pour.objects.get().poured_mg == 450 * GRAM


def test_sent_twice_it_is_booked_once(shop, desk):
    url = at("pour_typed", plan(shop))
    data = {"at": ago(minutes=12), "submission": key_of(desk.get(url))}
    first, second = desk.post(url, data), desk.post(url, data)
    assert first.status_code == second.status_code == 303 and first["Location"] == second["Location"]
    assert Pour.objects.count() == 1


def test_no_trap_is_a_fault(shop, desk):
    url = at("pour_typed", plan(shop))
    key = key_of(desk.get(url))
    for name in ("a_0", "b_0", "into_0", "began", "at"):
        for trap in TRAPS:
            answer = desk.post(url, {"b_0": "7", name: trap, "submission": key})
            assert answer.status_code == 422, (name, trap)
    for name in ("sheet", "cups", "rows"):
        assert desk.get(at("pour_typed", plan(shop, **{name: "<b>x"}))).status_code == 200


def test_the_plan_and_the_paper_lead_there(shop, desk):
    assert at("pour_typed", {}).rstrip("?") in desk.get(at("pour_plan", plan(shop))).content.decode()
    assert desk.get(at("pour_typed", plan(shop, level_0="900 mm"))).status_code == 302
