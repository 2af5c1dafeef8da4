"""A pour walked with gloves on, on a phone: three moulds, two colours, an overshoot, leftovers; then the books.

Everything is pressed, read and typed in a real browser. What the stores hold, what the castings carry and what the
audit says is compared afterwards, to the milligram.
"""

import json
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import pytest

from tests.houses import ROOT, House
from tests.web.pour_desk_shop import HOLDS_MM3
from tests.web.walk import Walk

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser
MOULDS = tuple(HOLDS_MM3)


@pytest.fixture(scope="module")
def house(open_studio: Callable[..., House]) -> Iterator[House]:
    house = open_studio(demo=False)
    run(house, "build")
    yield house
    house.stop()


def run(house: House, what: str) -> dict:
    done = subprocess.run(
        [sys.executable, "-m", "tests.web.pour_desk_shop", what],
        env=house.env, cwd=ROOT, capture_output=True, text=True, timeout=300,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout or "{}")


def test_a_pour_in_gloves_is_right_to_the_milligram(house: House, phone: "Page") -> None:
    walk = Walk(phone)
    phone.goto(house.let_in("ilse"))
    phone.goto(house.address + "/stores/")
    plan(walk)
    at_the_moulds(walk)
    mix(walk)
    book(walk)
    to_the_milligram(run(house, "told"))
    out_of_the_moulds(walk)
    to_the_milligram(told := run(house, "told"))
    assert told["cup"] == 60_000 and told["floor"] == 609_000 * 2 + 7_300 - 402_000 - 302_000 - 395_000 - 60_000
    assert told["seen"] == {"41/1": ["good"], "41/2": ["void", "cloudy"], "41/3": ["good"]}
    audited = house.manage("audit")
    assert re.match(r"0 differences in \d+ entries", audited.stdout), audited.stdout + audited.stderr


def plan(walk: Walk) -> None:
    walk.go_to("Stores")
    walk.press("Plan a pour")
    for _ in MOULDS[1:]:
        walk.press("Another mould from the same cup")
    walk.press("A cup for a swirl, coloured after mixing")
    walk.choose("Slow clear")
    for row, mould in enumerate(MOULDS):
        box = walk.page.locator(f"#id_mould_{row}")
        box.select_option(label=next(o for o in box.locator("option").all_inner_texts() if o.startswith(mould)))
        walk.page.locator(f"#id_blanks_{row} label", has_text=f"41/{row + 1},").click()
    walk.page.locator("#id_colorant").select_option(label="Slate blue")
    walk.page.locator("#id_share").fill("0.5")
    walk.page.locator("#id_takes_0").fill("10")
    walk.page.locator("#id_colour_0_0").select_option(label="Brick red")
    walk.page.locator("#id_strength_0_0").fill("1")
    walk.press("How many grams?")
    walk.reads(
        "Cup 0 A 605 Colour 611.1 B 1216.1",
        "The moulds take 1100 g",
        "In Third pail, 800 ml of wood at 500 kg/m³ lifts 400 g: screw, wedge or weight.",
        "Swirl cup 1: 121 g of the mix, 1.2 g of Brick red stirred in.",
        "not before 10 min and not after 16 min from when A meets B",
    )


def at_the_moulds(walk: Walk) -> None:
    """All is done at two of them; at the third one thing is left, which the scale asks about."""
    walk.page.get_by_role("link", name="Held by a screw: where?").first.click()
    walk.fill("Where does a screw sit in it?", "in the foot, 20 mm deep")
    walk.press("It is held down")
    walk.reads("Screw: in the foot, 20 mm deep")
    for place in range(2):
        with walk.page.expect_navigation():
            walk.page.locator(f'button[value="{place} all on"]').click()
    for what in ("released", "sealed", "held", "coated"):
        with walk.page.expect_navigation():
            walk.page.locator(f'button[value="2 {what} on"]').click()
    walk.press("To the scale")
    walk.reads("Before you mix", "Third pail: not levelled.")
    walk.press("To the moulds")
    with walk.page.expect_navigation():
        walk.page.locator('button[value="2 level on"]').click()


def mix(walk: Walk) -> None:
    walk.press("To the scale")
    walk.reads("Cup on the scale, press tare. Add Part A until it shows", "605 g", "Gloves on, air moving.")
    walk.fill("Only if it stopped elsewhere: the scale shows", "609")
    walk.press("On target")
    walk.reads("Weigh Slate blue by itself and stir it into", "6.1 g")
    walk.press("It is in")
    walk.reads("A went to 609, 605 was planned.", "B is raised from 605 to 609", "1224.1 g")
    assert "Lid shut by" in walk.page.locator("footer").inner_text()
    walk.press("On target")
    walk.reads("Take the cups out of the mix", "1.2 g of Brick red")
    walk.press("They are in")


def book(walk: Walk) -> None:
    assert walk.box("Part A in the cup").input_value() == "609"
    assert walk.box("Swirl cup 1: how much of the mix?").input_value() == "121"
    assert walk.box("Brick red in it").input_value() == "1.2"
    walk.fill("How would you call the colour?", "slate with a red swirl")
    walk.press("It is poured")
    walk.reads("1218 g are poured into 41/1, 41/2, 41/3.", "Not out of the mould before", "slate with a red swirl")


def to_the_milligram(told: dict) -> None:
    """4 kg of A had cost 80 and of B 60: 20 and 15 millionths a milligram. 50 g of blue cost 10, 20 g of red 7."""
    left = {name: told["left"][name] for name in ("Clear A", "Clear B", "Slate blue", "Brick red")}
    assert left == {"Clear A": 3_391_000, "Clear B": 3_391_000, "Slate blue": 43_900, "Brick red": 18_800}
    assert told["poured"] == [609_000, 609_000]
    shares = told["shares"]
    # 440, 330 and 440 g were planned: the rest of each casting's share is by the largest remainder
    assert [share for share, _, _ in shares.values()] == [442_909, 332_182, 442_909]
    assert [screw for _, screw, _ in shares.values()] == ["in the foot, 20 mm deep", "", ""]
    assert sum(parts["resin"] for _, _, parts in shares.values()) == 609_000 * 20 + 609_000 * 15
    assert sum(parts["colorant"] for _, _, parts in shares.values()) == 6_100 * 200 + 1_200 * 350


def out_of_the_moulds(walk: Walk) -> None:
    """Too early by the sheet and 200 g too heavy: both are asked at once; put right, the tick goes for the hour."""
    walk.press("Out of the mould")
    for place, what in ((0, "good"), (1, "void"), (1, "cloudy"), (2, "good")):
        walk.page.locator("label", has=walk.page.locator(f'input[value="{what}"]')).nth(place).click()
    for number, grams in (("41/1", "902"), ("41/2", "502"), ("41/3", "795")):
        walk.fill(f"What does {number} weigh now?", grams)
    walk.fill("What is left in the cup?", "60")
    walk.press("It is out")
    walk.reads("It is too early by the resin's sheet", "the castings and the cup hold 133.7 g more than was mixed")
    assert walk.box("What does 41/3 weigh now?").input_value() == "795"
    walk.fill("What does 41/1 weigh now?", "702")
    walk.choose("Yes, that is right")
    walk.press("It is out")
    walk.reads("41/1, 41/2, 41/3 out of the mould.", "Where it went", "Left in the cup", "60 g", "66.3 g", "a void")
    walk.press("41/1")
    walk.reads("What waits", "the resin cures", "looks good")
