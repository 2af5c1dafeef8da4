"""The frame of every screen: the words at the top, what was done, what went wrong."""

import json
import re
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from django.conf import settings
from django.db import OperationalError
from django.http import HttpRequest
from django.test import Client, RequestFactory

from studio.config import errors as house_errors
from studio.people import operations
from studio.people.models import User
from studio.web import errors, shell

AT = datetime(2025, 3, 10, 9, 30, tzinfo=UTC)
PASSWORD = "soft wet shavings fly"  # noqa: S105  an invented one, for tests
TEMPLATES = sorted((Path(settings.BASE_DIR) / "templates").rglob("*.html"))


@pytest.fixture
def owner(db: None) -> User:
    return operations.set_up_studio(
        studio_name="Hollow & Tree",
        currency="EUR",
        length_unit="mm",
        temperature_unit="°C",
        pressure_unit="bar",
        time_zone="Europe/Berlin",
        username="ilse",
        display_name="Ilse Brand",
        password=PASSWORD,
        at=AT,
    )


@pytest.fixture
def screens(settings) -> None:
    settings.ROOT_URLCONF = "tests.web.shell_urls"


@pytest.fixture
def signed_in(owner: User, screens: None, client: Client) -> Client:
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    return client


def words(role: str, path: str = "/", section: str | None = None) -> dict[str, str]:
    user = User(username="x", role=role, is_active=True)
    return {word.word: word.current for word in shell.words_for(user, path, section)}


def test_only_words_whose_screen_exists_are_shown(settings):
    settings.ROOT_URLCONF = "tests.web.no_screens"
    assert words("owner") == {}
    settings.ROOT_URLCONF = "tests.web.shell_urls"
    assert list(words("owner"))[:8] == [
        "Round", "Wood", "Stores", "Pieces", "Commissions", "Galleries", "Prices", "Books",
    ]  # fmt: skip


def test_a_visitor_is_not_shown_where_costs_and_money_stand(screens):
    assert {"Prices", "Books", "Studio"} <= set(words("owner"))
    assert not {"Prices", "Books", "Studio", "Commissions"} & set(words("visitor"))
    assert "Books" not in words("maker")


def test_the_word_a_page_lies_under_is_the_current_one(screens):
    assert words("owner", "/")["Round"] == "page"
    assert words("owner", "/wood/")["Wood"] == "page"
    under = words("owner", "/wood/41/")
    assert under["Wood"] == "true"
    assert [word for word, current in under.items() if current] == ["Wood"]


def test_a_page_elsewhere_can_say_which_word_it_belongs_to(screens):
    assert words("owner", "/bench/", section="pieces")["Pieces"] == "true"
    assert not any(words("owner", "/bench/").values())


def test_a_page_names_the_studio_the_person_and_the_way_out(signed_in: Client):
    body = signed_in.get("/wood/").content.decode()
    assert "Hollow &amp; Tree" in body
    assert "Ilse Brand, owner" in body
    assert '<a href="/wood/" aria-current="page">Wood</a>' in body
    assert 'action="/sign-out/"' in body
    assert "To the page itself" in body


def test_what_was_done_is_said_once_with_its_undo(signed_in: Client):
    body = signed_in.get("/speak/").content.decode()
    assert "41/3 weighed &lt;412 g&gt;" in body
    assert body.count("Undo") == 1
    undo = re.search(r'<form method="post" action="/undo/7/">(.*?)</form>', body, re.S)
    assert undo and "csrfmiddlewaretoken" in undo[1] and 'name="submission"' in undo[1]
    assert "41/3 weighed" not in signed_in.get("/wood/").content.decode()


def test_htmx_is_kept_to_what_the_content_policy_allows(signed_in: Client):
    body = signed_in.get("/wood/").content.decode()
    config = json.loads(re.search(r"name=\"htmx-config\" content='([^']*)'", body)[1])
    assert config["allowEval"] is False and config["allowScriptTags"] is False
    assert config["includeIndicatorStyles"] is False and config["selfRequestsOnly"] is True
    assert config["historyCacheSize"] == 0
    token = json.loads(re.search(r"hx-headers='([^']*)'", body)[1])["X-CSRFToken"]
    assert len(token) == 64


def test_a_form_is_told_which_answer_was_wrong_and_keeps_what_was_typed(signed_in: Client):
    body = signed_in.post("/wood/", {"number": "41", "weight": "", "paid": "6,4 <x>"}).content.decode()
    assert "Nothing was stored yet" in body
    assert '<a href="#id_weight">What does it weigh?</a>: Nothing is written here yet.' in body
    assert 'value="6,4 &lt;x&gt;"' in body


# --- signing in -----------------------------------------------------------------------------------


def test_signing_in_asks_for_a_name_and_a_password(owner: User, screens: None, client: Client):
    body = client.get("/sign-in/").content.decode()
    assert 'autocomplete="username"' in body and 'autocomplete="current-password"' in body
    assert "Sign out" not in body
    answer = client.post("/sign-in/", {"username": "Ilse", "password": PASSWORD})
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert client.get("/").status_code == 200


def test_a_wrong_password_is_a_sentence_and_the_name_stays(owner: User, screens: None, client: Client):
    for name in ("ilse", "nobody"):
        answer = client.post("/sign-in/", {"username": name, "password": "wrong"})
        body = answer.content.decode()
        assert answer.status_code == 200
        assert "That name and password don&#x27;t go together." in body
        assert f'value="{name}"' in body and 'value="wrong"' not in body
    assert client.get("/")["Location"].startswith("/sign-in/")


def test_too_many_wrong_passwords_close_the_door_for_a_while(owner: User, screens: None, client: Client):
    for _ in range(settings.AXES_FAILURE_LIMIT):
        answer = client.post("/sign-in/", {"username": "ilse", "password": "wrong"})
    assert answer.status_code == 429
    assert "quarter of an hour" in answer.content.decode()
    assert client.post("/sign-in/", {"username": "ilse", "password": PASSWORD}).status_code == 429


def test_signing_out_takes_a_press_not_a_link(signed_in: Client):
    assert signed_in.get("/sign-out/").status_code == 405
    assert signed_in.get("/").status_code == 200
    answer = signed_in.post("/sign-out/")
    assert answer["Clear-Site-Data"] == '"storage"'
    assert signed_in.get("/")["Location"].startswith("/sign-in/")


def test_an_address_of_somebody_else_is_not_followed_after_signing_in(owner, screens, client: Client):
    form = {"username": "ilse", "password": PASSWORD, "next": "https://elsewhere.example/"}
    assert client.post("/sign-in/", form)["Location"] == "/"


# --- the studio's own way of writing --------------------------------------------------------------


def test_a_request_runs_in_the_studios_zone_and_number_format(signed_in: Client, owner: User):
    assert signed_in.get("/written/").content.decode() == "1,234.56 at 12"
    operations.set_setting(key="number_format", value="1.234,56", by=owner, at=AT)
    operations.set_setting(key="time_zone", value="America/New_York", by=owner, at=AT)
    assert signed_in.get("/written/").content.decode() == "1.234,56 at 6"


def test_the_answers_cost_one_query_a_page(signed_in: Client, django_assert_num_queries):
    with django_assert_num_queries(3):  # session, person, answers
        signed_in.get("/wood/")


# --- what went wrong ------------------------------------------------------------------------------


def test_a_busy_database_asks_to_come_back(signed_in: Client):
    answer = signed_in.get("/locked/")
    assert answer.status_code == 503
    assert answer["Retry-After"] == "5"
    body = answer.content.decode()
    assert "somebody else is writing" in body and 'href="/locked/"' in body
    sent = signed_in.post("/locked/").content.decode()
    assert "what you typed is still there" in sent and 'href="/locked/"' not in sent


def test_another_fault_of_the_database_is_not_called_busy(signed_in: Client):
    with pytest.raises(OperationalError):
        signed_in.get("/broken/")
    signed_in.raise_request_exception = False
    answer = signed_in.get("/broken/")
    assert answer.status_code == 500
    assert "not with you" in answer.content.decode() and "shavings" not in answer.content.decode()


def test_a_database_busy_before_the_view_is_told_apart_too(rf: RequestFactory):
    def answer(words: str) -> int:
        try:
            raise OperationalError(words)
        except OperationalError:
            assert sys.exc_info()[1] is not None
            return house_errors.broken(rf.get("/")).status_code

    assert answer("database is locked") == 503
    assert answer("disk I/O error") == 500


def test_a_deadlock_on_the_larger_database_is_busy_too():
    class Deadlock(Exception):
        sqlstate = "40P01"

    fault = OperationalError("deadlock detected")
    assert not errors.is_busy(fault)
    fault.__cause__ = Deadlock()
    assert errors.is_busy(fault)
    assert not errors.is_busy(ValueError("is locked"))


def test_who_may_not_is_told_who_may(owner: User, screens: None, client: Client):
    maker = operations.add_user(username="tom", display_name="Tom", role="maker", password=PASSWORD, by=owner, at=AT)
    client.force_login(maker, backend="django.contrib.auth.backends.ModelBackend")
    answer = client.get("/may-not/")
    assert answer.status_code == 403
    assert "Ask an owner or a bookkeeper" in answer.content.decode()


def test_an_address_nobody_knows_looks_like_the_studio(signed_in: Client):
    answer = signed_in.get("/no-such-lump/")
    assert answer.status_code == 404
    assert "There is nothing at this address" in answer.content.decode()
    assert 'id="words"' in answer.content.decode()


def test_a_form_that_came_too_late_shows_what_changed(signed_in: Client):
    answer = signed_in.get("/stale/")
    body = answer.content.decode()
    assert answer.status_code == 409
    assert "Tom weighed it." in body and "<del>412 g</del>" in body and "&lt;408 g&gt;" in body
    assert 'href="/wood/"' in body


@pytest.mark.parametrize("name", ["400", "500", "503", "csrf"])
def test_pages_for_the_worst_moments_ask_nothing_of_the_database(name: str, django_assert_num_queries, db):
    from django.template.loader import get_template

    with django_assert_num_queries(0):
        body = get_template(f"errors/{name}.html").render()
    assert body.count("<h1>") == 1 and 'href="/"' in body


def test_a_form_without_its_token_says_to_send_it_again(owner: User, screens: None):
    strict = Client(enforce_csrf_checks=True)
    answer = strict.post("/sign-in/", {"username": "ilse", "password": PASSWORD})
    assert answer.status_code == 403
    assert "Please send that once more" in answer.content.decode()


# --- the templates themselves ---------------------------------------------------------------------

FORBIDDEN = re.compile(
    r'\sstyle\s*=|<style|<script(?![^>]*\ssrc=)|\son[a-z]+\s*=\s*["\']|\|\s*safe\b|hx-on|javascript:', re.I
)


def test_no_template_breaks_the_content_policy_or_trusts_text():
    assert len(TEMPLATES) > 20
    found = {str(path): FORBIDDEN.findall(path.read_text()) for path in TEMPLATES}
    assert {path: hits for path, hits in found.items() if hits} == {}


@pytest.mark.parametrize(
    "bad", ['<p style="x">', "<script>x</script>", "{{ x|safe }}", '<a onclick="x">', '<a href="javascript:x">']
)
def test_the_search_for_such_templates_finds_them(bad: str):
    assert FORBIDDEN.search(bad)


def test_a_request_without_a_person_still_gets_a_page(rf: RequestFactory, db):
    request: HttpRequest = rf.get("/")
    assert house_errors.not_found(request, Exception()).status_code == 404
