"""The finish bench on screen: a finish written down, put on, each coat a tap, taken back, the rags in their tin."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from studio.ledger import audit
from studio.stores import operations as stores
from studio.stores.models import Batch
from studio.work import operations as work
from studio.work.models import FinishDone, FinishRun, FinishSchedule, LineKind, RagsIn, StepCode
from tests.web.shop import DAY, GRAM, a_shop, key_of, of_role, send, signed_in, text

H = 3600


@pytest.fixture
def shop(db):
    there = a_shop()
    for blank in there.blanks:
        work.plan_steps(workpiece=blank, codes=[StepCode.FINISH])
    there.bowl = work.describe(
        workpiece=there.blanks[0], form="bowl", length_um=200_000, width_um=200_000, height_um=100_000
    )
    return there


@pytest.fixture
def desk(shop):
    return signed_in(shop.owner)


@pytest.fixture
def finish(shop):
    coat = {"material": shop.oil, "spread_mgm2": 60_000, "wait_s": 24 * H, "oily": True}
    lines = [
        work.LineSpec(LineKind.SAND, grit=240),
        work.LineSpec(LineKind.COAT, latest_s=48 * H, **coat),
        work.LineSpec(LineKind.COAT, not_on_resin=True, **coat),
        work.LineSpec(LineKind.CURE, wait_s=7 * 24 * H),
    ]
    return work.keep_schedule(name="Hard oil, two coats", lines=lines, at=shop.began, by=shop.owner)


@pytest.fixture
def run(shop, finish):
    at = timezone.now() - 2 * DAY
    return work.put_on_finish(schedule=finish, workpieces=[shop.bowl], at=at, by=shop.owner)[0]


def left(shop):
    return sum(row.account.amount for row in Batch.objects.filter(material=shop.oil).select_related("account"))


def lines_of(finish):
    return list(finish.lines.select_related("material__commodity").order_by("position"))


def page(desk, run):
    return text(desk.get(reverse("finish_run", args=[run.pk])))


def tap(desk, run, place, data=None):
    line = lines_of(run.schedule)[place]
    return send(desk, reverse("finish_line", args=[run.pk, line.pk]), data or {})


WRITTEN = {
    "count": "4", "name": "Oil and wax", "kind_1": "sand", "grit_1": "320", "kind_2": "coat", "spread_2": "60",
    "wait_2": "24", "latest_2": "2 days", "oily_2": "on", "not_on_resin_2": "on", "kind_3": "", "kind_4": "cure",
    "wait_4": "7 days",
}  # fmt: skip


def test_a_finish_is_written_line_by_line_and_stands_in_the_list(desk, shop):
    assert "No finish is written down yet" in text(desk.get(reverse("finishes")))
    answer = send(desk, reverse("finish_add"), {**WRITTEN, "material_2": shop.oil.pk})
    said = text(answer)
    assert "Sand to 320." in said and "Cure seven days before packing." in said
    assert "Coat with Hard oil, 60 g on a square metre; then wait a day, go on within two days. Not on resin." in said
    sand, coat, cure = lines_of(FinishSchedule.objects.get())
    assert (sand.grit, coat.spread_mgm2, coat.wait_s, coat.latest_s) == (320, 60_000, 24 * H, 48 * H)
    assert (coat.oily, coat.not_on_resin, cure.wait_s) == (True, True, 7 * 24 * H)


def test_what_is_wrong_stands_by_its_line_and_what_was_typed_stays(desk, shop):
    wrong = {**WRITTEN, "material_2": "", "kind_3": "", "grit_3": "400", "name": "O'Brien’s <b>oil</b> 木"}
    answer = send(desk, reverse("finish_add"), wrong)
    assert answer.status_code == 422 and "empty the rest of this line" in text(answer)
    answer = send(desk, reverse("finish_add"), {**wrong, "grit_3": ""})
    said = text(answer)
    assert answer.status_code == 422 and "A coat wants a finish from the stores" in said
    assert "O&#x27;Brien’s &lt;b&gt;oil&lt;/b&gt; 木" in answer.content.decode()
    for name, typed in (("wait_2", "-1"), ("spread_2", "0"), ("grit_1", "1,5"), ("latest_2", "soon")):
        answer = send(desk, reverse("finish_add"), {**WRITTEN, "material_2": shop.oil.pk, name: typed})
        assert answer.status_code == 422 and f'value="{typed}"' in answer.content.decode()
    assert not FinishSchedule.objects.exists()


def test_a_few_lines_more_keep_what_was_typed_and_store_nothing(desk):
    url = reverse("finish_add")
    answer = desk.post(url, {**WRITTEN, "more": "yes", "submission": key_of(desk.get(url))})
    html = answer.content.decode()
    assert answer.status_code == 200 and 'name="kind_7"' in html and 'value="Oil and wax"' in html
    assert not FinishSchedule.objects.exists()


def test_a_line_moves_up_by_its_number(desk, shop):
    data = {"count": "3", "name": "Moved", "kind_1": "buff", "kind_2": "sand", "grit_2": "180", "kind_3": "sand",
            "grit_3": "120", "place_3": "1"}  # fmt: skip
    send(desk, reverse("finish_add"), data)
    assert [line.words for line in lines_of(FinishSchedule.objects.get())] == ["Sand to 120", "Buff", "Sand to 180"]


def test_a_change_is_a_new_finish_and_what_is_under_way_keeps_its_lines(desk, shop, finish, run):
    url = reverse("finish_change", args=[finish.pk])
    assert 'value="Hard oil, two coats"' in desk.get(url).content.decode()
    key = key_of(desk.get(url))
    data = {"count": "1", "name": "Hard oil, two coats", "kind_1": "sand", "grit_1": "400", "submission": key}
    for _ in range(2):
        assert desk.post(url, data).status_code == 303
    assert FinishSchedule.objects.count() == 2
    assert "Coat with Hard oil" in page(desk, run)
    assert "changed or put away meanwhile" in text(send(desk, url, {**data, "submission": ""}))
    new = FinishSchedule.objects.get(ended_at=None)
    assert "is put away" in text(send(desk, reverse("finish_retire", args=[new.pk]), {}))
    assert "No finish is written down yet" in text(desk.get(reverse("finishes")))


def test_work_is_put_on_a_finish_several_at_once(desk, shop, finish):
    url = reverse("finish_put_on")
    assert "41/1" in text(desk.get(f"{url}?workpiece={shop.bowl.pk}"))
    assert send(desk, url, {"schedule": finish.pk}).status_code == 422
    both = [shop.blanks[0].pk, shop.blanks[1].pk]
    assert "41/1, 41/2 are on Hard oil, two coats." in text(
        send(desk, url, {"schedule": finish.pk, "workpieces": both})
    )
    # on a finish already, they are offered no more: the number is none of the choices
    assert send(desk, url, {"schedule": finish.pk, "workpieces": both}).status_code == 422
    assert FinishRun.objects.count() == 2


def test_resin_is_asked_about_and_words_in_ones_own_hand_go_past_it(desk, shop, finish):
    blank = shop.blanks[2]
    at = timezone.now() - 3 * DAY
    work.pour(
        system=shop.resin, fills=[work.Fill(planned_mg=1000 * GRAM, blanks=[blank])], planned_a_mg=500 * GRAM,
        planned_b_mg=500 * GRAM, poured_a_mg=500 * GRAM, poured_b_mg=500 * GRAM, at=at, wood_sure=True, by=shop.owner,
    )  # fmt: skip
    url, data = reverse("finish_put_on"), {"schedule": finish.pk, "workpieces": [blank.pk]}
    answer = send(desk, url, data)
    assert answer.status_code == 422 and 'name="resin_words"' in answer.content.decode()
    assert "41/3 has resin in it, and Hard oil won’t cure on resin" in text(answer)
    assert send(desk, url, {**data, "resin_words": " "}).status_code == 422
    assert not FinishRun.objects.exists()
    said = text(send(desk, url, {**data, "resin_words": "only the foot, no resin <b>there"}))
    assert "goes on all the same: only the foot, no resin &lt;b&gt;there" in said


def test_a_coat_is_one_tap_with_its_grams_shown_before(desk, shop, run):
    assert "Sand to 240" in page(desk, run)
    tap(desk, run, 0)
    shown = page(desk, run)
    assert (
        "About 7.5 g: 200 mm × 200 mm × 100 mm, reckoned as a bowl, inside and out, 60 g on a square metre." in shown
    )
    assert "The coat is on, 7.5 g" in shown and "Oily rags catch fire by themselves." in shown
    said = text(tap(desk, run, 1))
    assert "7.5 g of Hard oil went onto 41/1. Next, not before tomorrow" in said
    assert left(shop) == 500 * GRAM - 7_500 and audit.run().clean
    early = tap(desk, run, 2)
    assert early.status_code == 422 and "The line before wants its time" in text(early)
    assert 'name="sure"' in early.content.decode()
    assert "cures until" in text(tap(desk, run, 2, {"sure": "on", "amount": "8.5"}))
    assert left(shop) == 500 * GRAM - 7_500 - 8_500


def test_sent_twice_a_coat_is_drawn_once(desk, shop, run):
    tap(desk, run, 0)
    url = reverse("finish_line", args=[run.pk, lines_of(run.schedule)[1].pk])
    data = {"submission": key_of(desk.get(url))}
    assert desk.post(url, data).status_code == desk.post(url, data).status_code == 303
    assert left(shop) == 500 * GRAM - 7_500
    # another key, the same tap: it is done already
    assert "done already" in text(send(desk, url, {}))
    assert left(shop) == 500 * GRAM - 7_500


@pytest.mark.parametrize("typed", ["0", "-3", "lots", "11 kg", "1e9", "<b>x</b>"])
def test_a_wrong_figure_stays_typed_and_draws_nothing(desk, shop, run, typed):
    tap(desk, run, 0)
    answer = tap(desk, run, 1, {"amount": typed})
    shown = typed.replace("<", "&lt;").replace(">", "&gt;")
    assert answer.status_code == 422 and f'value="{shown}"' in answer.content.decode()
    assert left(shop) == 500 * GRAM


def test_without_measures_the_grams_are_asked_for(desk, shop, finish):
    (run,) = work.put_on_finish(schedule=finish, workpieces=[shop.blanks[1]], at=timezone.now() - DAY, by=shop.owner)
    tap(desk, run, 0)
    assert "Type the grams: its size isn’t measured." in page(desk, run)
    answer = tap(desk, run, 1)
    assert answer.status_code == 422 and "Type how much went on" in text(answer)
    tap(desk, run, 1, {"amount": "4"})
    assert left(shop) == 496 * GRAM


def test_where_the_stores_hold_too_little_it_says_what_is_there_and_counts_on_the_same_form(desk, shop, run):
    tap(desk, run, 0)
    stores.count(material=shop.oil, really_there=2 * GRAM, by=shop.owner, at=timezone.now() - timedelta(hours=1))
    answer = tap(desk, run, 1)
    assert answer.status_code == 422 and "The stores hold 2 g of Hard oil by the books" in text(answer)
    tap(desk, run, 1, {f"there__{shop.oil.pk}": "20 g"})
    assert left(shop) == 20 * GRAM - 7_500 and audit.run().clean


def test_a_coat_taken_back_is_in_the_stores_again_and_comes_next(desk, shop, run):
    tap(desk, run, 0)
    tap(desk, run, 1)
    done = FinishDone.objects.get(line__kind=LineKind.COAT)
    said = text(send(desk, reverse("finish_back", args=[done.pk]), {}))
    assert "is taken back on 41/1" in said and "The coat is on, 7.5 g" in said
    assert left(shop) == 500 * GRAM and audit.run().clean
    assert "taken back already" in text(send(desk, reverse("finish_back", args=[done.pk]), {}))


def test_several_get_the_same_line_in_one_go(desk, shop, finish):
    work.describe(workpiece=shop.blanks[1], form="bowl", length_um=100_000, width_um=100_000, height_um=50_000)
    runs = work.put_on_finish(schedule=finish, workpieces=shop.blanks, at=timezone.now() - DAY, by=shop.owner)
    sand, coat, *_ = lines_of(finish)
    work.do_lines(runs=runs, line=sand, at=timezone.now() - DAY, by=shop.owner)
    assert "Go on with them" in text(desk.get(reverse("round")))
    url = reverse("finish_lines", args=[coat.pk])
    shown = text(desk.get(url))
    assert "41/1, 7.5 g" in shown and "41/2, 1.9 g" in shown and "41/3, grams not known" in shown
    both = [str(row.pk) for row in runs[:2]]
    assert "is done on 41/1, 41/2, 9.4 g in all" in text(send(desk, url, {"runs": both}))
    assert left(shop) == 500 * GRAM - 9_400
    assert send(desk, url, {"runs": both}).status_code == 422


def test_the_round_and_the_page_say_what_comes_next(desk, shop, run):
    assert "Sand to 240 workpiece 41/1" in text(desk.get(reverse("round")))
    tap(desk, run, 0, {"at": (timezone.now() - DAY - timedelta(hours=4)).strftime("%Y-%m-%dT%H:%M")})
    tap(desk, run, 1, {"at": (timezone.now() - DAY - timedelta(hours=3)).strftime("%Y-%m-%dT%H:%M")})
    assert "Coat with Hard oil workpiece 41/1" in text(desk.get(reverse("round")))
    shown = text(desk.get(reverse("workpiece", args=[shop.bowl.pk])))
    assert "Its finish Coat with Hard oil , by" in shown and "Coat with Hard oil, yesterday" in shown
    assert "Put it on a finish" not in shown
    assert "is off Hard oil, two coats" in text(send(desk, reverse("finish_take_off", args=[run.pk]), {}))
    assert "Put it on a finish" in text(desk.get(reverse("workpiece", args=[shop.bowl.pk])))


def test_the_rags_are_the_last_line_of_the_evening_and_one_tap(desk, shop, run):
    assert "oily rags" not in text(desk.get(reverse("round")))
    tap(desk, run, 0)
    tap(desk, run, 1)
    shown = text(desk.get(reverse("round")))
    assert "Before you go Put today’s oily rags into a closed metal tin, for in a heap" in shown
    assert "In the tin" in shown
    assert "In the tin" not in text(signed_in(of_role(shop.owner, "visitor")).get(reverse("round")))
    answer = send(desk, reverse("rags_in"), {})
    assert "The oily rags are in their tin" in text(answer) and RagsIn.objects.count() == 1
    assert "oily rags into" not in text(answer)
    assert "oily rags into" in text(send(desk, reverse("rags_out"), {}))


def test_a_time_to_come_and_one_before_the_finish_are_refused_beside_it(desk, run):
    for typed, said in (
        ((timezone.now() + 366 * DAY).strftime("%Y-%m-%dT%H:%M"), "still to come"),
        ("2001-01-01T08:00", "The line before was done"),
    ):
        answer = tap(desk, run, 0, {"at": typed})
        assert answer.status_code == 422 and said in text(answer)
    assert not FinishDone.objects.exists()


def test_a_finish_that_cures_is_shown_and_asked_about_before_a_piece_is_made_or_ready(desk, shop, run):
    for place in range(3):
        work.do_line(run=run, line=lines_of(run.schedule)[place], at=timezone.now() - DAY, by=shop.owner, sure=True)
    url = reverse("piece_become", args=[shop.bowl.pk])
    answer = send(desk, url, {"title": "Late bowl"})
    assert answer.status_code == 422 and "The finish of 41/1 cures until" in text(answer)
    assert 'value="Late bowl"' in answer.content.decode()
    made = text(send(desk, url, {"title": "Late bowl", "sure": "on"}))
    assert "is a piece" in made and "The finish of 41/1 cures until" in made
    rests = reverse("piece_rest", args=[shop.bowl.piece.pk])
    assert "cures until" in text(send(desk, rests, {}))
    assert "has rested" in text(send(desk, rests, {"sure": "on"}))
    assert "cures until" in text(desk.get(reverse("pieces") + "?show=finishing"))


def test_what_is_still_on_its_finish_is_asked_about_too(desk, shop, run):
    answer = send(desk, reverse("piece_become", args=[shop.bowl.pk]), {})
    assert answer.status_code == 422 and "41/1 is still on its finish" in text(answer)
