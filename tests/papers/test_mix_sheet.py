"""The mix sheet: one page beside the scale, whatever the wood and the moulds are called."""

from dataclasses import replace
from io import BytesIO

import pytest
from pypdf import PdfReader

from studio.papers.facts import Recorder
from studio.papers.mix_sheet import (
    FILLS_SHOWN,
    TAGS_SHOWN,
    MixCup,
    MixFill,
    MixSheetFacts,
    MixStep,
    MixSwirl,
    print_mix_sheet,
)
from tests.papers.facts_for_papers import outside, overlapping

LONG = "Жук 木 <b>o'clock</b> " * 12
STEPS = (
    MixStep("Cup on the scale, press tare", "0", ""),
    MixStep("Part A until the scale shows", "637"),
    MixStep("Slate blue, weighed by itself: 3.2 g, stirred into Part A. The scale then shows", "640.2"),
    MixStep("Part B until the scale shows", "1277.2"),
)
ORDINARY = MixSheetFacts(
    studio_name="Skerry Turning Room", resin="Slow clear", ratio="Part A to Part B 1 to 1, by weight",
    made_on="25 November 2026", numbers=("36/4", "38/1b"), steps=STEPS,
    elsewhere=(("635", "1273.2"), ("641", "1285.2")), fills=(MixFill("The long box", "36/4, 38/1b", "1277 g"),),
    times=("The two parts touched at", "In the mould by", "Lid shut at", "Gauge", "At pressure at", "Out of it"),
    looks=("good", "soft", "void", "leak", "floated", "cloudy", "cracked"), cautions=("Gloves on, air moving.",),
)  # fmt: skip
CROWDED = MixSheetFacts(
    studio_name=LONG, resin=LONG, ratio=LONG, made_on="25 November 2026", numbers=("12345/67abc",) * 30,
    steps=(*STEPS[:2], MixStep(LONG, "1000000000"), STEPS[3]), elsewhere=(("999999999", "999999999.9"),) * 6,
    fills=(MixFill(LONG, LONG, "999999999.9 g"),) * 12, times=(LONG,) * 6, looks=ORDINARY.looks, cautions=(LONG,) * 4,
)  # fmt: skip
SEVERAL = replace(
    ORDINARY, steps=STEPS[:1], elsewhere=(), colour="Slate blue, weighed by itself, stirred into Part A",
    cups=(MixCup("2001", "10.4", "4012.4"), MixCup("2002", "10.3", "4014.3"), MixCup("2003", "10.2", "4016.2")),
    otherwise="If Part A stops elsewhere, put in as much of Part B as of Part A, weighed.",
    swirls=(MixSwirl("121", (("Brick red", "1.2"), ("Milk ice", "0.6")), "The long box"),
            MixSwirl("64", (("Kelp", "2.3"),))),
    window="The swirl cups go in not before 5 min and not after 8 min from when A meets B.",
    fills=ORDINARY.fills * 3, cautions=("Gloves on, air moving. The product's safety data sheet decides.",) * 4,
    address="https://skerry.example/pour/typed/?system=1&rows=2&mould_0=2&blanks_0=186&go=1&colorant=6&share=0.5",
)  # fmt: skip
OVERFULL = replace(
    CROWDED, steps=STEPS[:1], cups=(MixCup("99999.9", "999.9", "199999.9"),) * 30, colour=LONG, otherwise=LONG,
    elsewhere=(), swirls=(MixSwirl("99999.9", ((LONG, "99.9"),) * 2, LONG),) * 4, window=LONG, times=(LONG,) * 7,
    address=f"https://skerry.example/?{'x' * 700}",
)  # fmt: skip


@pytest.mark.parametrize(("paper", "size"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_it_is_one_page_of_the_paper_in_the_printer(paper: str, size: tuple[float, float]) -> None:
    # A4: ISO 216; Letter: 8.5 by 11 in. Points are 1/72 in.
    pages = PdfReader(BytesIO(print_mix_sheet(OVERFULL, paper=paper).pdf)).pages
    assert len(pages) == 1
    box = pages[0].mediabox
    assert [float(side) * 25.4 / 72 for side in (box.width, box.height)] == pytest.approx(size, abs=0.2)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize(
    "facts", [ORDINARY, CROWDED, SEVERAL, OVERFULL], ids=["ordinary", "crowded", "several", "overfull"]
)
def test_nothing_overlaps_and_nothing_leaves_the_page(facts: MixSheetFacts, paper: str) -> None:
    recorder = Recorder()
    print_mix_sheet(facts, paper=paper, recorder=recorder)
    size = (210.0, 297.0) if paper == "a4" else (215.9, 279.4)
    assert outside(recorder, *size) == []
    assert overlapping(recorder) == []


def test_every_target_and_every_other_stop_can_be_read_off() -> None:
    printed = print_mix_sheet(ORDINARY)
    said = " ".join(PdfReader(BytesIO(printed.pdf)).pages[0].extract_text().split())
    targets, stops = ("637", "640.2", "1277.2"), ("635", "1273.2", "641", "1285.2")
    for words in (*targets, *stops, "36/4", "38/1b", "The long box", "cloudy"):
        assert words in said
    assert printed.elided == ()


def test_what_does_not_fit_is_counted_not_dropped() -> None:
    said = " ".join(PdfReader(BytesIO(print_mix_sheet(CROWDED).pdf)).pages[0].extract_text().split())
    assert f"and {12 - FILLS_SHOWN} more" in said
    assert any(f"and {30 - shown} more" in said for shown in range(2, TAGS_SHOWN + 1))


def test_several_cups_and_their_swirls_stand_with_every_figure_and_a_code_to_type_it_in() -> None:
    recorder = Recorder()
    printed = print_mix_sheet(SEVERAL, recorder=recorder)
    said = " ".join(PdfReader(BytesIO(printed.pdf)).pages[0].extract_text().split())
    for cup in SEVERAL.cups:
        assert f"{cup.a} g" in said and f"{cup.colour} g" in said and f"{cup.b} g" in said
    for words in ("Swirl cup 1: 121 g", "Brick red 1.2 g", "Milk ice 0.6 g", "all of it into The long box",
                  "Swirl cup 2: 64 g", "Kelp 2.3 g", SEVERAL.window, SEVERAL.otherwise):  # fmt: skip
        assert words in said
    assert printed.elided == ()
    assert [box.text for box in recorder.boxes if box.kind == "code"] == [SEVERAL.address]


def test_a_full_page_keeps_its_cautions_and_counts_the_cups_it_has_no_room_for() -> None:
    full = replace(SEVERAL, cups=SEVERAL.cups * 10, swirls=SEVERAL.swirls * 2, fills=ORDINARY.fills * 12)
    for paper in ("a4", "letter"):
        said = " ".join(PdfReader(BytesIO(print_mix_sheet(full, paper=paper).pdf)).pages[0].extract_text().split())
        assert any(f"and {30 - shown} more cups" in said for shown in range(2, 12))
        assert said.count("The product's safety data sheet decides.") == 4


def test_the_same_facts_give_the_same_bytes() -> None:
    assert print_mix_sheet(ORDINARY).pdf == print_mix_sheet(ORDINARY).pdf
