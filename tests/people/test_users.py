from collections.abc import Callable
from datetime import datetime

import pytest
from django.contrib.auth.backends import ModelBackend
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from studio.fields.errors import Refused
from studio.people import operations, queries
from studio.people.models import DatedSetting, Role, User
from studio.people.roles import NotAllowed

pytestmark = pytest.mark.django_db
PASSWORD = "soft wet shavings fly"  # noqa: S105  an invented one, for tests
Add = Callable[..., User]


def test_an_empty_studio_gets_its_first_owner_and_answers_once(owner: User, at: datetime) -> None:
    assert owner.role == Role.OWNER
    assert queries.anybody()
    with pytest.raises(operations.AlreadySetUp):
        operations.set_up_studio(
            studio_name="Another",
            currency="USD",
            length_unit="in",
            temperature_unit="°F",
            pressure_unit="psi",
            username="second",
            display_name="Second",
            password=PASSWORD,
            at=at,
        )
    assert User.objects.count() == 1


def test_a_wrong_answer_at_the_start_leaves_the_studio_empty(at: datetime) -> None:
    with pytest.raises(Refused) as refused:
        operations.set_up_studio(
            studio_name="Hollow Tree Studio",
            currency="QQQ",
            length_unit="mm",
            temperature_unit="°C",
            pressure_unit="bar",
            username="ilse",
            display_name="Ilse",
            password=PASSWORD,
            at=at,
        )
    assert refused.value.field == "currency"
    assert not User.objects.exists()
    assert not DatedSetting.objects.exists()


def test_a_capital_from_a_phones_keyboard_still_signs_in(owner: User) -> None:
    assert owner.username == "ilse"
    assert _signed_in(username="ILSE", password=PASSWORD) == owner
    assert _signed_in(username="ilse", password="something else now") is None


def test_a_sign_in_name_differing_in_capitals_only_is_taken(owner: User, add: Add) -> None:
    with pytest.raises(Refused, match="already") as refused:
        add("maker", "ILSE")
    assert refused.value.field == "username"


@pytest.mark.parametrize("name", ["", "  ", "two words", "a\x00b", "x" * 151, "<b>"])
def test_a_sign_in_name_that_nobody_could_type_is_refused(add: Add, owner: User, name: str, at: datetime) -> None:
    with pytest.raises(Refused) as refused:
        operations.add_user(username=name, display_name="X", role="maker", password=PASSWORD, by=owner, at=at)
    assert refused.value.field == "username"


@pytest.mark.parametrize(
    "password", ["", "short", "x" * 201, "elevenchars", "hollow tree ilse", "qwerty123456", "abababababab"]
)
def test_a_password_that_would_be_guessed_is_refused(owner: User, at: datetime, password: str) -> None:
    with pytest.raises(Refused) as refused:
        operations.add_user(username="new", display_name="New", role="maker", password=password, by=owner, at=at)
    assert refused.value.field == "password"
    assert not User.objects.filter(username="new").exists()


def test_only_an_owner_adds_people(add: Add, at: datetime) -> None:
    for role in ("maker", "bookkeeper", "visitor"):
        with pytest.raises(NotAllowed):
            operations.add_user(
                username="new", display_name="New", role="owner", password=PASSWORD, by=add(role), at=at
            )


def test_the_last_owner_keeps_the_role(owner: User, add: Add) -> None:
    with pytest.raises(operations.LastOwner):
        operations.change_role(user=owner, role="maker", by=owner)
    owner.refresh_from_db()
    assert owner.role == Role.OWNER
    second = add("owner", "second")
    operations.change_role(user=owner, role="maker", by=second)
    with pytest.raises(operations.LastOwner):
        operations.change_role(user=second, role="visitor", by=second)


def test_the_last_owner_who_can_sign_in_is_not_deactivated(owner: User, add: Add) -> None:
    second = add("owner", "second")
    operations.deactivate(user=second, by=owner)
    with pytest.raises(operations.LastOwner):
        operations.deactivate(user=owner, by=owner)
    operations.reactivate(user=second, by=owner)
    assert operations.deactivate(user=owner, by=second).is_active is False


def test_a_maker_can_leave_while_one_owner_stays(owner: User, add: Add) -> None:
    maker = add("maker")
    assert operations.change_role(user=maker, role="visitor", by=owner).role == Role.VISITOR
    assert operations.deactivate(user=maker, by=owner).is_active is False
    assert _signed_in(username="maker", password=PASSWORD) is None


def test_a_role_nobody_has_heard_of_is_refused_and_the_database_holds_it(owner: User, add: Add) -> None:
    maker = add("maker")
    with pytest.raises(Refused, match="owner, maker, bookkeeper, visitor"):
        operations.change_role(user=maker, role="king", by=owner)
    with pytest.raises(IntegrityError), transaction.atomic():
        User.objects.filter(pk=maker.pk).update(role="king")


def test_ones_own_password_takes_the_one_of_today(owner: User) -> None:
    with pytest.raises(Refused) as refused:
        operations.set_password(user=owner, password="a quite different one", by=owner, current="wrong")
    assert refused.value.field == "current"
    operations.set_password(user=owner, password="a quite different one", by=owner, current=PASSWORD)
    assert _signed_in(username="ilse", password="a quite different one") == owner
    assert _signed_in(username="ilse", password=PASSWORD) is None


def test_a_maker_cannot_set_somebody_elses_password(owner: User, add: Add) -> None:
    with pytest.raises(NotAllowed):
        operations.set_password(user=owner, password="a quite different one", by=add("maker"))


def test_people_change_their_own_name_and_only_owners_anothers(owner: User, add: Add) -> None:
    maker = add("maker")
    assert operations.rename_user(user=maker, display_name=" Arne  ", by=maker).display_name == "Arne"
    with pytest.raises(NotAllowed):
        operations.rename_user(user=owner, display_name="Boss", by=maker)
    with pytest.raises(Refused):
        operations.rename_user(user=maker, display_name=" ", by=owner)


def test_the_list_of_people_takes_one_query_however_many(owner: User, add: Add) -> None:
    for number in range(20):
        add("maker", f"maker{number}")
    with CaptureQueriesContext(
        connection,
    ) as seen:
        assert len(list(queries.users())) == 21
    assert len(seen) == 1


def test_a_password_is_hashed_outside_any_transaction(owner: User, add: Add, monkeypatch) -> None:
    """Hashing a password takes half a second; inside a transaction everybody else would wait for it."""
    outside: list[bool] = []
    real = User.set_password
    depth = len(connection.savepoint_ids)

    def seen(self: User, raw: str) -> None:
        outside.append(len(connection.savepoint_ids) == depth)
        real(self, raw)

    monkeypatch.setattr(User, "set_password", seen)
    add("maker")
    operations.set_password(user=owner, password="a quite different one", by=owner, current=PASSWORD)
    assert outside == [True, True]


def _signed_in(username: str, password: str) -> User | None:
    return ModelBackend().authenticate(None, username=username, password=password)  # type: ignore[return-value]
