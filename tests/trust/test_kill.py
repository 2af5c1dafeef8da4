"""`serve` is killed outright while people post: what was answered is there, what was not can be sent again."""

import json
import os
import random
import re
import signal
import threading
import time
from collections.abc import Iterator
from http.client import HTTPException
from itertools import combinations
from pathlib import Path

import pytest

from tests import houses
from tests.houses import House
from tests.trust.hands import Hand, first_owner, new_material

pytestmark = [
    pytest.mark.race,
    pytest.mark.skipif(os.name == "nt", reason="signals are sent as other systems know them"),
]
ROUNDS = 2
HANDS = 4
GRAMS_BOUGHT, GRAMS_USED = 100, 7
# A server that dies breaks the line before an answer, or in the middle of one.
CUT_OFF = (OSError, EOFError, HTTPException)


@pytest.fixture
def data(empty_template: Path, tmp_path: Path) -> Iterator[tuple[Path, dict[str, str]]]:
    houses.copy_data(empty_template, tmp_path)
    database = houses.new_database(houses.database_of(empty_template))
    yield tmp_path, houses.environment(tmp_path, database)
    houses.drop_database(database)


def in_the_stores(hand: Hand, material: str) -> tuple[int, int]:
    """Grams and batches of a material, as its page says."""
    page = hand.open(material)
    said = re.search(r"([\d,]+) g fit for use", page.words)
    assert said, page.words
    return int(said[1].replace(",", "")), len(re.findall(r'data-label="Good until"', page.html))


class Posting:
    """Several hands that buy and use up until the server is gone, and what each form was answered."""

    def __init__(self, hand: Hand, material: str) -> None:
        self.hand, self.material = hand, material
        self.answered: list[tuple[str, dict[str, str]]] = []
        self.open: list[tuple[str, dict[str, str]]] = []
        self.wrong: list[str] = []
        self._threads = [threading.Thread(target=self._post, args=(number,)) for number in range(HANDS)]

    def start(self) -> None:
        for thread in self._threads:
            thread.start()

    def wait(self) -> None:
        for thread in self._threads:
            thread.join(120)
            assert not thread.is_alive()

    def _post(self, number: int) -> None:
        buys = number % 2 == 0
        path = self.material + ("buy/" if buys else "use/")
        typed = {"amount": str(GRAMS_BOUGHT), "paid": "12"} if buys else {"amount": str(GRAMS_USED)}
        while True:
            try:
                form = self.hand.form(path) | typed
            except CUT_OFF:
                return
            sent = (path, form)
            self.open.append(sent)
            try:
                said = self.hand.send(*sent)
            except CUT_OFF:
                return
            if said.status != 303:
                self.wrong.append(f"{path}: {said.status} {said.words[:200]}")
            self.answered.append(sent)
            self.open.remove(sent)


def grams(sent: list[tuple[str, dict[str, str]]]) -> int:
    return sum(GRAMS_BOUGHT if path.endswith("/buy/") else -GRAMS_USED for path, _ in sent)


def killed_while_posting(house: House, posting: Posting, after: int, more_s: float) -> None:
    """Kill the server once `after` forms were answered and a moment more has gone by."""
    posting.start()
    deadline = time.monotonic() + 120
    while len(posting.answered) < after and time.monotonic() < deadline:
        time.sleep(0.01)
    time.sleep(more_s)
    house.process.send_signal(signal.SIGKILL)
    house.process.wait(30)
    posting.wait()
    assert posting.wrong == []
    assert len(posting.answered) >= after


def test_killed_while_people_post_nothing_answered_is_lost_and_nothing_counts_twice(
    data: tuple[Path, dict[str, str]],
) -> None:
    folder, env = data
    random.seed(41)
    house = houses.open_house(folder, env=env)
    hand = first_owner(house.address)
    material = new_material(hand)
    assert hand.do(material + "buy/", amount="100000", paid="900").status == 303
    (before, batches), cut_off = in_the_stores(hand, material), 0
    for each in range(ROUNDS):
        posting = Posting(hand, material)
        killed_while_posting(house, posting, after=6 + 3 * each, more_s=random.uniform(0, 0.3))
        answered, waiting = grams(posting.answered), list(posting.open)
        cut_off += len(waiting)

        # The dead run's lock, note and worker are in nobody's way.
        house = houses.open_house(folder, env=env)
        assert json.loads((folder / "serving.json").read_text())["address"] == house.address
        hand.address = house.address
        # What was answered is there, whole; of what was not, each form is there whole or not at all.
        possible = {answered + grams(list(some)) for some in subsets(waiting)}
        assert in_the_stores(hand, material)[0] - before in possible
        for again in [*waiting, *posting.answered]:
            assert hand.send(*again).status == 303
        before, batches = before + answered + grams(waiting), batches + bought([*waiting, *posting.answered])
        assert in_the_stores(hand, material) == (before, batches)
        audited = house.manage("audit")
        assert audited.stdout.startswith("0 differences in "), audited.stdout + audited.stderr
    assert cut_off, "nobody was ever cut off in the middle: the kill came when all was quiet"
    house.stop()


def subsets(forms: list[tuple[str, dict[str, str]]]) -> Iterator[tuple]:
    for many in range(len(forms) + 1):
        yield from combinations(forms, many)


def bought(sent: list[tuple[str, dict[str, str]]]) -> int:
    return sum(path.endswith("/buy/") for path, _ in sent)
