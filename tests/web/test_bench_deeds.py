"""Deeds at the bench: by hand, twice, wrongly."""

import re
from io import BytesIO
from types import SimpleNamespace

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from studio.ledger import queries as ledger
from studio.ledger.queries import newest_entry_id
from studio.work import operations as work
from studio.work.models import ClockRun, Step, StepState, UsualMinutes, Weighing, Workpiece
from tests.web.shop import (
    DAY,
    GRAM,
    HOUR,
    KILO,
    MONEY,
    TRAPS,
    a_shop,
    every_trap,
    key_of,
    send,
    signed_in,
    text,
)


@pytest.fixture
def shop(db: None) -> SimpleNamespace:
    return a_shop()


@pytest.fixture
def desk(shop: SimpleNamespace) -> Client:
    return signed_in(shop.owner)


@pytest.fixture
def piece(shop: SimpleNamespace) -> Workpiece:
    return shop.blanks[0]


def to(name: str, piece: Workpiece, *more: str) -> str:
    return reverse(name, args=[piece.pk, *more])


def picture() -> SimpleUploadedFile:
    from PIL import Image

    held = BytesIO()
    Image.new("RGB", (60, 40), "peru").save(held, "JPEG")
    return SimpleUploadedFile("burr.jpg", held.getvalue(), "image/jpeg")


# the scale


def test_a_weight_is_stored_and_said_back_with_what_it_means(desk, piece):
    first = send(desk, to("workpiece_weigh", piece), {"mass": "2950", "condition": "wet"})
    assert "41/1 weighs 2950 g, still losing" in text(first)
    assert Weighing.objects.filter(workpiece=piece, mass_mg=2950 * GRAM).count() == 1


def test_the_last_weight_stands_large_beside_the_box(desk, piece):
    page = text(desk.get(to("workpiece_weigh", piece)))
    assert "3000 g" in page and "As it came, now. Not so?" in page


def test_a_weight_sent_twice_is_one_weighing(desk, piece):
    url = to("workpiece_weigh", piece)
    data = {"mass": "2950", "condition": "wet", "submission": key_of(desk.get(url))}
    assert [desk.post(url, data).status_code for _ in range(2)] == [303, 303]
    assert Weighing.objects.filter(workpiece=piece, mass_mg=2950 * GRAM).count() == 1


def test_a_weight_ten_times_off_is_asked_about_and_kept_once_it_is_sure(desk, piece):
    url = to("workpiece_weigh", piece)
    asked = send(desk, url, {"mass": "29500", "condition": "wet"})
    assert asked.status_code == 422 and 'value="29500"' in asked.content.decode()
    assert "If 29500 g is right, say so" in text(asked)
    sure = {"mass": "29500", "condition": "wet", "sure": "on", "submission": key_of(asked)}
    assert desk.post(url, sure).status_code == 303


def test_weights_come_in_as_the_studio_writes_them(desk, piece):
    wrong = send(desk, to("workpiece_weigh", piece), {"mass": "2950,5", "condition": "wet"})
    assert "the decimal mark here is a point" in text(wrong) and 'value="2950,5"' in wrong.content.decode()


def test_every_trap_at_the_scale_is_answered(desk, piece):
    every_trap(desk, to("workpiece_weigh", piece), {"mass": "2950", "condition": "wet"}, ("mass", "condition", "at"))


# the clock and the hours


def test_the_clock_runs_on_several_and_its_time_is_shared(desk, shop, piece):
    started = send(desk, to("clock_start", piece), {"code": "clean", "also": [str(shop.blanks[1].pk)]})
    assert "The clock runs on 41/1, 41/2: clean." in text(started)
    run = ClockRun.objects.get()
    ClockRun.objects.update(started_at=timezone.now() - HOUR)
    stopped = send(desk, reverse("clock_stop", args=[run.pk]), {"worked": "40", "done": "on"})
    assert "40 min booked on 41/1, 41/2. Clean is done." in text(stopped)
    steps = Step.objects.filter(code="clean", state=StepState.DONE)
    assert [step.hands_on_s for step in steps] == [1200, 1200]
    assert ledger.cost_of(piece.account).all_in == 30 * MONEY + 14 * MONEY


def test_a_second_clock_is_refused_with_what_the_first_runs_on(desk, shop, piece):
    work.start_clock(person=shop.owner, workpieces=[shop.blanks[1]], code="clean", at=timezone.now() - HOUR)
    assert "Your clock runs already, on 41/2" in text(send(desk, to("clock_start", piece), {"code": "clean"}))


def test_a_clock_left_over_night_wants_to_be_told(desk, shop, piece):
    run = work.start_clock(person=shop.owner, workpieces=[piece], code="clean", at=timezone.now() - 2 * DAY)
    url = reverse("clock_stop", args=[run.pk])
    assert "How long was really worked?" in text(send(desk, url, {}))
    assert newest_entry_id() and ClockRun.objects.filter(stopped_at=None).exists()
    assert "1 h booked on 41/1" in text(send(desk, url, {"worked": "60"}))


def test_a_clock_stopped_twice_is_booked_once(desk, shop, piece):
    run = work.start_clock(person=shop.owner, workpieces=[piece], code="clean", at=timezone.now() - HOUR)
    url = reverse("clock_stop", args=[run.pk])
    keys = [key_of(desk.get(url)) for _ in range(2)]
    answers = [desk.post(url, {"worked": "30", "submission": key}) for key in keys]
    assert [answer.status_code for answer in answers] == [303, 422]
    assert ledger.cost_of(piece.account).all_in == 30 * MONEY + 21 * MONEY
    assert "was stopped already" in text(desk.get(url))


def test_usual_minutes_are_remembered_and_offered(desk, shop, piece):
    send(desk, to("workpiece_hours", piece), {"code": "turn", "worked": "1:30 h", "usual": "on"})
    assert UsualMinutes.objects.get().seconds == 5400
    other = shop.blanks[1]
    page = desk.get(to("workpiece_step", other, "turn", "done"))
    assert "Book my usual 1 h 30" in text(page)
    send(desk, to("workpiece_step", other, "turn", "done"), {"usual": "on"})
    assert Step.objects.get(workpiece=other, code="turn").hands_on_s == 5400


def test_every_trap_in_the_hours_is_answered(desk, piece):
    every_trap(desk, to("workpiece_hours", piece), {"code": "clean", "worked": "40"}, ("worked", "code", "at"))


# steps


def test_a_step_is_done_left_out_and_done_again(desk, piece):
    send(desk, to("workpiece_step", piece, "clean", "done"), {"worked": "40", "note": "much dirt"})
    step = Step.objects.get(workpiece=piece, code="clean")
    assert (step.state, step.hands_on_s, step.note) == (StepState.DONE, 2400, "much dirt")
    send(desk, to("workpiece_step", piece, "dry", "skip"), {"why": "done elsewhere"})
    assert Step.objects.get(workpiece=piece, code="dry").skipped_why == "done elsewhere"
    send(desk, to("workpiece_step", piece, "clean", "again"), {})
    again = Step.objects.filter(workpiece=piece, code="clean").order_by("attempt")
    assert [(step.attempt, step.state) for step in again] == [(1, "done"), (2, "planned")]


def test_leaving_out_wants_a_reason(desk, piece):
    answer = send(desk, to("workpiece_step", piece, "dry", "skip"), {})
    assert answer.status_code == 422 and "Choose a reason, or write one" in text(answer)
    assert Step.objects.get(workpiece=piece, code="dry").state == StepState.PLANNED


@pytest.mark.parametrize(("code", "what"), [("fry", "done"), ("dry", "eat"), ("dry", "show"), ("dry", "find")])
def test_there_is_no_such_step(desk, piece, code, what):
    assert desk.get(f"/bench/{piece.pk}/step/{code}/{what}/").status_code == 404


def test_what_is_still_to_come_is_planned_anew(desk, piece):
    send(desk, to("workpiece_steps", piece), {"codes": ["dry", "turn", "sand"]})
    planned = Step.objects.filter(workpiece=piece, state=StepState.PLANNED).order_by("position")
    assert [step.code for step in planned] == ["dry", "turn", "sand"]


# what it is


def test_describing_changes_what_a_search_finds(desk, piece):
    good = {"number": "41/1", "title": "Gezeiten ÄÖÜ", "bark": "in", "punky": "on", "length_um": "210"}
    send(desk, to("workpiece_describe", piece), good)
    piece.refresh_from_db()
    assert (piece.title, piece.punky, piece.bark, piece.length_um) == ("Gezeiten ÄÖÜ", True, "in", 210_000)
    assert "Gezeiten" in text(desk.get(reverse("bench") + "?q=gezeiten+äö"))


def test_a_number_that_is_taken_is_refused_by_its_field_and_what_was_typed_stays(desk, piece):
    answer = send(desk, to("workpiece_describe", piece), {"number": "41/2", "title": "Kept", "bark": "none"})
    assert answer.status_code == 422 and "41/2 is taken already" in text(answer)
    assert 'value="Kept"' in answer.content.decode()
    piece.refresh_from_db()
    assert piece.title == ""


def test_every_trap_in_a_description_is_answered(desk, piece):
    good = {"number": "41/1", "bark": "none"}
    every_trap(desk, to("workpiece_describe", piece), good, ("title", "length_um", "species", "form", "bark"))


def test_every_trap_in_a_number_is_answered(desk, piece):
    for trap in TRAPS:
        answer = send(desk, to("workpiece_describe", piece), {"number": trap, "bark": "none"}, follow=False)
        assert answer.status_code in (303, 422)


def test_held_and_let_go(desk, piece):
    send(desk, to("workpiece_hold", piece), {"reason": "for the autumn fair"})
    assert "Held: for the autumn fair." in text(desk.get(to("workpiece", piece)))
    send(desk, to("workpiece_hold", piece), {})
    piece.refresh_from_db()
    assert not piece.held


def test_what_a_commission_holds_is_not_let_go_here(desk, piece):
    work.hold(workpiece=piece, reason="a commission", ref="commission:1")
    assert "held for a commission" in text(send(desk, to("workpiece_hold", piece), {}))
    piece.refresh_from_db()
    assert piece.held


def test_a_photograph_is_kept_even_when_the_first_try_was_wrong(desk, piece):
    url = to("workpiece_picture", piece)
    wrong = send(desk, url, {"photo": SimpleUploadedFile("a.jpg", b"no picture", "image/jpeg")})
    assert wrong.status_code == 422 and not piece.pictures.exists()
    assert send(desk, url, {}).status_code == 422
    done = send(desk, url, {"photo": picture()})
    assert piece.pictures.count() == 1 and "<img" in done.content.decode()


# cut and join


def test_a_cut_by_weight_previews_the_split_and_then_makes_it(desk, piece):
    url = to("workpiece_cut", piece)
    data = {"count": "2", "by": "mass", "mass_1": "1000", "mass_2": "2000", "title_1": "Lid"}
    page = desk.post(url, {**data, "see": "yes"})
    assert re.search(r"41/1b 33\.33 % 10\.00 41/1c 66\.67 % 20\.00", text(page))
    assert not Workpiece.objects.filter(number="41/1b").exists()
    assert "Cut: 41/1b, 41/1c. 41/1 is cut up." in text(send(desk, url, data))
    lid = Workpiece.objects.get(number="41/1b")
    assert (lid.title, ledger.cost_of(lid.account).all_in) == ("Lid", 10 * MONEY)


def test_the_rest_is_kept_with_its_own_share(desk, piece):
    data = {"count": "1", "by": "mass", "mass_1": "1000", "keep": "on", "mass_rest": "1900"}
    assert "41/1 keeps the rest" in text(send(desk, to("workpiece_cut", piece), data))
    piece.refresh_from_db()
    assert piece.closed_at is None and ledger.cost_of(piece.account).all_in == 30 * MONEY - 10_344_828


@pytest.mark.parametrize(
    ("data", "shares"),
    [
        ({"by": "equal"}, [15, 15]),
        ({"by": "judged", "share_1": "2", "share_2": "1"}, [20, 10]),
        ({"by": "judged", "share_1": "1", "share_2": "0"}, [30, 0]),
        (
            {
                "by": "size", "length_1": "100", "width_1": "100", "height_1": "100", "length_2": "200",
                "width_2": "100", "height_2": "100",
            },
            [10, 20],
        ),
    ],
)  # fmt: skip
def test_the_cost_is_shared_as_was_said(desk, piece, data, shares):
    send(desk, to("workpiece_cut", piece), {"count": "2", **data})
    made = Workpiece.objects.filter(number__in=["41/1b", "41/1c"]).order_by("number")
    assert [ledger.cost_of(one.account).all_in for one in made] == [share * MONEY for share in shares]


def test_a_missing_figure_is_asked_for_beside_its_box(desk, piece):
    answer = send(desk, to("workpiece_cut", piece), {"count": "2", "by": "mass", "mass_1": "1000"})
    assert answer.status_code == 422 and "Weigh it too, or share the cost another way." in text(answer)
    assert 'value="1000"' in answer.content.decode() and not Workpiece.objects.filter(number="41/1b").exists()


def test_one_more_row_keeps_what_was_typed(desk, piece):
    answer = desk.post(to("workpiece_cut", piece), {"count": "2", "by": "mass", "mass_1": "12,5x", "more": "yes"})
    html = answer.content.decode()
    assert answer.status_code == 200 and 'name="mass_3"' in html and 'value="12,5x"' in html
    assert "Nothing was stored" not in html


@pytest.mark.parametrize("count", ["", "0", "-3", "61", "99999999999", "x", "²"])
def test_a_strange_number_of_blanks_is_answered(desk, piece, count):
    url = to("workpiece_cut", piece)
    assert desk.get(url, {"count": count}).status_code == 200
    assert desk.post(url, {"count": count, "by": "equal", "see": "yes"}).status_code == 200


def test_every_trap_in_a_cut_is_answered(desk, shop, piece):
    names = ("mass_1", "length_1", "share_1", "title_1", "mass_rest", "by")
    for number, name in enumerate(names):
        for trap in TRAPS:
            lump = work.take_in_lump(mass_mg=3 * KILO, at=shop.began, by=shop.owner)
            data = {"count": "1", "by": "mass", "mass_1": "10", "keep": "on", "mass_rest": "20", name: trap}
            answer = send(desk, to("workpiece_cut", lump), data, follow=False)
            assert answer.status_code in (303, 422), (number, name, trap)


def test_a_lump_with_a_number_of_the_studios_own_making_can_be_cut(desk, shop):
    lump = work.take_in_lump(number="Old Ash", mass_mg=KILO, at=shop.began, by=shop.owner)
    assert "Cut: Old Ash/1, Old Ash/2." in text(send(desk, to("workpiece_cut", lump), {"count": "2", "by": "equal"}))


def test_parts_are_joined_with_all_their_cost(desk, shop, piece):
    data = {"parts": [str(shop.blanks[1].pk)], "stage": "piece", "title": "Jar with a lid", "form": ""}
    done = send(desk, to("workpiece_join", piece), data)
    assert "41/1, 41/2 are one now" in text(done)
    whole = Workpiece.objects.get(title="Jar with a lid")
    assert ledger.cost_of(whole.account).all_in == 50 * MONEY


def test_joining_wants_another_part(desk, piece):
    assert send(desk, to("workpiece_join", piece), {"stage": "piece"}).status_code == 422


# lost numbers


def test_a_lost_number_is_looked_for_by_what_it_is_like(desk, shop, piece):
    send(desk, to("workpiece_unnumbered", piece), {})
    piece.refresh_from_db()
    assert piece.lost_number
    page = text(desk.get(reverse("lost_numbers"), {"species": str(shop.ash.pk), "mass": "2900"}))
    assert page.index("41/1 Field ash") < page.index("41/2 Field ash")
    send(desk, reverse("number_found", args=[piece.pk]), {})
    piece.refresh_from_db()
    assert not piece.lost_number


@pytest.mark.parametrize("trap", TRAPS)
def test_a_strange_question_for_a_lost_number_is_answered(desk, shop, trap):
    for name in ("species", "mass", "length"):
        assert desk.get(reverse("lost_numbers"), {name: trap}).status_code in (200, 422)
