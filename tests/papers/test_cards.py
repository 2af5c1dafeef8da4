"""What stands on a card and a tag, whatever was typed."""

from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image
from pypdf import PdfReader

from studio.papers import card, qr, tag
from studio.papers.facts import CardFacts, Recorder, TagFacts, WoodFact
from studio.papers.pen import PICTURE_DPI, PictureUnreadable
from studio.papers.sheet import print_cards, print_tags
from tests.papers.facts_for_papers import (
    ADDRESS,
    BARE,
    HOSTILE,
    HOSTILE_TAG,
    ORDINARY,
    TAG,
    outside,
    overlapping,
)


def words_on(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


@pytest.fixture
def jpeg(tmp_path: Path) -> Path:
    path = tmp_path / "jar.jpg"
    Image.effect_noise((2400, 1800), 60).convert("RGB").save(path, quality=90)
    return path


def test_a_card_says_everything_it_knows() -> None:
    printed = print_cards([ORDINARY])
    text = words_on(printed.pdf)
    for part in (
        "0179", "Bog-oak jar with a grey seam", "Lidded jar, 2026", "Bog oak, Quercus robur.",
        "From a field drain near Harra mill. Sure of the species.", "A seam of grey resin", "148 mm across", "412 g",
        "Hard wax oil, six coats.", "Wipe with a dry cloth. Keep it out of full sun.", "Not for food or flame.",
        "Ines Thorvald", "Skerry Turning Room", "bench number 33/1",
    ):  # fmt: skip
        assert part in text
    assert printed.elided == () and printed.missing == ()


@pytest.mark.parametrize("size", ["a6", "id1"])
def test_an_ordinary_card_needs_no_shortening_on_either_size(size: str) -> None:
    assert print_cards([ORDINARY], size=size).elided == ()


@pytest.mark.parametrize("size", ["a6", "id1"])
@pytest.mark.parametrize(
    "facts", [ORDINARY, BARE, HOSTILE, CardFacts("", "")], ids=["ordinary", "bare", "hostile", "empty"]
)
def test_nothing_overlaps_and_nothing_leaves_the_card(facts: CardFacts, size: str, jpeg: Path) -> None:
    for each in (facts, replace(facts, picture_path=jpeg), replace(facts, public_url=ADDRESS + "x" * 60)):
        recorder = Recorder()
        print_cards([each], size=size, recorder=recorder)
        measures = card.SIZES[size]
        assert overlapping(recorder) == []
        assert outside(recorder, measures.width, measures.height) == []


@pytest.mark.parametrize("facts", [TAG, HOSTILE_TAG, TagFacts("12", "Dish"), TagFacts("", "")])
def test_nothing_overlaps_and_nothing_leaves_the_tag(facts: TagFacts) -> None:
    recorder = Recorder()
    print_tags([facts], recorder=recorder)
    assert overlapping(recorder) == []
    assert outside(recorder, tag.WIDTH, tag.HEIGHT) == []


def test_the_check_for_overlaps_sees_one_when_text_is_not_fitted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("studio.papers.pen.fit", unfitted)
    recorder = Recorder()
    print_cards([HOSTILE], recorder=recorder)
    assert overlapping(recorder) and outside(recorder, card.A6.width, card.A6.height)


def unfitted(setter, blocks, width, height, *, at_most=1.0):  # noqa: ANN001, ANN201
    from studio.papers import text

    return text.fit(setter, blocks, 1e6, 1e6)


def test_what_was_shortened_is_named_and_a_caution_is_kept_longest() -> None:
    printed = print_cards([HOSTILE], size="id1")
    label = "7" * 23 + "…"
    assert f"{label}: title" in printed.elided and f"{label}: note" in printed.elided
    assert f"{label}: cautions" not in printed.elided
    assert "Not for food or flame." in words_on(printed.pdf)


def test_a_title_of_two_hundred_letters_without_a_space_is_wrapped_whole_on_the_large_card() -> None:
    recorder = Recorder()
    printed = print_cards([replace(ORDINARY, title="mahogany" * 25)], recorder=recorder)
    drawn = "".join(box.text for box in recorder.boxes if box.kind == "text:title")
    assert drawn == "mahogany" * 25
    assert printed.elided == ()


@pytest.mark.parametrize("typed", ["<b>loud</b>", "javascript:alert('x')", "(a\\b) Tj", "&amp; <para>", "%PDF"])
def test_markup_and_code_are_drawn_as_they_were_typed(typed: str) -> None:
    recorder = Recorder()
    printed = print_cards([replace(ORDINARY, title=typed)], recorder=recorder)
    assert [box.text.replace(" ", "") for box in recorder.boxes if box.kind == "text:title"] == [
        typed.replace(" ", "")
    ]
    assert typed in words_on(printed.pdf)


def test_control_and_direction_marks_are_left_out_and_harmless() -> None:
    printed = print_cards([replace(ORDINARY, title="A\x00b\x1b[31m\u202ec\u2066d\ud800e\ufe0f\nf\tg")])
    assert "Ab[31mcde f g" in words_on(printed.pdf)
    assert printed.missing == ()


def test_a_card_of_empty_facts_has_no_label_hanging() -> None:
    recorder = Recorder()
    print_cards([replace(BARE, cautions=())], recorder=recorder)
    assert [box.text for box in recorder.boxes if box.text] == ["12", "Smalldish"]
    blank = Recorder()
    print_cards(
        [replace(BARE, cautions=(), signed_number=" ", title="\n", woods=(WoodFact("", "", " "),))], recorder=blank
    )
    assert [box.text for box in blank.boxes if box.text] == []


def test_every_card_has_room_to_sign() -> None:
    for facts in (ORDINARY, BARE, HOSTILE):
        for size, least in (("a6", 40.0), ("id1", 15.0)):
            recorder = Recorder()
            print_cards([facts], size=size, recorder=recorder)
            (line,) = [box for box in recorder.boxes if box.kind == "signing line"]
            assert line.right - line.left > least
            above = max(box.bottom for box in recorder.boxes if box.kind.startswith(("text:care", "text:cautions")))
            assert line.top - above > 4.5


def test_the_same_facts_give_the_same_bytes(jpeg: Path) -> None:
    facts = [replace(ORDINARY, picture_path=jpeg, title="Łódź 漢 Ж"), HOSTILE]
    assert print_cards(facts).pdf == print_cards(facts).pdf
    assert print_cards(facts[:1]).pdf != print_cards([replace(facts[0], year="2025")]).pdf


def test_a_file_says_its_title_language_and_author() -> None:
    reader = PdfReader(BytesIO(print_cards([ORDINARY], lang="en-GB").pdf))
    assert reader.metadata is not None
    assert reader.metadata.title == "Provenance card 0179, Bog-oak jar with a grey seam"
    assert reader.metadata.author == "Skerry Turning Room"
    assert reader.trailer["/Root"]["/Lang"] == "en-GB"
    assert print_cards([]).pages == 0


def test_a_picture_is_brought_down_to_what_print_can_show(jpeg: Path) -> None:
    page = PdfReader(BytesIO(print_cards([replace(ORDINARY, picture_path=jpeg)]).pdf)).pages[0]
    (picture,) = page.images
    width, height = Image.open(BytesIO(picture.data)).size
    box = card.A6.picture
    assert box is not None
    assert width <= box[0] / 25.4 * PICTURE_DPI + 1 and height <= box[1] / 25.4 * PICTURE_DPI + 1
    assert width > 300


def test_a_picture_that_is_gone_or_no_picture_is_refused_by_the_number_of_its_card(tmp_path: Path) -> None:
    broken = tmp_path / "broken.jpg"
    broken.write_bytes(b"\xff\xd8 no picture")
    for path in (tmp_path / "gone.jpg", broken):
        with pytest.raises(PictureUnreadable, match="picture for 0179 can't be opened.*print without"):
            print_cards([replace(ORDINARY, picture_path=path)])


def test_an_address_too_long_to_be_read_is_refused_and_the_larger_card_still_takes_it() -> None:
    long = replace(ORDINARY, public_url=ADDRESS + "x" * 180)
    with pytest.raises(qr.AddressTooLong, match="has 225 characters.*shorter address.*larger card"):
        print_cards([long], size="id1")
    assert print_cards([long], size="a6").pages == 1
    with pytest.raises(qr.AddressTooLong):
        print_cards([replace(ORDINARY, public_url="x" * 5000)])


def test_progress_is_told_and_what_it_raises_stops_the_work() -> None:
    told: list[tuple[int, int]] = []
    print_cards([ORDINARY] * 3, paper="a4", tick=lambda done, total: told.append((done, total)))
    assert told == [(1, 3), (2, 3), (3, 3)]

    def stop(done: int, total: int) -> None:
        if done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        print_cards([ORDINARY] * 3, tick=stop)
    assert print_cards([ORDINARY]).pages == 1
