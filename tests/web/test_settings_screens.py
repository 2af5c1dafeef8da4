"""What the studio settles: shown with whose figure it is, changed from a day on, refused in a sentence."""

from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from studio.people import settings as answers
from studio.people.models import DatedSetting, User
from studio.people.questions import QUESTIONS, REGISTRY
from tests.web.pages import text
from tests.web.people_of_a_studio import AT, cast, errors_of, key_on, open_studio, send, signed_in


@pytest.fixture
def owner(db: None) -> User:
    return open_studio()


@pytest.fixture
def client(owner: User) -> Client:
    return signed_in(owner)


def page(client: Client) -> str:
    return client.get(reverse("settings")).content.decode()


def test_every_question_is_on_the_page_with_a_way_to_answer_it(client: Client) -> None:
    html = page(client)
    for question in QUESTIONS:
        assert f'id="{question.key}"' in html
        assert reverse("setting", args=[question.key]) in html


@pytest.mark.parametrize("key", REGISTRY)
def test_every_question_opens_and_what_is_proposed_reads_back(client: Client, key: str) -> None:
    url = reverse("setting", args=[key])
    html = client.get(url).content.decode()
    assert text(html).count("Your answer") >= 1
    held = answers.known(key, date(2025, 3, 10)) or REGISTRY[key].suggestion
    if held is None:
        return
    shown = answers.show(key, held, formats=answers.formats(), boxed=True)
    response = send(client, url, {"value": shown, "from_on": "2025-03-10"})
    assert response.status_code == 303, text(response.content.decode())
    assert answers.value(key, date(2025, 3, 10)) == held


def test_a_figure_holds_from_its_day_on_and_the_page_shows_what_was_said_before(client: Client) -> None:
    url = reverse("setting", args=["tariff_micro"])
    send(client, url, {"value": "0.30", "from_on": "2025-01-01"})
    response = send(client, url, {"value": "0.34", "from_on": "2025-06-01"})
    assert response["Location"].endswith("#tariff_micro")
    assert answers.value("tariff_micro", date(2025, 5, 31)) == 300_000
    assert answers.value("tariff_micro", date(2025, 6, 1)) == 340_000
    told = text(page(client))
    assert "What does a kilowatt-hour cost? 0.34 from" in told
    assert told.count("0.30") == 1


def test_sent_twice_it_is_said_once(client: Client) -> None:
    url = reverse("setting", args=["tariff_micro"])
    key = key_on(client.get(url).content.decode())
    body = {"value": "0.30", "from_on": "2025-01-01"}
    assert send(client, url, body, key=key).status_code == 303
    assert send(client, url, body, key=key).status_code == 303
    assert DatedSetting.objects.filter(key="tariff_micro").count() == 1
    other = send(client, url, {**body, "value": "0.40"}, key=key)
    assert other.status_code == 409 and answers.value("tariff_micro", date(2025, 1, 2)) == 300_000


@pytest.mark.parametrize(
    ("key", "typed", "sentence"),
    [
        ("tariff_micro", "", "can't stay empty"),
        ("tariff_micro", "-1", "less than nothing"),
        ("tariff_micro", "0,30", "0,30"),
        ("tariff_micro", "<b>x", "<b>x"),
        ("gallery_share_ppm", "120 %", "between 0 and 100 percent"),
        ("altitude_m", "9000 m", "between 450 m below"),
        ("normal_hours_s", "0", "at least one hour"),
        ("currency", "ZZZ", "three letters of a currency"),
        ("time_zone", "Mars/Base", "no time zone of that name"),
        ("signed_number_pattern", "{nn", "brace is left open"),
        ("base_url", "javascript:alert(1)", "whole address"),
        ("forms", "bowl\nBowl", "on the list twice"),
        ("studio_name", "x" * 201, "200 is the most"),
        ("date_style", "backwards", "Choose one of"),
        ("prices_include_tax", "perhaps", "Answer yes or no"),
    ],
)
def test_a_wrong_answer_is_told_by_its_field_and_what_was_typed_stays(
    client: Client, key: str, typed: str, sentence: str
) -> None:
    before = DatedSetting.objects.count()
    response = send(client, reverse("setting", args=[key]), {"value": typed, "from_on": "2025-01-01"})
    assert response.status_code == 422
    assert sentence in errors_of(response, "value")
    assert DatedSetting.objects.count() == before


@pytest.mark.parametrize("day", ["1873-01-01", "2099-01-01", "yesterday", "2025-02-30"])
def test_a_day_that_cant_be_meant_is_asked_again(client: Client, day: str) -> None:
    response = send(client, reverse("setting", args=["tariff_micro"]), {"value": "0.30", "from_on": day})
    assert response.status_code == 422 and errors_of(response, "from_on")
    assert not DatedSetting.objects.filter(key="tariff_micro").exists()


@pytest.mark.parametrize("name", ["Łódź Гравировка 漢字", "<b>Wood</b>", "O'Brien's"])
def test_any_name_is_kept_and_shown_as_text(client: Client, name: str) -> None:
    send(client, reverse("setting", args=["studio_name"]), {"value": name})
    html = page(client)
    assert "<b>Wood</b>" not in html and name in text(html)
    assert answers.value("studio_name") == name


def test_the_currency_is_refused_beside_its_field_once_money_is_in_the_books(client: Client, owner: User) -> None:
    from studio.ledger import operations as ledger
    from studio.ledger.accounts import Kind

    ledger.pay_bill(what=Kind.OVERHEAD, value=10_000_000, at=AT, by=owner)
    response = send(client, reverse("setting", args=["currency"]), {"value": "USD"})
    assert response.status_code == 422 and "books" in errors_of(response, "value")
    assert answers.value("currency") == "EUR"


def test_an_unknown_question_is_not_there(client: Client) -> None:
    assert client.get("/settings/shoe-size/").status_code == 404


@pytest.mark.parametrize("role", ["maker", "bookkeeper", "visitor"])
def test_only_an_owner_sees_or_changes_what_is_settled(owner: User, role: str) -> None:
    client = signed_in(cast(owner)[role])
    url = reverse("setting", args=["tariff_micro"])
    assert client.get(reverse("settings")).status_code == 403
    assert client.get(url).status_code == 403
    refused = client.post(url, {"value": "0.01", "from_on": "2025-01-01", "submission": "abc"})
    assert refused.status_code == 403 and "Ask an owner" in text(refused.content.decode())
    assert answers.known("tariff_micro", date(2025, 1, 1)) is None
