"""A number that has left the bench, or never was there: the sentence says what to do now."""

import pytest

from studio.people import operations as people
from studio.work import operations as work
from studio.work.errors import NotOnTheBench
from studio.work.queries.tags import why_absent

from .conftest import BEGAN, DAY, GRAM, HOUR


def weigh(piece, owner):
    work.weigh(workpiece=piece, mass_mg=100 * GRAM, at=BEGAN + DAY, condition="wet", by=owner, now=BEGAN + DAY)


def broke(piece, owner):
    work.it_broke(workpiece=piece, cause="checked", at=BEGAN + DAY, by=owner)


@pytest.mark.parametrize("deed", [weigh, broke])
def test_what_was_cut_up_names_what_came_of_it(lump, blanks, owner, deed):
    with pytest.raises(NotOnTheBench, match=r"41 .*it was cut up\. Take what came of it: 41/1, 41/2 or 41/3\."):
        deed(lump, owner)


@pytest.mark.parametrize("deed", [weigh, broke])
def test_what_was_joined_names_the_whole(blanks, owner, deed):
    whole = work.join(parts=blanks[:2], at=BEGAN + HOUR, by=owner)
    with pytest.raises(NotOnTheBench, match=f"Take what came of it: {whole.number}"):
        deed(blanks[0], owner)


@pytest.mark.parametrize("deed", [weigh, broke])
def test_what_was_lost_says_where_that_is_taken_back(blanks, owner, deed):
    work.it_broke(workpiece=blanks[0], cause="catch", at=BEGAN + HOUR, by=owner)
    with pytest.raises(NotOnTheBench, match="say so on the page of its loss.*Nothing was changed"):
        deed(blanks[0], owner)


@pytest.mark.parametrize("deed", [weigh, broke])
def test_what_was_given_back_says_how_it_comes_in_again(owner, deed):
    client = people.add_client(name="Ada Reed", at=BEGAN, by=owner)
    theirs = work.take_in_clients_wood(owner=client, at=BEGAN, by=owner)
    work.give_back(workpiece=theirs, at=BEGAN + HOUR, by=owner)
    with pytest.raises(NotOnTheBench, match="take it in as wood of theirs"):
        deed(theirs, owner)


@pytest.mark.parametrize(("how", "what"), [("sold", "take the sale back"), ("left", "on the page of the piece")])
def test_what_was_sold_or_given_away_says_where_it_comes_back(blanks, owner, how, what):
    blanks[0].closed_at, blanks[0].closed_as = BEGAN + HOUR, how
    blanks[0].save()
    with pytest.raises(NotOnTheBench, match=what):
        weigh(blanks[0], owner)


def test_numbers_that_are_gone_or_were_never_there_are_each_answered(lump, blanks):
    gone, unknown = why_absent(["41", "<b>x</b>"])
    assert "41 is no longer on the bench: it was cut up. Take what came of it" in gone
    assert unknown == "Nothing carries the number <b>x</b>. Look at the tag again, or leave it out."
