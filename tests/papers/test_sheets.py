"""Many on a sheet: the right number, none on another, marks where the cuts are."""

import random
import subprocess
import sys
from dataclasses import replace
from io import BytesIO
from itertools import combinations

import pytest
from pypdf import PdfReader

from studio.papers import impose
from studio.papers.facts import Recorder
from studio.papers.impose import PAPERS, Place, marks, occupied, zones
from studio.papers.sheet import print_cards, print_tags
from tests.papers.facts_for_papers import HOSTILE, ORDINARY, TAG

A6, ID1, HANG_TAG = (148.0, 105.0), (85.60, 53.98), (92.0, 40.0)


def share(one: Place, two: Place) -> bool:
    across = min(one.right, two.right) - max(one.left, two.left)
    down = min(one.bottom, two.bottom) - max(one.top, two.top)
    return across > 0.001 and down > 0.001


@pytest.mark.parametrize(
    ("paper", "card", "margin", "count"),
    [
        ("a4", A6, 0.0, 4), ("letter", A6, 0.0, 3), ("a4", ID1, 4.5, 10), ("letter", ID1, 4.5, 10),
        ("a4", HANG_TAG, 4.5, 15), ("letter", HANG_TAG, 4.5, 14),
    ],
)  # fmt: skip
def test_a_sheet_is_filled_and_nothing_lies_on_anything(
    paper: str, card: tuple[float, float], margin: float, count: int
) -> None:
    wide, high = PAPERS[paper]
    places = [place for zone in zones(PAPERS[paper], card, margin=margin) for place in zone.places()]
    assert len(places) == count
    assert not any(share(one, two) for one, two in combinations(places, 2))
    for place in places:
        assert place.left >= margin - 0.001 and place.top >= margin - 0.001
        assert place.right <= wide - margin + 0.001 and place.bottom <= high - margin + 0.001
        assert sorted((place.width, place.height)) == sorted(card)


def test_a_card_larger_than_the_sheet_has_no_place() -> None:
    assert zones((100.0, 100.0), A6) == []


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize(("card", "margin"), [(A6, 0.0), (ID1, 4.5), (HANG_TAG, 4.5)])
def test_every_edge_of_every_card_is_marked_or_is_the_edge_of_the_sheet(
    paper: str, card: tuple[float, float], margin: float
) -> None:
    wide, high = PAPERS[paper]
    full = zones(PAPERS[paper], card, margin=margin)
    for count in range(1, sum(zone.columns * zone.rows for zone in full) + 1):
        used = occupied(full, count)
        drawn = marks(PAPERS[paper], used)
        upright = {round(mark.x1, 3) for mark in drawn if mark.x1 == mark.x2} | {0.0, round(wide, 3)}
        level = {round(mark.y1, 3) for mark in drawn if mark.y1 == mark.y2} | {0.0, round(high, 3)}
        for place in [place for zone in used for place in zone.places()]:
            assert {round(place.left, 3), round(place.right, 3)} <= upright
            assert {round(place.top, 3), round(place.bottom, 3)} <= level
        for mark in drawn:
            assert min(mark.x1, mark.x2) >= 0 and max(mark.x1, mark.x2) <= wide
            assert min(mark.y1, mark.y2) >= 0 and max(mark.y1, mark.y2) <= high


def test_no_mark_crosses_the_inside_of_a_card() -> None:
    for paper in PAPERS:
        for card, margin in ((A6, 0.0), (ID1, 4.5), (HANG_TAG, 4.5)):
            laid = zones(PAPERS[paper], card, margin=margin)
            for mark in marks(PAPERS[paper], laid):
                x, y = (mark.x1 + mark.x2) / 2, (mark.y1 + mark.y2) / 2
                for place in (place for zone in laid for place in zone.places()):
                    inside = place.left + 0.01 < x < place.right - 0.01 and place.top + 0.01 < y < place.bottom - 0.01
                    assert not inside, (paper, card, mark, place)


def test_a_last_sheet_is_marked_only_where_cards_lie() -> None:
    full = zones(PAPERS["a4"], ID1, margin=4.5)
    one = occupied(full, 1)
    assert [(zone.columns, zone.rows) for zone in one] == [(1, 1)]
    assert len(marks(PAPERS["a4"], one)) == 8 < len(marks(PAPERS["a4"], full))
    assert occupied(full, 0) == []


@pytest.mark.parametrize(
    ("paper", "size", "pages"), [("a4", "a6", 6), ("letter", "a6", 8), ("a4", "id1", 3), ("letter", "id1", 3)]
)
def test_many_cards_come_out_once_each_in_their_order(paper: str, size: str, pages: int) -> None:
    numbers = [f"{number:04}" for number in range(22, 0, -1)]
    recorder = Recorder()
    printed = print_cards(
        [replace(ORDINARY, signed_number=number) for number in numbers], size=size, paper=paper, recorder=recorder
    )
    assert printed.pages == pages == len(PdfReader(BytesIO(printed.pdf)).pages)
    assert [box.text for box in recorder.boxes if box.kind == "text:signed number"] == numbers
    assert len([box for box in recorder.boxes if box.kind == "code"]) == 22
    wide, high = (float(side) / 72 * 25.4 for side in PdfReader(BytesIO(printed.pdf)).pages[0].mediabox[2:])
    assert (wide, high) == pytest.approx(PAPERS[paper], abs=0.01)


def test_the_drawing_library_is_not_loaded_before_something_is_printed() -> None:
    heavy = "[name for name in ('reportlab', 'fontTools', 'segno', 'PIL') if name in sys.modules]"
    program = (
        f"import sys, studio.papers.sheet as s, studio.papers.facts as f; print({heavy})\n"
        f"s.print_cards([f.CardFacts('1', 'Dish')]); print({heavy})"
    )
    shown = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=60)
    before, after = shown.stdout.splitlines()
    assert before == "[]"
    assert "reportlab" in after


def test_tags_fill_sheets_too() -> None:
    assert print_tags([TAG] * 16, paper="a4").pages == 2
    assert print_tags([TAG] * 14, paper="letter").pages == 1


def test_hostile_facts_do_not_reach_the_neighbour() -> None:
    recorder = Recorder()
    print_cards([HOSTILE, ORDINARY] * 5, size="id1", paper="letter", recorder=recorder)
    boxes = [box for box in recorder.boxes if box.owner >= 0]
    assert {box.owner for box in boxes} == set(range(10))
    assert all(box.left >= 0 and box.right <= ID1[0] and box.top >= 0 and box.bottom <= ID1[1] for box in boxes)


def test_places_never_overlap_for_any_paper_and_card() -> None:
    chance = random.Random(7)
    for _ in range(200):
        paper = (chance.uniform(60, 420), chance.uniform(60, 420))
        card = (chance.uniform(20, 150), chance.uniform(20, 150))
        margin = chance.choice([0.0, 4.5])
        laid = zones(paper, card, margin=margin)
        places = [place for zone in laid for place in zone.places()]
        assert not any(share(one, two) for one, two in combinations(places, 2))
        simple = max(
            int((paper[0] - 2 * margin) // one) * int((paper[1] - 2 * margin) // two)
            for one, two in (card, card[::-1])
        )
        assert len(places) >= simple
        for place in places:
            assert place.left - margin >= -0.001 and place.right + margin <= paper[0] + 0.001
            assert place.top - margin >= -0.001 and place.bottom + margin <= paper[1] + 0.001
    assert impose.zones((10.0, 10.0), (20.0, 20.0)) == []
