"""Who may open and send to every address there is, against a table written by hand."""

import pytest
from django.db import transaction
from django.http import HttpResponse
from django.test import Client

from studio.people.models import Role
from tests.web.addresses import WHO, addresses, patterns
from tests.web.pages import text
from tests.web.people_of_a_studio import signed_in
from tests.web.small_studio import SmallStudio, open_small_studio

# Addresses whose page needs a query, or is in another state in the small studio: what the allowed are answered.
OPENED_ELSE = {
    "come-in": {410},  # the link is spent
    "set_up": {302},  # somebody works here already
    "sign_in": {200, 302},  # signed in already
    "pour_mix": {302},  # these go on from a plan, and lead to it without one
    "pour_book": {302},
    "pour_sheet": {302},
    "pour_ready": {302},
    "pour_held": {302},
    "pour_coat": {302},
    "pour_typed": {302},
    "papers_pdf": {200, 302, 400, 404},  # needs to be told which pieces
    "print_job": {200, 404},
    "print_file": {200, 302, 404, 409},
}


@pytest.fixture
def small(db: None) -> SmallStudio:
    return open_small_studio()


def send(client: Client, method: str, url: str) -> HttpResponse:
    """One request whose changes are undone, so that the next finds the same studio."""
    with transaction.atomic():
        response = client.get(url) if method == "GET" else client.post(url, {"submission": "a-key-of-a-form"})
        transaction.set_rollback(True)
    return response


def test_every_address_is_in_the_table_and_every_name_in_the_table_exists() -> None:
    there = {name for name, _ in patterns()}
    assert there - set(WHO) == set(), "say in tests/web/addresses.py who may open and send to these"
    assert set(WHO) - there == set(), "these are listed and no longer there"


@pytest.mark.parametrize("role", list(Role))
def test_a_role_opens_what_the_table_says_and_nothing_else(small: SmallStudio, role: Role) -> None:
    client, wrong = signed_in(small.people[role]), []
    for name, url in addresses(small).items():
        who = WHO[name][0]
        code = send(client, "GET", url).status_code
        if who == "":
            allowed = code in (403, 405)
        elif role.value[0] in who or who == "*":
            allowed = code in OPENED_ELSE.get(name, {200})
        else:
            allowed = code == 403
        if not allowed:
            wrong.append((name, url, code))
    assert wrong == []


@pytest.mark.parametrize("role", list(Role))
def test_a_role_sends_what_the_table_says_and_is_turned_away_from_the_rest(small: SmallStudio, role: Role) -> None:
    client, wrong = signed_in(small.people[role]), []
    for name, url in addresses(small).items():
        who = WHO[name][1]
        code = send(client, "POST", url).status_code
        if name == "sign_out":
            client = signed_in(small.people[role])
        if role.value[0] in who or who == "*":
            allowed = code in (200, 302, 303, 404, 409, 422)
        else:
            allowed = code in (403, 405)
        if not allowed:
            wrong.append((name, url, code))
    assert wrong == []


@pytest.mark.parametrize("method", ["GET", "POST"])
def test_nobody_signed_out_comes_further_than_the_door(small: SmallStudio, method: str) -> None:
    wrong = []
    for name, url in addresses(small).items():
        response = send(Client(), method, url)
        if "*" in WHO[name]:
            fine = response.status_code < 500
        else:
            fine = response.status_code == 302 and response["Location"].startswith("/sign-in/")
        if not fine:
            wrong.append((name, url, response.status_code))
    assert wrong == []


def test_only_these_addresses_are_open_to_anybody() -> None:
    """A screen that forgets to ask who is there would be found here, whatever the table says."""
    free = {name for name, pattern in patterns() if not getattr(pattern.callback, "login_required", True)}
    assert free == {"come-in", "sign_in", "set_up", "public_piece", "public_picture"}


def test_who_is_turned_away_is_told_whom_to_ask(small: SmallStudio) -> None:
    visitor = signed_in(small.people["visitor"])
    page = text(visitor.get("/books/").content.decode())
    assert "Not yours to do" in page and "Ask an owner or a bookkeeper" in page


def test_a_closed_sign_in_opens_nothing(small: SmallStudio) -> None:
    client = signed_in(small.people["maker"])
    type(small.people["maker"]).objects.filter(username="maker").update(is_active=False)
    assert client.get("/bench/").status_code == 302
