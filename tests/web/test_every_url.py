"""Every page that links lead to, followed by each role from the first page on: none breaks, none is a dead end."""

import re
from collections import Counter, deque
from collections.abc import Iterator

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from studio.fields.quantity import show
from studio.ledger.accounts import Account
from studio.ledger.queries import costs_of
from studio.people.models import Role
from studio.selling.models import Sale
from studio.stores.models import Batch
from tests.web.pages import links
from tests.web.people_of_a_studio import open_studio, signed_in
from tests.web.small_studio import SmallStudio, coins, open_small_studio

MOST = 700
OF_A_KIND = 4  # so many blanks, batches, entries are opened; the visitor, of whom costs are kept, opens all
# {address: (answer, the page that led there, what stands there)}
Walk = dict[str, tuple[int, str, str]]
_walks: dict[str, tuple[Walk, list[str]]] = {}


@pytest.fixture
def small(db: None) -> SmallStudio:
    return open_small_studio()


def walk(client: Client, most: int = MOST, of_a_kind: int = OF_A_KIND) -> Walk:
    """What one comes to from the first page, so many addresses of each kind."""
    seen: Walk = {}
    kinds: Counter[str] = Counter()
    known: set[str] = {"/"}
    ahead = deque([("/", "")])
    while ahead and len(seen) < most:
        url, led_by = ahead.popleft()
        response = client.get(url)
        media = response.get("Content-Type", "")
        body = response.content.decode() if not response.streaming and media.startswith("text/") else ""
        seen[url] = (response.status_code, led_by, body)
        found = links(body) if media.startswith("text/html") else []
        if response.status_code in (301, 302):
            found = [response["Location"]]
        for one in found:
            # Of one list not every filter at once: each page and each single filter of it is enough.
            if one in known or one.count("&") > 1:
                continue
            known.add(one)
            kind = re.sub(r"=[^&]*", "", re.sub(r"\d+", "0", one))
            kinds[kind] += 1
            if kinds[kind] <= of_a_kind:
                ahead.append((one, url))
    return seen


def walked(small: SmallStudio, role: str) -> Walk:
    """The walk of one role, made once: the studio is the same each time, and a walk changes nothing."""
    if role not in _walks:
        with CaptureQueriesContext(connection) as asked:
            seen = walk(signed_in(small.people[role]), of_a_kind=MOST if role == "visitor" else OF_A_KIND)
        _walks[role] = (seen, [query["sql"] for query in asked])
    return _walks[role][0]


def faults(seen: Walk) -> list[str]:
    return [
        f"{code} at {url}, linked on {led_by or 'nothing'}"
        for url, (code, led_by, _) in seen.items()
        if code not in (200, 301, 302)
    ]


@pytest.mark.parametrize("role", list(Role))
def test_no_link_that_a_role_is_shown_breaks_is_dead_or_is_closed_to_it(small: SmallStudio, role: Role) -> None:
    seen = walked(small, role)
    assert len(seen) > {"owner": 150, "maker": 120, "bookkeeper": 100, "visitor": 40}[role]
    assert faults(seen) == []


def test_an_empty_studio_has_no_page_that_breaks(db: None) -> None:
    seen = walk(signed_in(open_studio()))
    assert len(seen) > 25
    assert faults(seen) == []


def test_the_walk_notices_a_dead_link(small: SmallStudio, monkeypatch: pytest.MonkeyPatch) -> None:
    from studio.web import links as addresses

    real = addresses.to
    monkeypatch.setattr(addresses, "to", lambda name, *args, **kwargs: real(name, *args, **kwargs) + "gone/")
    assert any(fault.startswith("404") for fault in faults(walk(signed_in(small.people["owner"]), most=30)))


# --- a visitor sees no cost -----------------------------------------------------------------------


def figures(small: SmallStudio) -> set[str]:
    """Costs as pages would write them. The studio's figures are odd on purpose: none comes about by chance."""
    micro: set[int] = set(Account.objects.filter(value_micro__gt=0).values_list("value_micro", flat=True))
    for cost in costs_of().values():
        micro |= {*cost.parts.values(), cost.paid_out, cost.all_in}
    for batch in Batch.objects.all():
        micro |= {batch.paid_micro, batch.paid_micro + batch.carriage_micro}
    for sale in Sale.objects.all():
        micro |= {sale.price_micro, sale.share_micro, sale.owed_micro, sale.cost_micro, sale.paid_out_micro}
    micro |= {coins(text) for text in ("31.13", "23.71", "91.37", "57.19", "38.41", "913.37", "523.00", "173.00")}
    return {show(value, "money") for value in micro if value >= coins("8.00")}


def found_in(seen: Walk, wanted: set[str]) -> Iterator[tuple[str, str]]:
    alternatives = "|".join(re.escape(figure) for figure in sorted(wanted))
    search = re.compile(rf"(?<![\d.,])(?:{alternatives})(?![\d])")
    for url, (_, _, body) in seen.items():
        for figure in set(search.findall(body)):
            yield url, figure


def test_a_visitor_finds_no_cost_on_any_page_or_in_any_file(small: SmallStudio) -> None:
    seen = walked(small, "visitor")
    assert list(found_in(seen, figures(small))) == []


def test_the_same_search_finds_the_costs_on_the_pages_of_who_may_see_them(small: SmallStudio) -> None:
    """What the search is good for: were it blind, the test above could not fail."""
    wanted = figures(small)
    found = {figure for _, figure in found_in(walked(small, "owner"), wanted)}
    assert len(found) > len(wanted) // 3


def test_a_maker_finds_no_sale_and_no_debt(small: SmallStudio) -> None:
    seen = walked(small, "maker")
    sums = {"175.05", "213.95", "113.95"}
    assert list(found_in(seen, sums)) == []
    assert {url.split("/")[1] for url, _ in found_in(seen, {"389.00"})} <= {"prices", "pieces"}, (
        "what like ones fetched"
    )
    assert {figure for _, figure in found_in(walked(small, "bookkeeper"), sums)} >= {"175.05", "113.95"}


def test_for_a_visitor_no_cost_is_even_read_from_the_database(small: SmallStudio) -> None:
    walked(small, "visitor")
    costly = re.compile(
        r'^SELECT [^;]*?"(?:ledger_line"\."value_micro|ledger_account"\."value_micro|\w+"\."paid_micro)"'
    )
    asked = [sql.partition(" FROM ") for sql in _walks["visitor"][1]]
    assert {table[:60] for columns, _, table in asked if costly.match(columns)} == set()
    walked(small, "owner")
    asked = [sql.partition(" FROM ") for sql in _walks["owner"][1]]
    assert any(costly.match(columns) for columns, _, _ in asked), "the search is blind"
