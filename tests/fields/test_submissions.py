from datetime import UTC, datetime

import pytest
from django.db import IntegrityError, transaction

from studio.fields.errors import Refused
from studio.fields.models import Submission
from studio.fields.submissions import KEY_LIMIT, OtherBody, Outcome, body_hash, carry_out, new_key
from studio.people.models import User

AT = datetime(2024, 3, 1, 9, 0, tzinfo=UTC)
BODY = {"amount": ["412 g"], "submission": ["k"], "csrfmiddlewaretoken": ["t"]}


@pytest.fixture
def maker(db: None) -> User:
    return User.objects.create(username="orla", display_name="Orla")


class Counter:
    def __init__(self) -> None:
        self.calls = 0

    def __call__(self, row: Submission) -> str:
        self.calls += 1
        return f"/pieces/{self.calls}/"


def send(actor: User, do, *, key: str = "k", body=BODY) -> Outcome:  # type: ignore[no-untyped-def]
    return carry_out(actor=actor, key=key, body=body, at=AT, do=do)


def test_the_same_form_again_answers_the_same_and_does_nothing(maker: User) -> None:
    do = Counter()
    assert send(maker, do) == Outcome("/pieces/1/", replayed=False)
    assert send(maker, do) == Outcome("/pieces/1/", replayed=True)
    assert do.calls == 1
    assert Submission.objects.count() == 1


def test_what_differs_each_time_a_form_is_shown_does_not_make_it_another(maker: User) -> None:
    do = Counter()
    send(maker, do)
    again = send(maker, do, body={"csrfmiddlewaretoken": ["other"], "amount": ["412 g"]})
    assert again.replayed


@pytest.mark.parametrize(
    "other", [{"amount": ["214 g"]}, {}, {"amount": ["412 g", "412 g"]}, {"amount": ["412 g"], "why": [""]}]
)
def test_the_same_key_for_a_form_that_says_something_else_is_refused(
    maker: User, other: dict[str, list[str]]
) -> None:
    do = Counter()
    send(maker, do)
    with pytest.raises(OtherBody, match="already sent once"):
        send(maker, do, body=other)
    assert do.calls == 1
    assert Submission.objects.get().result == "/pieces/1/"


def test_another_key_and_another_person_are_other_forms(maker: User) -> None:
    other = User.objects.create(username="tam", display_name="Tam")
    do = Counter()
    for actor, key in ((maker, "k"), (maker, "l"), (other, "k")):
        assert not send(actor, do, key=key).replayed
    assert do.calls == 3


def test_a_refused_form_leaves_its_key_free_and_nothing_behind(maker: User) -> None:
    def refuse(row: Submission) -> str:
        User.objects.create(username="half", display_name="Half done")
        raise Refused("That is more than there is.", field="amount")

    with pytest.raises(Refused):
        send(maker, refuse)
    assert not Submission.objects.exists()
    assert not User.objects.filter(username="half").exists()
    assert send(maker, Counter(), body={"amount": ["214 g"]}) == Outcome("/pieces/1/", replayed=False)


def test_a_fault_of_the_database_inside_is_not_taken_for_a_form_sent_twice(maker: User) -> None:
    def clash(row: Submission) -> str:
        User.objects.create(username="orla", display_name="Another")
        return "never"

    with pytest.raises(IntegrityError), transaction.atomic():
        send(maker, clash)
    assert not Submission.objects.exists()


@pytest.mark.parametrize("key", ["", "x" * (KEY_LIMIT + 1)])
def test_a_form_that_has_lost_its_key_says_what_to_do(maker: User, key: str) -> None:
    with pytest.raises(OtherBody, match="Open the page again"):
        send(maker, Counter(), key=key)


def test_a_fresh_key_fits_and_is_never_the_same() -> None:
    keys = {new_key() for _ in range(200)}
    assert len(keys) == 200
    assert all(0 < len(key) <= KEY_LIMIT for key in keys)


def test_the_order_of_the_fields_does_not_matter_and_their_contents_do() -> None:
    assert body_hash({"a": ["1"], "b": ["2"]}) == body_hash({"b": ["2"], "a": ["1"]})
    assert body_hash({"a": ["1", "2"]}) != body_hash({"a": ["2", "1"]})
    assert body_hash({"a": ["1"], "b": []}) != body_hash({"a": ["1"]})


def test_the_database_itself_takes_a_key_once(maker: User) -> None:
    send(maker, Counter())
    with pytest.raises(IntegrityError), transaction.atomic():
        Submission.objects.create(actor=maker, key="k", body_hash="other", at=AT)
