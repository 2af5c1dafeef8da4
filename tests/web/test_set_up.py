"""The first page of an empty studio, and that it is the first and the last time it is shown."""

import re

import pytest
from django.test import Client
from django.utils.html import escape

from studio.people import settings as answers
from studio.people.models import User

GOOD = {
    "studio_name": "Hollow Tree Studio",
    "currency": "EUR",
    "units": "inch",
    "number_format": "1.234,56",
    "time_zone": "Europe/Oslo",
    "display_name": "Ilse Brand",
    "username": "Ilse",
    "password": "soft wet shavings fly",
}


@pytest.fixture
def browser_client(db: None) -> Client:
    return Client()


def post(client: Client, **changes: str):
    return client.post("/set-up/", {**GOOD, **changes})


def test_an_empty_studio_leads_every_address_to_its_four_questions(browser_client: Client) -> None:
    page = browser_client.get("/settings/", follow=True)
    assert page.redirect_chain[-1][0] == "/set-up/"
    legends = re.findall(r"<legend>(\d\. [^<]*)</legend>", page.content.decode())
    assert legends == ["1. The studio", "2. The money", "3. How you measure", "4. You"]


def test_the_four_answers_open_the_studio_and_sign_its_owner_in(browser_client: Client) -> None:
    response = post(browser_client)
    assert (response.status_code, response["Location"]) == (303, "/")
    owner = User.objects.get()
    assert (owner.username, owner.role, owner.display_name) == ("ilse", "owner", "Ilse Brand")
    assert int(browser_client.session["_auth_user_id"]) == owner.pk
    kept = {key: answers.known(key) for key in ("studio_name", "currency", "number_format", "time_zone")}
    assert kept == {key: GOOD[key] for key in kept}
    assert [answers.known(key) for key in ("length_unit", "temperature_unit", "pressure_unit")] == ["in", "°F", "psi"]


def test_the_page_is_shut_once_somebody_works_here(browser_client: Client) -> None:
    post(browser_client)
    stranger = Client()
    assert stranger.get("/set-up/")["Location"] == "/"
    assert post(stranger, username="mallory")["Location"] == "/"
    assert [user.username for user in User.objects.all()] == ["ilse"]
    assert "_auth_user_id" not in stranger.session


def test_sent_twice_it_opens_one_studio(browser_client: Client) -> None:
    assert post(browser_client)["Location"] == "/"
    assert post(browser_client)["Location"] == "/"
    assert User.objects.count() == 1


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("studio_name", "", "Nothing is written here yet."),
        ("studio_name", "x" * 201, "at most 200 characters"),
        ("currency", "", "Choose one of these."),
        ("currency", "ZZZ", "not one of the available choices"),
        ("time_zone", "Atlantis/Main Street", "not one of the available choices"),
        ("username", "two words", "no spaces"),
        ("password", "short", "Use 12 or more"),
        ("password", "hollow tree studio", "little more than names"),
        ("display_name", "   ", "Nothing is written here yet."),
    ],
)
def test_a_wrong_answer_is_told_beside_its_field_and_nothing_is_stored(
    browser_client: Client, field: str, typed: str, sentence: str
) -> None:
    response = post(browser_client, **{field: typed})
    html = response.content.decode()
    assert response.status_code == 422
    errors = re.search(rf'<ul class="errorlist" id="id_{field}_error">(.*?)</ul>', html)
    assert errors and sentence in errors[1]
    assert not User.objects.exists() and answers.known("studio_name") is None
    assert field == "studio_name" or 'value="Hollow Tree Studio"' in html, "what was typed stays"


def test_a_password_is_never_sent_back(browser_client: Client) -> None:
    assert "soft wet shavings fly" not in post(browser_client, currency="").content.decode()


@pytest.mark.parametrize("name", ["Łódź Гравировка 漢字", "<b>Wood</b>", "O'Brien's", "x" * 200])
def test_any_name_can_be_a_studio(browser_client: Client, name: str) -> None:
    post(browser_client, studio_name=name)
    assert answers.known("studio_name") == name
    page = browser_client.get("/settings/").content.decode()
    assert escape(name) in page and "<b>Wood</b>" not in page
