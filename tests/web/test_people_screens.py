"""Who works here: added, paid, given another role, let out and in again; and one's own password."""

from datetime import date

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from studio.fields.models import Submission
from studio.people.models import User, WageRate
from studio.people.queries import wage_for
from tests.web.pages import links, text
from tests.web.people_of_a_studio import PASSWORD, cast, errors_of, key_on, open_studio, send, signed_in

NEW = {
    "display_name": "Tom Field", "username": "Tom", "role": "maker", "password": "long grain runs true",
}  # fmt: skip


@pytest.fixture
def owner(db: None) -> User:
    return open_studio()


@pytest.fixture
def client(owner: User) -> Client:
    return signed_in(owner)


def test_somebody_new_can_sign_in_with_what_they_were_given(client: Client) -> None:
    response = send(client, reverse("person_add"), NEW)
    tom = User.objects.get(username="tom")
    assert response["Location"] == reverse("person", args=[tom.pk])
    stranger = Client()
    answer = stranger.post(reverse("sign_in"), {"username": "TOM", "password": NEW["password"]})
    assert answer.status_code == 302
    listed = text(client.get(reverse("people")).content.decode())
    assert "Tom Field" in listed and "maker" in listed


def test_the_same_form_sent_twice_adds_one_person(client: Client) -> None:
    key = key_on(client.get(reverse("person_add")).content.decode())
    first, second = (send(client, reverse("person_add"), NEW, key=key) for _ in range(2))
    assert first["Location"] == second["Location"]
    assert User.objects.filter(username="tom").count() == 1


def test_what_is_kept_of_a_form_says_nothing_about_its_password(client: Client) -> None:
    """Without the keyed mark the stored hash could be guessed at from outside: the same body hashes the same."""
    from studio.fields.submissions import body_hash

    send(client, reverse("person_add"), NEW)
    kept = Submission.objects.latest("pk").body_hash
    plain = {name: [value] for name, value in NEW.items()} | {"_path": [reverse("person_add")], "_files": []}
    assert body_hash(plain) != kept


@pytest.mark.parametrize(
    ("field", "typed", "sentence"),
    [
        ("username", "", "Nothing is written"),
        ("username", "two words", "no spaces"),
        ("username", "ilse", "already"),
        ("username", "<b>x", "no spaces"),
        ("display_name", "x" * 201, "at most 200"),
        ("display_name", " ", "Nothing is written"),
        ("role", "", "Choose one"),
        ("role", "king", "not one of the available"),
        ("password", "short", "12 or more"),
        ("password", "aaaaaaaaaaaaaaaa", "over and over"),
    ],
)
def test_what_is_wrong_is_told_beside_its_field(client: Client, field: str, typed: str, sentence: str) -> None:
    response = send(client, reverse("person_add"), {**NEW, field: typed})
    assert response.status_code == 422 and sentence in errors_of(response, field)
    assert User.objects.count() == 1
    assert NEW["password"] not in response.content.decode()


@pytest.mark.parametrize("name", ["Łukasz Жук 漢", "O'Brien", "<b>x", "y" * 200])
def test_any_name_is_kept_and_shown_as_text(client: Client, name: str) -> None:
    send(client, reverse("person_add"), {**NEW, "display_name": name})
    tom = User.objects.get(username="tom")
    assert tom.display_name == name
    html = client.get(reverse("person", args=[tom.pk])).content.decode()
    assert "<b>x" not in html and name in text(html)


def test_an_hours_worth_holds_from_its_day_and_its_history_stays(client: Client, owner: User) -> None:
    url = reverse("person_wage", args=[owner.pk])
    assert send(client, url, {"rate": "28", "paid": "own", "from_on": "2025-01-01"}).status_code == 303
    assert send(client, url, {"rate": "31.50", "paid": "paid", "from_on": "2025-07-01"}).status_code == 303
    assert wage_for(owner, date(2025, 6, 30)) == (28_000_000, False)
    assert wage_for(owner, date(2025, 7, 1)) == (31_500_000, True)
    told = text(client.get(reverse("person", args=[owner.pk])).content.decode())
    assert "28.00" in told and "31.50" in told and "own time" in told and "paid wages" in told


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"rate": ""}, "rate"),
        ({"rate": "-5"}, "rate"),
        ({"rate": "28,50"}, "rate"),
        ({"rate": "200000"}, "rate"),
        ({"paid": ""}, "paid"),
        ({"from_on": ""}, "from_on"),
        ({"from_on": "1066-10-14"}, "from_on"),
    ],
)
def test_a_wage_that_cant_be_meant_is_asked_again(
    client: Client, owner: User, changes: dict[str, str], field: str
) -> None:
    body = {"rate": "28", "paid": "own", "from_on": "2025-01-01", **changes}
    response = send(client, reverse("person_wage", args=[owner.pk]), body)
    assert response.status_code == 422 and errors_of(response, field)
    assert not WageRate.objects.exists()


def test_nothing_an_hour_is_an_answer_too(client: Client, owner: User) -> None:
    send(client, reverse("person_wage", args=[owner.pk]), {"rate": "0", "paid": "own", "from_on": "2025-01-01"})
    assert wage_for(owner, date(2025, 1, 1)) == (0, False)


def test_the_last_owner_stays_an_owner(client: Client, owner: User) -> None:
    response = send(client, reverse("person_role", args=[owner.pk]), {"role": "maker"})
    assert response.status_code == 422 and "only owner" in text(response.content.decode())
    closed = send(client, reverse("person_close", args=[owner.pk]), {})
    assert closed.status_code == 422
    owner.refresh_from_db()
    assert owner.role == "owner" and owner.is_active


def test_a_closed_sign_in_is_out_at_once_and_can_come_back(client: Client, owner: User) -> None:
    maker = cast(owner)["maker"]
    theirs = signed_in(maker)
    assert theirs.get(reverse("help")).status_code == 200
    send(client, reverse("person_close", args=[maker.pk]), {})
    assert theirs.get(reverse("help")).status_code == 302
    send(client, reverse("person_open", args=[maker.pk]), {})
    assert signed_in(maker).get(reverse("help")).status_code == 200


def test_a_new_role_holds_from_the_next_page_on(client: Client, owner: User) -> None:
    visitor = cast(owner)["visitor"]
    theirs = signed_in(visitor)
    assert theirs.get(reverse("people")).status_code == 403
    send(client, reverse("person_role", args=[visitor.pk]), {"role": "owner"})
    assert theirs.get(reverse("people")).status_code == 200


def test_a_password_set_by_the_owner_ends_the_other_sign_ins(client: Client, owner: User) -> None:
    maker = cast(owner)["maker"]
    theirs = signed_in(maker)
    send(client, reverse("person_password", args=[maker.pk]), {"password": "new dry blank rings"})
    assert theirs.get(reverse("help")).status_code == 302
    maker.refresh_from_db()
    assert maker.check_password("new dry blank rings")


def test_ones_own_password_takes_the_one_of_today_and_keeps_this_sign_in(owner: User) -> None:
    maker = cast(owner)["maker"]
    here, elsewhere = signed_in(maker), signed_in(maker)
    wrong = send(here, reverse("own_password"), {"current": "guess", "password": "new dry blank rings"})
    assert wrong.status_code == 422 and "password of today" in errors_of(wrong, "current")
    right = send(here, reverse("own_password"), {"current": PASSWORD, "password": "new dry blank rings"})
    assert right.status_code == 303
    assert here.get(reverse("own")).status_code == 200
    assert elsewhere.get(reverse("own")).status_code == 302


def test_an_owner_cant_go_round_their_own_password_of_today(client: Client, owner: User) -> None:
    url = reverse("person_password", args=[owner.pk])
    response = send(client, url, {"password": "new dry blank rings"})
    assert response.status_code == 422 and errors_of(response, "current")
    owner.refresh_from_db()
    assert owner.check_password(PASSWORD)


def test_everybody_finds_their_own_page_and_what_they_may_do(owner: User) -> None:
    client = signed_in(cast(owner)["visitor"])
    html = client.get(reverse("help")).content.decode()
    assert reverse("own") in links(html)
    own = text(client.get(reverse("own")).content.decode())
    assert "See what things cost no" in own


@pytest.mark.parametrize("role", ["maker", "bookkeeper", "visitor"])
@pytest.mark.parametrize(
    "name", ["person", "person_name", "person_role", "person_wage", "person_password", "person_close", "person_open"]
)
def test_only_an_owner_manages_people(owner: User, role: str, name: str) -> None:
    people_here = cast(owner)
    client = signed_in(people_here[role])
    url = reverse(name, args=[owner.pk])
    assert client.get(url).status_code == 403
    if name != "person":
        assert client.post(url, {"submission": "abc", "role": "visitor", "rate": "1"}).status_code == 403


def test_nobody_there_is_not_found(client: Client) -> None:
    for name in ("person", "person_wage", "person_close"):
        assert client.get(reverse(name, args=[9999])).status_code == 404


def test_the_list_asks_as_often_for_a_thousand_people_as_for_ten(client: Client, owner: User) -> None:
    def crowd(first: int, last: int) -> None:
        User.objects.bulk_create(
            User(username=f"u{n}", display_name=f"Person {n}", role="visitor", password="!")
            for n in range(first, last)
        )

    crowd(0, 10)
    with CaptureQueriesContext(connection) as few:
        client.get(reverse("people"))
    crowd(10, 1000)
    with CaptureQueriesContext(connection) as many:
        page = client.get(reverse("people"))
    assert len(few) == len(many)
    assert page.content.decode().count("<tr") <= 27
