"""The dry room on a phone: the weigh-in round of thirty blanks without a page load, the signal gone for some of them;
and wood that lay out too long, refused and gone past in words.
"""

import json
import re
import subprocess
import sys
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.houses import ROOT, House
from tests.web.dry_shop import BLANKS, IN_G, LOST_G
from tests.web.walk import Walk

pytestmark = pytest.mark.browser


def last(number: int) -> int:
    """Grams of blank `number` when the round begins."""
    return IN_G + 10 * number - LOST_G


@pytest.fixture(scope="module")
def house(open_studio: Callable[..., House]) -> Iterator[House]:
    house = open_studio(demo=False)
    run(house, "build")
    yield house
    house.stop()


@pytest.fixture
def shed(house: House) -> House:
    """The studio as it was built: what another test weighed is gone."""
    run(house, "forget")
    return house


def run(house: House, what: str) -> list[list]:
    done = subprocess.run(
        [sys.executable, "-m", "tests.web.dry_shop", what],
        env=house.env, cwd=ROOT, capture_output=True, text=True, timeout=300,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout or "[]")


@pytest.fixture
def hand(shed: House, phone: Page) -> Page:
    """A maker at the first blank of the round, with every page load counted."""
    phone.goto(shed.let_in("ilse"))
    phone.goto(shed.address + "/weigh/")
    phone.evaluate("window.sameAsBefore = true")
    return phone


def press(page: Page, figures: str) -> None:
    for figure in figures:
        page.locator(f'#pad [data-figure="{figure}"]').tap()


def weigh(page: Page, number: int, grams: int) -> None:
    """The last three figures of a weight, and on to the next."""
    expect(page.locator("#number")).to_have_text(f"41/{number}")
    press(page, f"{grams % 1000:03}")
    page.get_by_role("button", name="Next").tap()


def one_page(page: Page) -> bool:
    return bool(page.evaluate("window.sameAsBefore === true"))


def kept(page: Page) -> int:
    return int(page.evaluate("Object.keys(localStorage).filter((name) => name.startsWith('weighing.')).length"))


def sent(page: Page) -> None:
    """Wait until the device keeps nothing any more."""
    for _ in range(60):
        if not kept(page):
            return
        page.wait_for_timeout(250)
    raise AssertionError("weighings still wait on the device")


def test_thirty_blanks_are_weighed_without_a_page_load_and_the_shed_loses_nothing(shed: House, hand: Page) -> None:
    for number in range(1, 11):
        expect(hand.locator("#here")).to_have_text(f"{number} of {BLANKS}")
        weigh(hand, number, last(number) - 3)
    hand.context.set_offline(True)
    for number in range(11, 16):
        weigh(hand, number, last(number) - 3)
    expect(hand.locator("#waiting")).to_contain_text("5 wait for a signal. Go on weighing: nothing is lost.")
    assert kept(hand) == 5 and len(run(shed, "told")) == 10
    hand.context.set_offline(False)
    for number in range(16, BLANKS + 1):
        weigh(hand, number, last(number) - 3)
    expect(hand.locator("#walked")).to_have_text(f"All {BLANKS} are weighed.")
    sent(hand)
    expect(hand.locator("#waiting")).to_be_hidden()
    assert one_page(hand)
    stored = run(shed, "told")
    assert [(number, grams) for number, grams, *_ in stored] == [
        (f"41/{number}", last(number) - 3) for number in range(1, BLANKS + 1)
    ]
    minutes = [ago for _, _, ago, _ in stored]
    assert minutes == sorted(minutes, reverse=True) and {row[3] for row in stored} == {"oven"}
    assert shed.manage("audit").returncode == 0


def test_three_figures_are_completed_and_what_is_odd_is_asked_about(shed: House, hand: Page) -> None:
    expect(hand.locator("#last")).to_contain_text("Last 1004 g")
    press(hand, "998")
    expect(hand.locator("#makes")).to_have_text("6 g less")
    for _ in range(3):
        hand.get_by_role("button", name="Take the last figure back").tap()
    press(hand, "001")
    expect(hand.locator("#makes")).to_contain_text("= 1001 g, 3 g less")
    hand.get_by_role("button", name="No, 1 g").tap()
    hand.get_by_role("button", name="Next").tap()
    expect(hand.locator("#asks")).to_have_text("It weighed 1004 g last time. Is 1 g right?")
    hand.get_by_role("button", name="No, type it again").tap()
    press(hand, "10010")
    hand.get_by_role("button", name="Next").tap()
    hand.get_by_role("button", name="Yes, 10010 g is right").tap()
    expect(hand.locator("#number")).to_have_text("41/2")
    press(hand, "1060")
    expect(hand.locator("#makes")).to_have_text("46 g more: gained!")
    hand.get_by_role("button", name="Next").tap()
    expect(hand.locator("#asks")).to_contain_text("It gained since last time (1014 g).")
    hand.get_by_role("button", name="No, type it again").tap()
    hand.get_by_role("button", name="Skip").tap()
    expect(hand.locator("#number")).to_have_text("41/3")
    hand.get_by_role("button", name="Back", exact=True).tap()
    expect(hand.locator("#number")).to_have_text("41/2")
    sent(hand)
    assert [row[:2] for row in run(shed, "told")] == [["41/1", 10010]]


def test_what_waits_outlives_a_reload_and_what_is_refused_can_be_mended(shed: House, hand: Page) -> None:
    hand.route("**/weigh/", lambda way: way.abort() if way.request.method == "POST" else way.continue_())
    weigh(hand, 1, last(1) - 2)
    hand.get_by_label("Another, by its number").fill("99/7")
    with hand.expect_response(re.compile("find=")):
        hand.get_by_role("button", name="Weigh it").tap()
    expect(hand.locator("#not-found")).to_contain_text("Nothing carries the number 99/7")
    hand.context.set_offline(True)
    hand.get_by_role("button", name="Weigh it").tap()
    expect(hand.locator("#number")).to_have_text("99/7")
    press(hand, "112")
    hand.get_by_role("button", name="Next").tap()
    expect(hand.locator("#waiting")).to_contain_text("2 wait for a signal")
    hand.context.set_offline(False)
    hand.reload()
    expect(hand.locator("#number")).to_have_text("41/2")
    expect(hand.locator("#waiting")).to_contain_text("2 wait for a signal")
    hand.unroute("**/weigh/")
    refused = hand.locator(".refused-one")
    expect(refused).to_contain_text("You typed 112 g")
    expect(refused).to_contain_text("Nothing carries the number 99/7")
    assert [row[:2] for row in run(shed, "told")] == [["41/1", last(1) - 2]]
    refused.get_by_label("Its number").fill("41/30")
    refused.get_by_role("button", name="That is its number").tap()
    expect(refused).to_contain_text("If 112 g is right, say so")
    refused.get_by_role("button", name="Type it again").tap()
    expect(hand.locator("#number")).to_have_text("41/30")
    press(hand, "1290")
    hand.get_by_role("button", name="That is it").tap()
    expect(refused).to_have_count(0)
    sent(hand)
    assert [row[:2] for row in run(shed, "told")] == [["41/1", last(1) - 2], ["41/30", 1290]]


def test_signed_out_meanwhile_it_says_so_and_keeps_the_weights(shed: House, hand: Page) -> None:
    hand.context.clear_cookies()
    weigh(hand, 1, last(1) - 2)
    weigh(hand, 2, last(2) - 2)
    expect(hand.locator("#waiting")).to_contain_text("2 weights are kept here")
    assert kept(hand) == 2 and run(shed, "told") == []
    hand.goto(shed.let_in("ilse"))
    hand.goto(shed.address + "/weigh/")
    expect(hand.locator("#number")).to_have_text("41/3")
    sent(hand)
    assert [row[0] for row in run(shed, "told")] == ["41/1", "41/2"]


def test_every_key_is_large_enough_for_a_glove_and_nothing_hides_below(hand: Page) -> None:
    for key in hand.locator("#pad button:visible, .turn button:visible").all():
        box = key.bounding_box()
        assert box and box["height"] >= 64 and box["width"] >= 64, key.text_content()
    box = hand.get_by_role("button", name="Next").bounding_box()
    assert box and box["y"] + box["height"] <= 844
    assert hand.evaluate("document.documentElement.scrollWidth") <= 390


def test_at_a_desk_the_figures_are_typed(shed: House, desk: Page) -> None:
    desk.goto(shed.let_in("ilse"))
    desk.goto(shed.address + "/weigh/")
    desk.keyboard.type("1001")
    desk.keyboard.press("Enter")
    expect(desk.locator("#number")).to_have_text("41/2")
    sent(desk)
    assert [row[:2] for row in run(shed, "told")] == [["41/1", 1001]]


def test_signing_out_says_first_what_would_be_lost(shed: House, desk: Page) -> None:
    desk.goto(shed.let_in("ilse"))
    desk.goto(shed.address + "/weigh/")
    desk.context.set_offline(True)
    desk.keyboard.type("1001")
    desk.keyboard.press("Enter")
    expect(desk.locator("#waiting")).to_contain_text("One waits for a signal")
    desk.route("**/weigh/", lambda way: way.abort() if way.request.method == "POST" else way.continue_())
    desk.context.set_offline(False)
    desk.goto(shed.address + "/")
    desk.get_by_role("button", name="Sign out").click()
    expect(desk.locator("#trouble")).to_contain_text("One weight waits on this device and would be lost")
    desk.unroute("**/weigh/")
    desk.get_by_role("link", name="send them from the weigh-in round").click()
    sent(desk)
    assert [row[:2] for row in run(shed, "told")] == [["41/1", 1001]]


# --- what came out of the oven

TOO_LONG = "41/1 has been out of the oven 8 hours; your limit is 6 hours: an hour back in, or weigh it"
WORDS = "It goes into a thin veneer, and the client knows."


@pytest.fixture
def shelf(open_studio: Callable[..., House], phone: Page) -> Iterator[Walk]:
    """A maker with two dry blanks: one that lay out too long, one still in the oven."""
    house = open_studio(demo=False)
    run(house, "dried")
    phone.goto(house.let_in("ilse"))
    yield Walk(phone)
    assert house.manage("audit").returncode == 0
    house.stop()


def plan(walk: Walk) -> None:
    walk.go_to("Stores")
    walk.press("Plan a pour")
    walk.choose("Slow clear")
    box = walk.page.locator("#id_mould_0")
    box.select_option(label=next(o for o in box.locator("option").all_inner_texts() if o.startswith("Long box")))
    walk.page.locator("#id_blanks_0 label", has_text="41/1,").click()
    walk.press("How many grams?")


def test_wood_out_past_its_limit_is_refused_until_words_of_ones_own_go_past_it(shelf: Walk) -> None:
    shelf.go_to("Round")
    shelf.press("41/1")
    shelf.reads("Not ready to cast. " + TOO_LONG, "Skin: too long")
    plan(shelf)
    shelf.reads(TOO_LONG + ", or say on its page why it is cast all the same.")
    assert "To the scale" not in shelf.said()
    shelf.go_to("Change")
    shelf.go_to("Leave")
    shelf.go_to("Round")
    shelf.press("41/1")
    shelf.press("Cast it all the same")
    shelf.reads("Your words count until it is in the oven again.")
    shelf.fill("Why is it cast all the same?", "   ")
    shelf.page.get_by_role("button", name="Cast it all the same").click()
    shelf.reads("Why is it cast all the same?")
    shelf.fill("Why is it cast all the same?", WORDS)
    shelf.press("Cast it all the same")
    shelf.reads("41/1 may be cast. Your words stay with it.", WORDS, "It stood against it: 41/1 has been out")
    assert "Not ready to cast" not in shelf.said()
    plan(shelf)
    shelf.reads("To the scale")
    assert "has been out of the oven" not in shelf.said()


def test_a_load_goes_hot_into_its_bags_and_fog_in_one_sends_it_back(shelf: Walk) -> None:
    shelf.go_to("Round")
    shelf.press("41/2")
    shelf.press("See the load")
    shelf.press("Take it all out")
    shelf.choose("All of it went into tight bags, hot")
    shelf.press("It is out")
    shelf.reads("All of it is bagged: look for fog in an hour.")
    shelf.press("41/2")
    shelf.reads("In its bag since")
    assert "Not ready to cast" not in shelf.said()
    shelf.press("Fog in the bag")
    shelf.reads("Fog in the bag: it isn’t dry.", "Not ready to cast. 41/2 fogged its bag")
    shelf.press("Out of the bag")
    shelf.reads("its skin clock runs on", "Not ready to cast. 41/2 fogged its bag")
    shelf.press("Bagged")
    shelf.reads("41/2 is in its bag: its skin clock stands still.")
