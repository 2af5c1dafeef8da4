import pytest
from django.conf import settings
from django.contrib.auth import get_user_model
from django.test import Client

from studio.config import signin

pytestmark = pytest.mark.django_db
ADDRESS = "http://127.0.0.1:8000"


@pytest.fixture
def person():  # type: ignore[no-untyped-def]
    return get_user_model().objects.create_user(
        username="wren", password="turned on tuesday", display_name="Wren", role="owner"
    )


def path_of(link: str) -> str:
    assert link.startswith(ADDRESS + "/come-in/")
    return link.removeprefix(ADDRESS)


def test_a_link_lets_its_person_in_once(client: Client, person) -> None:  # type: ignore[no-untyped-def]
    path = path_of(signin.link_for(person, ADDRESS))
    first = client.get(path)
    assert (first.status_code, first.headers["Location"]) == (302, "/")
    assert client.session["_auth_user_id"] == str(person.pk)

    again = Client()
    second = again.get(path)
    assert second.status_code == 410
    assert "_auth_user_id" not in again.session
    assert b"let_in" in second.content


def test_a_used_mark_is_what_stops_the_second_use(person) -> None:  # type: ignore[no-untyped-def]
    token = signin.link_for(person, "").removeprefix("/come-in/").rstrip("/")
    assert signin.redeem(token) == person
    assert signin.redeem(token) is None
    for mark in (settings.DATA_DIR / "used-links").iterdir():
        mark.unlink()
    assert signin.redeem(token) == person


def test_a_link_grows_old(client: Client, person, monkeypatch: pytest.MonkeyPatch) -> None:  # type: ignore[no-untyped-def]
    path = path_of(signin.link_for(person, ADDRESS))
    monkeypatch.setattr(signin, "HOLDS_S", -1)
    assert client.get(path).status_code == 410


def test_a_forged_link_opens_nothing(client: Client, person) -> None:  # type: ignore[no-untyped-def]
    path = path_of(signin.link_for(person, ADDRESS))
    assert client.get(path[:-3] + ("a" if path[-3] != "a" else "b") + path[-2:]).status_code == 410
    assert client.get("/come-in/nonsense/").status_code == 410
    assert client.post(path).status_code in (403, 405)


def test_a_link_is_void_when_its_person_leaves_or_takes_another_password(client: Client, person) -> None:  # type: ignore[no-untyped-def]
    path = path_of(signin.link_for(person, ADDRESS))
    person.is_active = False
    person.save()
    assert client.get(path).status_code == 410
    person.is_active = True
    person.set_password("another one for wren")
    person.save()
    assert client.get(path).status_code == 410


def test_a_link_leaves_no_trace_of_itself_in_the_data(person) -> None:  # type: ignore[no-untyped-def]
    token = signin.link_for(person, "").removeprefix("/come-in/").rstrip("/")
    signin.redeem(token)
    marks = [mark.name for mark in (settings.DATA_DIR / "used-links").iterdir()]
    assert marks and all(len(name) == 64 and name not in token for name in marks)


@pytest.fixture
def throttled(settings) -> None:  # type: ignore[no-untyped-def]
    settings.AXES_ENABLED = True


def tries(client: Client, names: list[str]) -> list[int]:
    return [client.post("/sign-in/", {"username": name, "password": "not the one"}).status_code for name in names]


def test_a_name_has_its_ten_tries_however_it_is_written(client: Client, person, throttled) -> None:  # type: ignore[no-untyped-def]
    written = ["wren", "Wren", "WREN", " wren ", "ｗｒｅｎ"] * 2
    assert 429 not in tries(client, written[:-1])
    assert tries(client, written[-1:] + ["wReN"]) == [429, 429]
    refused = client.post("/sign-in/", {"username": "wreN", "password": "turned on tuesday"})
    assert refused.status_code == 429 and "_auth_user_id" not in client.session


def test_another_name_keeps_its_own_tries(client: Client, person, throttled) -> None:  # type: ignore[no-untyped-def]
    assert 429 in tries(client, ["robin"] * 11)
    assert client.post("/sign-in/", {"username": "Wren", "password": "turned on tuesday"}).status_code == 302
