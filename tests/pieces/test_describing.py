"""Words, parts, grade and public address of a piece; bad input is refused beside its field and stores nothing."""

import pytest
from django.db import IntegrityError, transaction

from studio.pieces import operations
from studio.pieces.errors import NotLikeThat
from studio.pieces.models import Grade, Piece
from studio.pieces.operations import PartSpec
from studio.work import operations as work
from studio.work.errors import NotOnTheBench

from .conftest import BEGAN, DAY, NOW


def test_words_change_and_what_is_not_given_stays(bowl):
    operations.describe_piece(
        piece=bowl, title="Bowl with a Ł, a Ж and a 漢", finish_words="oil and wax", story="From a field edge.\nOnce."
    )
    operations.describe_piece(piece=bowl, care_words=" Keep it dry. \n\n Wipe it. ", caution_words="")
    bowl.refresh_from_db()
    assert bowl.title == "Bowl with a Ł, a Ж and a 漢"
    assert (bowl.finish_words, bowl.story) == ("oil and wax", "From a field edge.\nOnce.")
    assert (bowl.cares, bowl.cautions) == (("Keep it dry.", "Wipe it."), ())


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"title": "x" * 201}, "title"),
        ({"form": "x" * 61}, "form"),
        ({"title": "two\nlines"}, "title"),
        ({"finish_words": "bell \x07"}, "finish_words"),
        ({"story": "x" * 4001}, "story"),
        ({"care_words": "\n".join("abcdefghi")}, "care_words"),
        ({"caution_words": "x" * 201}, "caution_words"),
    ],
)
def test_words_that_don_t_fit_are_refused_beside_their_field(bowl, facts, field):
    with pytest.raises(NotLikeThat) as stop:
        operations.describe_piece(piece=bowl, **facts)
    assert stop.value.field == field
    again = Piece.objects.get(pk=bowl.pk)
    assert (again.title, again.form, again.story, again.care_words) == ("Bowl", "bowl", "", bowl.care_words)


def test_the_words_of_a_card_can_be_put_right_after_it_has_left_but_not_its_title(bowl, owner):
    operations.let_go(piece=bowl, how="gift", at=BEGAN + DAY, by=owner, now=NOW)
    operations.describe_piece(piece=bowl, title="Bowl", story="It went to a neighbour.")
    with pytest.raises(NotOnTheBench):
        operations.describe_piece(piece=bowl, title="Another bowl")
    again = Piece.objects.get(pk=bowl.pk)
    assert (again.story, again.title) == ("It went to a neighbour.", "Bowl")


def test_parts_are_named_in_order_and_their_workpieces_must_have_been_joined(make_piece, owner):
    lid, box, stranger = make_piece("7"), make_piece("8"), make_piece("9")
    whole = work.join(parts=[box.workpiece, lid.workpiece], title="Box", at=BEGAN + DAY, by=owner)
    piece = operations.become_piece(workpiece=whole, at=BEGAN + DAY, by=owner, now=NOW)
    operations.set_parts(piece=piece, parts=[PartSpec("box", box.workpiece), PartSpec("lid", lid.workpiece)])
    assert [part.words for part in piece.parts.all()] == ["box", "lid"]
    with pytest.raises(NotLikeThat, match="9 was not joined"):
        operations.set_parts(piece=piece, parts=[PartSpec("foot", stranger.workpiece)])
    with pytest.raises(NotLikeThat, match="named twice"):
        operations.set_parts(piece=piece, parts=[PartSpec("lid", lid.workpiece), PartSpec("lid", lid.workpiece)])
    with pytest.raises(NotLikeThat, match="Name the part"):
        operations.set_parts(piece=piece, parts=[PartSpec("  ")])
    with pytest.raises(NotLikeThat, match="At most"):
        operations.set_parts(piece=piece, parts=[PartSpec("bead")] * 13)
    assert [part.words for part in piece.parts.all()] == ["box", "lid"]
    operations.set_parts(piece=piece, parts=[PartSpec("box and lid")])
    assert [part.words for part in piece.parts.all()] == ["box and lid"]


def test_a_second_says_what_is_wrong_with_it(bowl):
    with pytest.raises(NotLikeThat, match="what is wrong"):
        operations.make_second(piece=bowl, reason="  ")
    operations.make_second(piece=bowl, reason="a filled crack in the foot")
    bowl.refresh_from_db()
    assert (bowl.grade, bowl.second_why) == (Grade.SECOND, "a filled crack in the foot")
    with pytest.raises(IntegrityError), transaction.atomic():
        Piece.objects.filter(pk=bowl.pk).update(second_why="")
    operations.make_first(piece=bowl)
    bowl.refresh_from_db()
    assert (bowl.grade, bowl.second_why) == (Grade.FIRST, "")


def test_the_public_address_can_t_be_guessed_and_changes_only_when_asked_to(make_piece, finish):
    one, two = make_piece("1"), make_piece("2")
    assert len(one.public_token) >= 20 and one.public_token != two.public_token
    before = one.public_token
    finish(one)
    operations.describe_piece(piece=one, title="Renamed")
    one.refresh_from_db()
    assert one.public_token == before
    assert operations.renew_token(piece=one).public_token != before
