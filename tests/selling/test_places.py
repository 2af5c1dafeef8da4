from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from studio.ledger.errors import InTheFuture
from studio.pieces import operations as pieces
from studio.selling import operations, queries
from studio.selling.errors import CannotLeave, NotLikeThat, NotThere
from studio.selling.models import Placement
from studio.work import operations as work
from tests.selling.shelf import BEGAN, DAY, day, finish


def test_a_piece_left_with_a_gallery_is_there_until_it_is_taken_back(bowl, harbour, owner):
    (placement,) = operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)
    there = queries.where_is([bowl.pk])[bowl.pk]
    assert (there.kind, there.words, there.since, there.gallery) == (
        "gallery", "with Harbour Rooms", day(2), harbour,
    )  # fmt: skip
    operations.take_back(placement=placement, why="fair", at=day(9), by=owner)
    assert queries.where_is([bowl.pk])[bowl.pk].kind == "shelf"


def test_a_piece_is_in_one_place_at_a_time(bowl, harbour, mill, owner):
    operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)
    with pytest.raises(CannotLeave, match="with Harbour Rooms since 12 March 2025"):
        operations.leave_with(pieces=[bowl], gallery=mill, at=day(3), by=owner)


def test_the_database_itself_holds_one_place_at_a_time(bowl, harbour, mill, owner):
    operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)
    with pytest.raises(IntegrityError), transaction.atomic():
        Placement.objects.create(piece=bowl, gallery=mill, left_at=day(3), left_on=day(3).date())


def test_a_finished_piece_at_a_gallery_keeps_its_ticks_until_it_is_taken_back(bowl, harbour, owner):
    (placement,) = operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)
    with pytest.raises(NotThere, match="is with Harbour Rooms. Take it back first"):
        pieces.untick(piece=bowl, tick="rested", at=day(3), by=owner)
    bowl.refresh_from_db()
    assert bowl.is_finished and bowl.rested_at is not None
    operations.take_back(placement=placement, why="fair", at=day(4), by=owner)
    assert not pieces.untick(piece=bowl, tick="rested", at=day(5), by=owner).is_finished


def test_what_is_not_finished_not_priced_or_kept_stays_and_each_is_told(make, harbour, owner):
    rough, dear, kept, good = (
        make("41", finished=False), make("42", asking=None), make("43"), make("44"),
    )  # fmt: skip
    work.hold(workpiece=kept.workpiece, reason="for commission 7", ref="commission:7")
    with pytest.raises(CannotLeave) as stop:
        operations.leave_with(pieces=[rough, dear, kept, good], gallery=harbour, at=day(2), by=owner)
    assert stop.value.reasons == (
        "41 isn't finished: it is still to be measured, signed, photographed and rested.",
        f"{dear} has no asking price. Set one first.",
        f"{kept} is kept: for commission 7. Let go of it there first.",
    )
    assert not Placement.objects.exists()


def test_a_price_taken_off_counts_as_none(bowl, harbour, owner):
    pieces.withdraw_price(piece=bowl, at=day(1), by=owner)
    with pytest.raises(CannotLeave, match="no asking price"):
        operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)


def test_what_was_sold_or_given_away_can_go_nowhere(make, harbour, owner):
    sold, given = make("41"), make("42")
    operations.sell(piece=sold, price_micro=300_000_000, at=day(2), by=owner)
    pieces.let_go(piece=given, how="gift", at=day(2), by=owner)
    with pytest.raises(CannotLeave) as stop:
        operations.leave_with(pieces=[sold, given], gallery=harbour, at=day(3), by=owner)
    assert [reason.split(":")[1].strip() for reason in stop.value.reasons] == [
        "it was sold on 12 March 2025.",
        "it was left without a sale on 12 March 2025.",
    ]


def test_a_clients_own_wood_goes_to_no_gallery(harbour, owner, orla):
    theirs = work.take_in_clients_wood(owner=orla, number="50", at=BEGAN, by=owner)
    piece = finish(pieces.become_piece(workpiece=theirs, at=BEGAN, by=owner), owner, day(1))
    pieces.set_asking_price(piece=piece, amount_micro=90_000_000, at=day(1), by=owner)
    with pytest.raises(CannotLeave, match="client's own wood"):
        operations.leave_with(pieces=[piece], gallery=harbour, at=day(2), by=owner)


def test_times_that_cannot_be_are_refused(bowl, harbour, mill, owner):
    with pytest.raises(InTheFuture):
        operations.leave_with(pieces=[bowl], gallery=harbour, at=timezone.now() + DAY, by=owner)
    with pytest.raises(CannotLeave, match="was finished on"):
        operations.leave_with(pieces=[bowl], gallery=harbour, at=day(1) - timedelta(hours=1), by=owner)
    (placement,) = operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)
    with pytest.raises(NotThere, match="later than that"):
        operations.take_back(placement=placement, why="fair", at=day(1), by=owner)
    operations.take_back(placement=placement, why="fair", at=day(5), by=owner)
    with pytest.raises(CannotLeave, match="elsewhere until"):
        operations.leave_with(pieces=[bowl], gallery=mill, at=day(4), by=owner)


def test_a_piece_is_taken_back_once_and_with_a_word_why(bowl, harbour, owner):
    (placement,) = operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)
    with pytest.raises(NotLikeThat) as stop:
        operations.take_back(placement=placement, why=" ", at=day(3), by=owner)
    assert stop.value.field == "why"
    operations.take_back(placement=placement, why="fair", at=day(3), by=owner)
    with pytest.raises(NotThere, match="already"):
        operations.take_back(placement=placement, why="fair", at=day(4), by=owner)


def test_a_piece_at_a_gallery_is_not_given_away(bowl, harbour, owner):
    operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)
    with pytest.raises(NotThere, match="Take it back first"):
        pieces.let_go(piece=bowl, how="gift", at=day(3), by=owner)


def test_a_piece_that_broke_at_the_gallery_is_no_longer_counted_there(bowl, harbour, owner):
    operations.leave_with(pieces=[bowl], gallery=harbour, at=day(2), by=owner)
    work.it_broke(workpiece=bowl.workpiece, cause="accident", at=day(3), by=owner)
    (row,) = queries.galleries()
    assert (row.held, row.asking_micro) == (0, 0)
    assert queries.where_is([bowl.pk])[bowl.pk].words == "lost"


def test_nothing_chosen_is_asked_about(harbour, owner):
    with pytest.raises(NotLikeThat) as stop:
        operations.leave_with(pieces=[], gallery=harbour, at=day(2), by=owner)
    assert stop.value.field == "pieces"
