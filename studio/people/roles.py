"""What each role may do. The table is data: the help page prints it and the tests read it."""

from typing import Any

from studio.fields.errors import Refused
from studio.fields.listing import listed
from studio.people.models import Role

OWNER, MAKER, BOOKKEEPER, VISITOR = Role.OWNER, Role.MAKER, Role.BOOKKEEPER, Role.VISITOR

RIGHTS: dict[str, tuple[str, frozenset[str]]] = {
    "read": (
        "Look at pieces, wood, work and where things are",
        frozenset({OWNER, MAKER, BOOKKEEPER, VISITOR}),
    ),
    "see_costs": ("See what things cost", frozenset({OWNER, MAKER, BOOKKEEPER})),
    "see_money": ("See sales, what is owed, and the books", frozenset({OWNER, BOOKKEEPER})),
    "contacts": ("See and change suppliers and clients", frozenset({OWNER, MAKER, BOOKKEEPER})),
    "bench": ("Weigh, keep the steps and the clock, pour, say what broke", frozenset({OWNER, MAKER})),
    "others_hours": ("Take back hours that somebody else booked", frozenset({OWNER})),
    "stores": ("Buy materials and write them off", frozenset({OWNER, MAKER})),
    "count": ("Count what is in the stores", frozenset({OWNER, MAKER, BOOKKEEPER})),
    "wood": ("Buy wood", frozenset({OWNER, MAKER})),
    "equipment": ("Add and change ovens, pots and lathes", frozenset({OWNER, MAKER})),
    "price": ("Set an asking price", frozenset({OWNER, MAKER})),
    "sell": ("Leave pieces with galleries, sell, and take payments", frozenset({OWNER, BOOKKEEPER})),
    "books": ("Pay bills, take entries back, close the books", frozenset({OWNER, BOOKKEEPER})),
    "commissions": ("Take and change commissions", frozenset({OWNER, MAKER})),
    "print": ("Print cards, tags and papers", frozenset({OWNER, MAKER, BOOKKEEPER})),
    "answer": (
        "Answer a question about the studio that nobody has answered yet",
        frozenset({OWNER, MAKER, BOOKKEEPER}),
    ),
    "settings": ("Change what the studio has settled", frozenset({OWNER})),
    "people": ("Add people, change their role, wage and password", frozenset({OWNER})),
}


class NotAllowed(Refused):
    """This person's role does not carry the right."""


def allowed(user: Any, right: str) -> bool:
    """Return whether `user` is signed in, active, and has a role that carries `right`.

    An unknown right is a mistake in the program and raises KeyError rather than answering no.
    """
    roles = RIGHTS[right][1]
    return bool(getattr(user, "is_active", False)) and getattr(user, "role", None) in roles


def who_may(right: str) -> str:
    """Name the roles that carry `right`, as a sentence would: "an owner or a maker"."""
    names = [f"{'an' if role == OWNER else 'a'} {role.label}" for role in Role if role in RIGHTS[right][1]]
    return listed(names, "or")


def require(user: Any, right: str) -> None:
    """Raise `NotAllowed`, naming who may, unless `user` has `right`."""
    if not allowed(user, right):
        words = RIGHTS[right][0]
        raise NotAllowed(
            f"Your sign-in may not do this: {words[0].lower()}{words[1:]}. Ask {who_may(right)}.",
            code="not_allowed",
        )
