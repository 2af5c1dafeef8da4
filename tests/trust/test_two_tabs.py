"""The same form twice, from two tabs, and two people who want the same last gram, at a studio really served."""

import re
import threading
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import pytest

from tests.houses import House
from tests.trust.hands import Answer, Hand, first_owner, new_material

if TYPE_CHECKING:
    from playwright.sync_api import Page

ROUNDS = 5
MAKER = {"display_name": "Tam Reed", "username": "tam", "role": "maker", "password": "dry ash by the stove"}


@pytest.fixture(scope="module")
def house(open_studio: Callable[..., House]) -> Iterator[House]:
    house = open_studio(demo=False)
    yield house
    house.stop()


@pytest.fixture(scope="module")
def owner(house: House) -> Hand:
    hand = first_owner(house.address)
    assert hand.do("/people/add/", **MAKER).status == 303
    return hand


@pytest.fixture
def material(owner: Hand, request: pytest.FixtureRequest) -> str:
    """A material of this test's own, none of it there; the path of its page."""
    return new_material(owner, name=request.node.name[:100], kind="finish")


def entries(house: House) -> int:
    """How many entries the journal holds, and that the books add up."""
    said = house.manage("audit").stdout
    found = re.fullmatch(r"0 differences in (\d+) entries, \d+ accounts", said.strip())
    assert found, said
    return int(found[1])


def come_in(house: House, page: "Page", name: str) -> None:
    page.goto(house.let_in(name))


def said_on(page: "Page") -> str:
    """What the page says, its no-break spaces as spaces."""
    return " ".join(page.locator("main").inner_text().split())


def fill_in(page: "Page", amount: str, paid: str) -> None:
    page.get_by_label("How much came?").fill(amount)
    page.get_by_label("What was paid for it?").fill(paid)


@pytest.mark.browser
@pytest.mark.parametrize("guard", ["with the page's script", "without it"])
def test_pressed_twice_in_a_hurry_it_is_bought_once(
    house: House, owner: Hand, material: str, desk: "Page", guard: str
) -> None:
    if guard == "without it":
        desk.route("**/submit-once*.js", lambda route: route.abort())
    come_in(house, desk, "ilse")
    before = entries(house)
    desk.goto(house.address + material)
    desk.get_by_role("link", name="Buy").first.click()
    fill_in(desk, "500", "18")
    desk.get_by_role("button", name="It came in").dblclick()
    # without the script the browser drops the first answer, and its words with it: the figures must stand
    desk.wait_for_url(house.address + material)
    desk.reload()
    assert "500 g fit for use" in said_on(desk)
    assert entries(house) == before + 1


@pytest.mark.browser
def test_a_form_that_stands_in_two_tabs_counts_once(house: House, owner: Hand, material: str, desk: "Page") -> None:
    """A tab that the browser doubles or brings back shows the same form, under the same key."""
    come_in(house, desk, "ilse")
    other, third = desk.context.new_page(), desk.context.new_page()
    for tab in (desk, other, third):
        tab.goto(house.address + material + "buy/")
    key = desk.locator("form.sheet input[name=submission]").get_attribute("value")
    for tab in (other, third):
        tab.locator("form.sheet input[name=submission]").evaluate("(box, key) => { box.value = key; }", key)
    before = entries(house)
    for tab, amount in ((desk, "500"), (other, "500"), (third, "600")):
        fill_in(tab, amount, "18")
        tab.get_by_role("button", name="It came in").click()
        tab.wait_for_load_state()
    assert other.url == desk.url == house.address + material
    assert "500 g fit for use" in said_on(other)
    assert "already sent once, with other figures" in said_on(third)
    assert entries(house) == before + 1


@pytest.mark.browser
def test_two_forms_opened_one_after_the_other_are_two_purchases(
    house: House, owner: Hand, material: str, desk: "Page"
) -> None:
    """The control: where the keys differ, the same figures count for each."""
    come_in(house, desk, "ilse")
    other = desk.context.new_page()
    for tab in (desk, other):
        tab.goto(house.address + material + "buy/")
    before = entries(house)
    for tab in (desk, other):
        fill_in(tab, "500", "18")
        tab.get_by_role("button", name="It came in").click()
        tab.get_by_text("are in the stores as batch").wait_for()
    assert entries(house) == before + 2


@pytest.mark.browser
def test_two_people_draw_the_last_gram_and_the_second_is_told(
    house: House, owner: Hand, material: str, desk: "Page", phone: "Page"
) -> None:
    assert owner.do(material + "buy/", amount="40", paid="9").status == 303
    come_in(house, desk, "ilse")
    come_in(house, phone, "tam")
    for page in (desk, phone):
        page.goto(house.address + material + "use/")
        page.get_by_label("How much was used?").fill("40")
    before = entries(house)
    desk.get_by_role("button", name="It is used").click()
    desk.get_by_text("40 g out of batch").wait_for()
    phone.get_by_role("button", name="It is used").tap()
    phone.get_by_label(re.compile("is really there?")).wait_for()
    assert phone.get_by_label("How much was used?").input_value() == "40"
    assert entries(house) == before + 1
    # He looked on the shelf: there was another bottle. The same form counts it and goes on.
    phone.get_by_label(re.compile("is really there?")).fill("55")
    phone.get_by_role("button", name="It is used").tap()
    phone.get_by_text("40 g out of batch").wait_for()
    assert "15 g fit for use" in said_on(phone)
    assert entries(house) == before + 3


@pytest.mark.race
def test_of_two_people_in_the_same_moment_one_gets_the_last_gram(house: House, owner: Hand, material: str) -> None:
    maker = Hand(house.address)
    assert maker.open(house.let_in("tam")).status == 302
    for _ in range(ROUNDS):
        assert owner.do(material + "buy/", amount="40", paid="9").status == 303
        said = together(*[sends(hand, material + "use/", amount="40") for hand in (owner, maker)])
        assert sorted(answer.status for answer in said) == [303, 422]
        told = next(answer for answer in said if answer.status == 422)
        assert "is really there?" in told.words
        assert "There is none fit for use" in owner.open(material).words
    entries(house)


@pytest.mark.race
def test_the_same_form_sent_by_two_tabs_in_the_same_moment_counts_once(
    house: House, owner: Hand, material: str
) -> None:
    for bought in range(1, ROUNDS + 1):
        said = together(*[sends(owner, material + "buy/", amount="40", paid="9")] * 4)
        assert {(answer.status, answer.where) for answer in said} == {(303, material)}
        assert f"{40 * bought} g fit for use" in owner.open(material).words


def sends(hand: Hand, path: str, **typed: str) -> Callable[[], Answer]:
    """A form that lies open, filled in, and is sent whenever it is called."""
    form = hand.form(path) | typed
    return lambda: hand.send(path, form)


def together(*deeds: Callable[[], Answer]) -> list[Answer]:
    """Let them go at the same moment; what each was answered."""
    gate, answers = threading.Barrier(len(deeds)), []

    def do(deed: Callable[[], Answer]) -> None:
        gate.wait(30)
        answers.append(deed())

    threads = [threading.Thread(target=do, args=(deed,)) for deed in deeds]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(90)
    assert len(answers) == len(deeds)
    return answers
