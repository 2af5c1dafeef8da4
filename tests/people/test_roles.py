import pytest

from studio.people import queries, roles
from studio.people.models import Role, User

# Written out by hand, so that a slip in the table is seen here: o owner, m maker, b bookkeeper, v visitor.
EXPECTED = {
    "read": "ombv",
    "see_costs": "omb",
    "see_money": "ob",
    "contacts": "omb",
    "bench": "om",
    "others_hours": "o",
    "stores": "om",
    "count": "omb",
    "wood": "om",
    "equipment": "om",
    "price": "om",
    "sell": "ob",
    "books": "ob",
    "commissions": "om",
    "print": "omb",
    "answer": "omb",
    "settings": "o",
    "people": "o",
}


def test_the_table_has_exactly_these_rights() -> None:
    assert roles.RIGHTS.keys() == EXPECTED.keys()


@pytest.mark.parametrize("right", EXPECTED)
@pytest.mark.parametrize("role", list(Role))
def test_a_role_carries_exactly_its_rights(role: Role, right: str) -> None:
    user = User(username="x", display_name="X", role=role)
    assert user.may(right) is (role.value[0] in EXPECTED[right])


@pytest.mark.parametrize("right", EXPECTED)
def test_nobody_signed_out_or_deactivated_may_anything(right: str) -> None:
    from django.contrib.auth.models import AnonymousUser

    assert not roles.allowed(AnonymousUser(), right)
    assert not roles.allowed(None, right)
    assert not User(username="x", role=Role.OWNER, is_active=False).may(right)


def test_a_django_superuser_flag_alone_gives_no_right() -> None:
    assert not User(username="x", role=Role.VISITOR, is_superuser=True).may("see_costs")


def test_an_unknown_right_is_a_mistake_and_not_a_no() -> None:
    with pytest.raises(KeyError):
        User(role=Role.OWNER).may("fly")


def test_a_refusal_names_who_may() -> None:
    with pytest.raises(roles.NotAllowed, match="Ask an owner or a maker"):
        roles.require(User(username="x", role=Role.VISITOR), "bench")
    assert roles.who_may("people") == "an owner"
    assert roles.who_may("count") == "an owner, a maker or a bookkeeper"


def test_the_help_page_gets_every_right_and_every_role() -> None:
    table = queries.rights_table()
    assert [right.key for right in table] == list(roles.RIGHTS)
    for right in table:
        assert [role for role, _ in right.roles] == [role.label for role in Role]
        assert {role for role, yes in right.roles if yes} == {r.label for r in roles.RIGHTS[right.key][1]}
