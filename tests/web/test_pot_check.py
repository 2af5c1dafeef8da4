"""A pot walked on a phone: what its moulds are too big for, what its plate forbids, its gauge, and the air let off.

The clock of the mix before it is heard and seen on the browser's own clock.
"""

import json
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from tests.houses import ROOT, House
from tests.web.walk import Walk

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def house(open_studio: Callable[..., House]) -> Iterator[House]:
    house = open_studio(demo=False)
    run(house, "build")
    yield house
    house.stop()


def run(house: House, what: str) -> dict:
    done = subprocess.run(
        [sys.executable, "-m", "tests.web.pot_shop", what],
        env=house.env, cwd=ROOT, capture_output=True, text=True, timeout=300,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout or "{}")


def test_nothing_goes_into_the_pot_unchecked_and_nothing_out_under_air(house: House, phone: "Page") -> None:
    walk = Walk(phone)
    phone.goto(house.let_in("ilse"))
    into_the_pot(walk, house)
    above_the_plate(walk)
    the_mould_is_tried_dry(walk)
    never_shorter_than_the_sheet(walk)
    the_gauge(walk)
    out_again(walk)
    told = run(house, "told")
    assert told == {"readings": [400_000, 300_000, 400_000, 0], "gauge": 400_000, "ended": True}


def into_the_pot(walk: Walk, house: House) -> None:
    walk.page.goto(house.address + "/pour/")
    walk.page.locator("main a", has_text="41/1").first.click()
    walk.press("Put it into the pot")
    walk.page.locator("main a", has_text="The grey pot").first.click()
    walk.reads(
        "Long box is too tall",
        "Never above 5 bar, the lower of plate and valve",
        "2.76 bar to 4.14 bar for small work",
        "as if four small cars stood on it",
        "not before",
        "Stand clear of it while air goes in.",
    )
    assert "for large" not in walk.said()


def above_the_plate(walk: Walk) -> None:
    walk.fill("What pressure will it stand under?", "80 psi")
    walk.press("It is in")
    walk.reads("That is above the relief valve's setting")
    assert walk.box("What pressure will it stand under?").input_value() == "80 psi"


def never_shorter_than_the_sheet(walk: Walk) -> None:
    soon = datetime.now(UTC) + timedelta(minutes=5)
    walk.at("Not to be opened before", soon)
    walk.press("It is in")
    walk.reads("stays under pressure until", "Give that time or a later one")
    walk.fill("Not to be opened before", "")
    walk.at("When was the lid shut?", datetime.now(UTC) - timedelta(minutes=3))
    walk.press("It is in")
    walk.reads("41/1 is in The grey pot.", "Not to be opened before")


def the_mould_is_tried_dry(walk: Walk) -> None:
    walk.fill("What pressure will it stand under?", "4 bar")
    walk.press("It is in")
    walk.reads("Does it go in all the same, and does the lid close? Then mend the measures.")
    walk.choose("Yes, that is right")


def the_gauge(walk: Walk) -> None:
    walk.press("The gauge stands at 4 bar")
    walk.reads("The grey pot stands at 4 bar.", "At 4 bar today")
    walk.press("The gauge fell")
    walk.fill("What does the gauge show?", "3 bar")
    walk.press("It shows that")
    walk.reads("It fell from 4 bar to 3 bar", "listen at the lid")
    walk.choose("Yes, that is right")
    walk.press("It shows that")
    walk.reads("The gauge fell from 4 bar to 3 bar", "stand clear of the lid")
    walk.press("The gauge stands at 4 bar")
    assert "The gauge fell from" not in walk.said()


def out_again(walk: Walk) -> None:
    walk.press("Let the air off and open")
    walk.reads("Let all the air out first.", "Vent open, the gauge at zero, then the first clamp.")
    walk.page.locator("main button", has_text="It is out").click()
    assert "ran" not in walk.said()
    walk.choose("The gauge stands at zero and the vent is open")
    walk.press("It is out")
    walk.reads("It was to stay as it is until")
    walk.choose("Yes, that is right")
    walk.press("It is out")
    walk.reads("The grey pot ran")


def test_the_clock_of_a_mix_is_seen_heard_and_survives_sleep_and_reload(house: House, phone: "Page") -> None:
    told = run(house, "plan")
    phone.goto(house.let_in("ilse"))
    phone.add_init_script(COUNTS_TONES)
    phone.clock.install(time=datetime.now(UTC))
    began = datetime.now(UTC)
    phone.goto(f"{house.address}{told['mix']}&step=b&a=500000&t0={began.isoformat().replace('+', '%2B')}")
    foot = phone.locator(".pour-clock")
    assert foot.get_attribute("data-stage") == "early"
    sound = phone.locator("[data-sound]")
    assert sound.inner_text() == "Tap once for sound"
    phone.locator(".target").click()
    assert re.match("Sound is on", sound.inner_text())
    for minutes, stage, words, tones in (
        (9, "half", "Half the time is gone. Lid shut by", 1),
        (8, "lid", "Shut the lid now.", 3),
        (4, "over", "it thickens", 7),
    ):
        phone.clock.fast_forward(minutes * 60_000)  # as a phone that slept
        phone.clock.run_for(1500)
        assert foot.get_attribute("data-stage") == stage
        assert words in foot.inner_text() and phone.evaluate("window.tones") == tones
    sound.click()
    assert sound.inner_text() == "Sound is off"
    phone.reload()
    assert phone.locator("[data-sound]").inner_text() == "Sound is off"


# A browser without loudspeakers still makes its tones: they are counted where they start.
COUNTS_TONES = """
window.tones = 0;
const start = OscillatorNode.prototype.start;
OscillatorNode.prototype.start = function (...at) { window.tones += 1; return start.apply(this, at); };
"""
