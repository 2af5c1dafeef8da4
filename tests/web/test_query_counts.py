"""Every page asks the database as often for a thousand rows as for ten: lists, pages of one thing, and forms.

One test for all of them, because filling a studio with 200,000 rows is what takes the time.
"""

import re
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from django.db import connection, transaction
from django.test import Client

from studio.work.models import Weighing
from tests import houses
from tests.web.addresses import WHO, address, patterns
from tests.web.many import Many
from tests.web.people_of_a_studio import signed_in
from tests.web.small_studio import SmallStudio, open_small_studio

pytestmark = pytest.mark.skipif(bool(houses.POSTGRES), reason="a studio is told again and again on SQLite only")
FEW, MANY = 10, 1000
# Answered with something else than a page in the small studio, or by sending on; counted all the same.
ELSE = {"come-in": 410, "sign_in": 302, "set_up": 302, "papers_pdf": 302, "print_file": 404, "pour_mix": 302,
        "pour_book": 302, "pour_sheet": 302, "pour_ready": 302, "pour_held": 302, "pour_coat": 302,
        "pour_typed": 302}  # fmt: skip
# Lists whose filters and later pages are opened too.
QUERIES = {
    "bench": (
        "?page=2",
        "?closed=lost",
        "?sort=-number",
        "?q=ash",
        "?stage=lump",
        "?step=clean&q=ash&sort=-mass_mg&page=3",
    ),
    "wood": ("?page=2", "?rest=waits&sort=mass_mg"),
    "pieces": ("?show=all&page=2", "?show=sold", "?show=finishing", "?search=bowl"),
    "galleries": ("?closed=1",),
    "journal": ("?page=3", "?kind=hours"),
    "machine": ("?page=2",),
    "clients": ("?search=client",),
    "papers": ("?page=2",),
}
Asked = dict[str, list[str]]


@pytest.fixture
def small(db: None) -> SmallStudio:
    return open_small_studio()


def pages(small: SmallStudio) -> dict[str, str]:
    """Every address an owner opens, by its name, and some with what may follow it."""
    found = {
        name: address(name, pattern, small)
        for name, pattern in patterns()
        if name in WHO and ("o" in WHO[name][0] or WHO[name][0] == "*")
    }
    return found | {f"{name}{query}": found[name] + query for name, more in QUERIES.items() for query in more}


@contextmanager
def listening() -> Iterator[list[str]]:
    """Every statement, as it is sent: Django's own way of catching them writes each one's thousand values out."""
    heard: list[str] = []

    def hear(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        heard.append(sql)
        return execute(sql, params, many, context)

    with connection.execute_wrapper(hear):
        yield heard


def asked(client: Client, urls: dict[str, str]) -> Asked:
    """What each of these pages asked of the database."""
    found = {}
    for name, url in urls.items():
        with listening() as found[name]:
            answer = client.get(url)
        assert answer.status_code == ELSE.get(name, 200), f"{url} answered {answer.status_code}"
    return found


def with_many(small: SmallStudio, client: Client, urls: dict[str, str], count: int) -> Asked:
    with transaction.atomic():
        Many(small, count).tell()
        client.get("/")
        found = asked(client, urls)
        transaction.set_rollback(True)
    return found


def more_often(few: Asked, many: Asked) -> list[str]:
    """The pages that asked another number of times, each with what it asked most often."""
    told = []
    for name, queries in many.items():
        if len(queries) != len(few[name]):
            alike = Counter(re.sub(r"(%s, )+", "", sql) for sql in queries)
            sql, times = alike.most_common(1)[0]
            told.append(f"{name}: {len(few[name])} questions for ten, {len(queries)} for a thousand; {times} × {sql}")
    return told


def test_every_page_asks_as_often_for_a_thousand_of_everything_as_for_ten(small: SmallStudio) -> None:
    client, urls = signed_in(small.owner), pages(small)
    few, many = (with_many(small, client, urls, count) for count in (FEW, MANY))
    assert more_often(few, many) == []


def test_a_question_for_each_row_is_told_with_its_page(small: SmallStudio) -> None:
    """What the test above is good for: were it blind, it could not fail."""

    def read(count: int) -> Asked:
        with listening() as heard:
            for pk in range(count):
                Weighing.objects.filter(pk=pk).first()
        return {"weighings": heard}

    assert more_often(read(2), read(2)) == []
    (told,) = more_often(read(1), read(7))
    assert told.startswith("weighings: 1 questions for ten, 7 for a thousand; 7 × SELECT")
