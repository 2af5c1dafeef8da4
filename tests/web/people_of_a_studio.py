"""A fixed cast for the tests of the screens: one of each role, and how a form of theirs is filled in."""

import re
from collections.abc import Mapping
from datetime import UTC, datetime

from django.http import HttpResponse
from django.test import Client

from studio.people import operations as people
from studio.people.models import Role, User
from tests.web.pages import text

AT = datetime(2025, 3, 10, 9, 30, tzinfo=UTC)
PASSWORD = "soft wet shavings fly"


def open_studio(**changes: str) -> User:
    how = {
        "studio_name": "Hollow Tree Studio",
        "currency": "EUR",
        "length_unit": "mm",
        "temperature_unit": "°C",
        "pressure_unit": "bar",
        "time_zone": "Europe/Berlin",
        "username": "ilse",
        "display_name": "Ilse Brand",
        "password": PASSWORD,
    }
    return people.set_up_studio(**{**how, **changes}, at=AT)


def cast(owner: User) -> dict[str, User]:
    """One person of each role, by role."""
    found = {str(Role.OWNER): owner}
    for role in (Role.MAKER, Role.BOOKKEEPER, Role.VISITOR):
        found[str(role)] = people.add_user(
            username=str(role), display_name=f"The {role}", role=str(role), password=PASSWORD, by=owner, at=AT
        )
    return found


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user)
    return client


def key_on(html: str) -> str:
    """The key a form carries, as the page shows it."""
    found = re.search(r'name="submission" value="([^"]+)"', html)
    assert found, "the form has no key"
    return found[1]


def send(client: Client, url: str, data: Mapping[str, object], *, key: str | None = None) -> HttpResponse:
    """Open a form and send it filled in, as a browser does."""
    key = key if key is not None else key_on(client.get(url).content.decode())
    return client.post(url, {**data, "submission": key})


def errors_of(response: HttpResponse, field: str) -> str:
    """What stands in words beside one field, or nothing."""
    found = re.search(rf'<ul class="errorlist" id="id_{field}_error">(.*?)</ul>', response.content.decode(), re.S)
    return text(found[1]) if found else ""
