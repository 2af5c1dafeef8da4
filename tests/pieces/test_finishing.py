"""Four ticks make a piece finished, and the share of lost pieces is charged with the last of them, once."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction

from studio.ledger import audit
from studio.ledger import queries as ledger
from studio.ledger.accounts import Component
from studio.ledger.errors import InTheFuture
from studio.people import operations as people
from studio.people.models import DatedSetting
from studio.people.settings import MissingSetting
from studio.pieces import operations
from studio.pieces.errors import NotAsThingsStand, NotLikeThat, SignedAlready
from studio.pieces.models import Piece, PiecePicture
from studio.pieces.numbers import next_signed_number
from studio.work import operations as work
from studio.work.errors import NotOnTheBench, OutOfTime
from studio.work.models import Stage, StepState

from .conftest import BEGAN, DAY, GRAM, MM, MONEY, NOW


def parts(piece):
    return ledger.cost_of(piece.workpiece.account).parts


def test_a_workpiece_becomes_a_piece_and_keeps_its_number_and_its_cost(lump, owner):
    piece = operations.become_piece(workpiece=lump, title="Ash bowl", form="bowl", at=BEGAN, by=owner, now=NOW)
    lump.refresh_from_db()
    assert (lump.stage, lump.title, lump.form, lump.number) == (Stage.PIECE, "Ash bowl", "bowl", "41")
    assert parts(piece) == {Component.WOOD: 100 * MONEY}
    assert piece.ticks_missing == ("measured", "signed", "photographed", "rested")
    assert piece.cautions == ("Not for food or flame.",)
    assert len(piece.cares) == 2


def test_a_piece_is_one_once(bowl, owner):
    with pytest.raises(NotAsThingsStand, match="a piece already"):
        operations.become_piece(workpiece=bowl.workpiece, at=BEGAN + DAY, by=owner, now=NOW)


def test_a_lump_can_t_become_a_piece_before_it_came_or_tomorrow(lump, owner):
    with pytest.raises(NotAsThingsStand):
        operations.become_piece(workpiece=lump, at=BEGAN - DAY, by=owner, now=NOW)
    with pytest.raises(InTheFuture):
        operations.become_piece(workpiece=lump, at=NOW + DAY, by=owner, now=NOW)
    lump.refresh_from_db()
    assert (lump.stage, Piece.objects.count()) == (Stage.LUMP, 0)


def test_the_fourth_tick_finishes_it_and_charges_the_share_of_lost_pieces(bowl, finish):
    done = finish(bowl)
    assert done.finished_at == BEGAN + 4 * DAY
    assert parts(bowl) == {Component.WOOD: 100 * MONEY, Component.ALLOWANCE: 15 * MONEY}
    assert ledger.entry(done.allowance_entry_id).kind == "allowance"
    assert ledger.pool_sums()["allowance"] == -15 * MONEY
    assert audit.run().differences == ()


def test_any_order_of_the_ticks_finishes_it(bowl, owner, picture):
    stamp = {"by": owner, "now": NOW}
    operations.rest(piece=bowl, at=BEGAN + 5 * DAY, **stamp)
    operations.photograph(piece=bowl, picture=picture(), at=BEGAN + DAY, **stamp)
    operations.sign(piece=bowl, at=BEGAN + DAY, **stamp)
    bowl.refresh_from_db()
    assert bowl.finished_at is None
    done = operations.measure(
        piece=bowl, length_um=90 * MM, mass_mg=200 * GRAM, at=BEGAN + 2 * DAY, sure=True, **stamp
    )
    assert done.finished_at == BEGAN + 5 * DAY


def test_the_allowance_is_charged_once_however_often_a_tick_is_pressed(bowl, finish, owner, picture):
    finish(bowl)
    stamp = {"by": owner, "now": NOW}
    operations.rest(piece=bowl, at=BEGAN + 9 * DAY, **stamp)
    operations.photograph(piece=bowl, picture=picture(), at=BEGAN + 9 * DAY, **stamp)
    operations.measure(piece=bowl, height_um=81 * MM, mass_mg=690 * GRAM, at=BEGAN + 9 * DAY, **stamp)
    assert parts(bowl)[Component.ALLOWANCE] == 15 * MONEY
    bowl.refresh_from_db()
    assert (bowl.height_um, bowl.diameter_um, bowl.mass_mg) == (81 * MM, None, 690 * GRAM)


def test_the_share_is_that_of_the_day_it_was_finished(bowl, finish, owner):
    people.set_setting(key="loss_allowance_ppm", value=200_000, by=owner, at=NOW, from_on=(BEGAN + 30 * DAY).date())
    finish(bowl, day=40)
    assert parts(bowl)[Component.ALLOWANCE] == 20 * MONEY


def test_a_share_nobody_has_said_is_asked_for_and_nothing_is_ticked(bowl, owner, picture):
    DatedSetting.objects.filter(key="loss_allowance_ppm").delete()
    stamp = {"by": owner, "now": NOW}
    operations.measure(piece=bowl, height_um=80 * MM, mass_mg=GRAM * 700, at=BEGAN + DAY, sure=True, **stamp)
    operations.sign(piece=bowl, at=BEGAN + DAY, **stamp)
    operations.photograph(piece=bowl, picture=picture(), at=BEGAN + DAY, **stamp)
    with pytest.raises(MissingSetting) as asked:
        operations.rest(piece=bowl, at=BEGAN + 2 * DAY, **stamp)
    assert asked.value.key == "loss_allowance_ppm"
    bowl.refresh_from_db()
    assert bowl.rested_at is None
    people.set_setting(key="loss_allowance_ppm", value=0, by=owner, at=NOW)
    done = operations.rest(piece=bowl, at=BEGAN + 2 * DAY, **stamp)
    assert (done.is_finished, done.allowance_entry_id) == (True, None)


def test_finishing_ends_what_is_begun_and_leaves_out_what_was_never_noted(lump, owner, finish):
    work.plan_steps(workpiece=lump, codes=["dry", "turn"])
    work.begin_step(workpiece=lump, code="turn", at=BEGAN, person=owner)
    finish(operations.become_piece(workpiece=lump, at=BEGAN, by=owner, now=NOW))
    steps = {step.code: step for step in lump.steps.all()}
    assert steps["turn"].state == StepState.DONE
    assert steps["dry"].state == StepState.SKIPPED and "finished" in steps["dry"].skipped_why


def test_a_joined_piece_whose_parts_paid_their_share_pays_only_the_rest(make_piece, finish, owner):
    lid, box = make_piece("7", 40), make_piece("8", 60)
    finish(lid)
    whole = work.join(parts=[box.workpiece, lid.workpiece], title="Lidded box", at=BEGAN + 9 * DAY, by=owner)
    piece = operations.become_piece(workpiece=whole, at=BEGAN + 9 * DAY, by=owner, now=NOW)
    assert parts(piece)[Component.ALLOWANCE] == 6 * MONEY
    finish(piece)
    assert parts(piece)[Component.ALLOWANCE] == 15 * MONEY


# --- measured ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("figures", "field"),
    [
        ({"mass_mg": 0, "height_um": 80 * MM}, "mass"),
        ({"mass_mg": -5, "height_um": 80 * MM}, "mass"),
        ({"mass_mg": 10**12, "height_um": 80 * MM}, "mass"),
        ({"mass_mg": 700 * GRAM}, "height_um"),
        ({"mass_mg": 700 * GRAM, "height_um": 5}, "height_um"),
        ({"mass_mg": 700 * GRAM, "diameter_um": 10**9}, "diameter_um"),
        ({"mass_mg": 700 * GRAM, "height_um": 80 * MM, "width_um": -1}, "width_um"),
    ],
)
def test_a_measure_that_can_t_be_is_refused_beside_its_field(bowl, owner, figures, field):
    with pytest.raises(NotLikeThat) as stop:
        operations.measure(piece=bowl, at=BEGAN + DAY, by=owner, now=NOW, **figures)
    bowl.refresh_from_db()
    assert (stop.value.field, bowl.measured_at) == (field, None)


def test_a_weight_far_from_the_last_is_asked_about(lump, owner):
    piece = operations.become_piece(workpiece=lump, at=BEGAN, by=owner, now=NOW)
    typed = {"piece": piece, "height_um": 80 * MM, "mass_mg": 70 * GRAM, "at": BEGAN + DAY, "by": owner, "now": NOW}
    with pytest.raises(OutOfTime) as asked:
        operations.measure(**typed)
    assert asked.value.code == "sure"
    operations.measure(sure=True, **typed)
    assert piece.workpiece.weighings.last().mass_mg == 70 * GRAM


def test_a_tick_before_it_was_a_piece_or_tomorrow_is_refused(bowl, owner):
    with pytest.raises(NotAsThingsStand):
        operations.rest(piece=bowl, at=BEGAN - DAY, by=owner, now=NOW)
    with pytest.raises(InTheFuture):
        operations.rest(piece=bowl, at=NOW + timedelta(minutes=1), by=owner, now=NOW)


# --- signed --------------------------------------------------------------------------------------


def signed(piece, owner, number="", day=1):
    operations.sign(piece=piece, number=number, at=BEGAN + day * DAY, by=owner, now=NOW)
    piece.refresh_from_db()
    return piece.signed_number


def test_numbers_are_given_at_signing_so_that_a_lost_piece_leaves_no_gap(make_piece, owner):
    one, lost, two = make_piece("1"), make_piece("2"), make_piece("3")
    assert signed(one, owner) == "1"
    work.it_broke(workpiece=lost.workpiece, cause="catch", at=BEGAN + DAY, by=owner)
    assert signed(two, owner) == "2"
    with pytest.raises(NotOnTheBench):
        operations.sign(piece=lost, at=BEGAN + 2 * DAY, by=owner, now=NOW)


def test_a_number_typed_by_hand_is_kept_and_counted_on_from(make_piece, owner):
    assert signed(make_piece("1"), owner, number=" 214 ") == "214"
    assert signed(make_piece("2"), owner) == "215"
    assert signed(make_piece("3"), owner, number="for Maud") == "for Maud"
    assert signed(make_piece("4"), owner) == "216"


def test_a_pattern_with_the_year_counts_from_one_each_year(make_piece, owner):
    people.set_setting(key="signed_number_pattern", value="{yy}-{nn}", by=owner, at=BEGAN)
    assert signed(make_piece("1"), owner) == "25-01"
    assert signed(make_piece("2"), owner, number="25-07") == "25-07"
    assert signed(make_piece("3"), owner) == "25-08"
    assert signed(make_piece("4"), owner, day=400) == "26-01"
    assert next_signed_number(date(2025, 12, 1))[0] == "25-09"


def test_a_number_that_is_taken_is_refused_and_a_free_one_stepped_over_to(make_piece, owner):
    first, second = make_piece("1"), make_piece("2")
    signed(first, owner, number="7")
    with pytest.raises(SignedAlready, match="7 is signed on another piece"):
        operations.sign(piece=second, number="7", at=BEGAN + DAY, by=owner, now=NOW)
    people.set_setting(key="signed_number_pattern", value="No {n}", by=owner, at=BEGAN)
    third = make_piece("3")
    Piece.objects.filter(pk=third.pk).update(signed_number="No 8")
    assert signed(second, owner) == "No 9"


def test_the_database_itself_keeps_two_pieces_from_one_number(make_piece, owner):
    first, second = make_piece("1"), make_piece("2")
    signed(first, owner)
    with pytest.raises(IntegrityError), transaction.atomic():
        Piece.objects.filter(pk=second.pk).update(signed_number="1")


def test_signed_is_signed(bowl, owner):
    signed(bowl, owner)
    with pytest.raises(SignedAlready, match="signed already: 1"):
        operations.sign(piece=bowl, number="9", at=BEGAN + DAY, by=owner, now=NOW)


# --- photographed --------------------------------------------------------------------------------


def test_the_first_picture_stands_on_the_card_until_another_is_chosen(bowl, owner, picture):
    add = {"piece": bowl, "at": BEGAN + DAY, "by": owner, "now": NOW}
    one = operations.photograph(picture=picture(), **add)
    two = operations.photograph(picture=picture(), caption="from below", **add)
    assert (one.on_card, two.on_card, two.position) == (True, False, 1)
    operations.choose_card_picture(link=two)
    assert list(PiecePicture.objects.filter(on_card=True)) == [two]
    with pytest.raises(IntegrityError), transaction.atomic():
        PiecePicture.objects.update(on_card=True)


def test_the_same_picture_twice_is_there_once(bowl, owner, picture):
    shot = picture()
    add = {"piece": bowl, "picture": shot, "at": BEGAN + DAY, "by": owner, "now": NOW}
    assert operations.photograph(**add) == operations.photograph(**add)


def test_taking_the_picture_off_hands_the_card_on_and_the_last_one_takes_the_tick(bowl, owner, picture):
    add = {"piece": bowl, "at": BEGAN + DAY, "by": owner, "now": NOW}
    one, two = (operations.photograph(picture=picture(), **add) for _ in range(2))
    operations.take_off_picture(link=one)
    two.refresh_from_db()
    assert two.on_card
    operations.take_off_picture(link=two)
    bowl.refresh_from_db()
    assert bowl.photographed_at is None


def test_the_last_picture_of_a_finished_piece_stays(bowl, finish):
    finish(bowl)
    with pytest.raises(NotAsThingsStand, match="Add another first"):
        operations.take_off_picture(link=bowl.pictures.get())
    assert bowl.pictures.count() == 1


# --- taken back ----------------------------------------------------------------------------------


def test_a_tick_taken_back_unfinishes_it_and_takes_the_allowance_back(bowl, finish, owner):
    finish(bowl)
    again = operations.untick(piece=bowl, tick="rested", at=BEGAN + 9 * DAY, by=owner, now=NOW)
    assert (again.finished_at, again.ticks_missing) == (None, ("rested",))
    assert parts(bowl) == {Component.WOOD: 100 * MONEY}
    done = operations.rest(piece=bowl, at=BEGAN + 10 * DAY, by=owner, now=NOW)
    assert done.is_finished and parts(bowl)[Component.ALLOWANCE] == 15 * MONEY


def test_the_last_number_given_is_free_again_and_an_earlier_one_stays_with_its_piece(make_piece, owner):
    first, second, third = make_piece("1"), make_piece("2"), make_piece("3")
    signed(first, owner)
    signed(second, owner)
    for piece in (first, second):
        operations.untick(piece=piece, tick="signed", at=BEGAN + 2 * DAY, by=owner, now=NOW)
    assert signed(third, owner) == "2"
    assert signed(first, owner) == "1"
    assert signed(second, owner) == "3"


def test_photographed_can_t_be_taken_back_while_there_are_pictures(bowl, finish, owner):
    finish(bowl)
    with pytest.raises(NotAsThingsStand, match="Take them off first"):
        operations.untick(piece=bowl, tick="photographed", at=BEGAN + 9 * DAY, by=owner, now=NOW)
    with pytest.raises(NotLikeThat):
        operations.untick(piece=bowl, tick="polished", at=BEGAN + 9 * DAY, by=owner, now=NOW)


def test_finished_without_its_four_ticks_is_refused_by_the_database(bowl):
    with pytest.raises(IntegrityError), transaction.atomic():
        Piece.objects.filter(pk=bowl.pk).update(finished_at=NOW)


def test_hours_after_finishing_still_reach_the_piece(bowl, finish, owner):
    finish(bowl)
    work.add_hours(
        person=owner, workpieces=[bowl.workpiece], code="finish", seconds=3600, at=BEGAN + 9 * DAY, by=owner, now=NOW
    )
    assert ledger.cost_of(bowl.workpiece.account).all_in == (100 + 15 + 30 + 12) * MONEY


def test_a_lump_turned_whole_keeps_its_number_from_the_next_lump(bowl, owner):
    assert work.take_in_lump(paid_micro=MONEY, at=BEGAN + DAY, by=owner).number == "42"


def test_two_who_sign_in_one_moment_get_different_numbers(make_piece, owner, monkeypatch):
    """The second one looked before the first had stored: its number is taken when it comes to store."""
    from studio.pieces import finishing

    first, second = make_piece("1"), make_piece("2")
    signed(first, owner)
    offered = [("1", 1, None), ("1", 1, None), ("2", 2, None)]
    monkeypatch.setattr(finishing, "next_signed_number", lambda on: offered.pop(0))
    assert signed(second, owner) == "2"
    monkeypatch.setattr(finishing, "next_signed_number", lambda on: ("1", 1, None))
    third = make_piece("3")
    with pytest.raises(SignedAlready, match="Send it again"):
        operations.sign(piece=third, at=BEGAN + DAY, by=owner, now=NOW)
    third.refresh_from_db()
    assert (third.signed_number, third.signed_at) == (None, None)
