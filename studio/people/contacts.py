"""Suppliers and clients: adding, changing and erasing them. Rooms call these from `operations`."""

from collections.abc import Callable
from datetime import datetime
from typing import Any, TypeVar

from django.db import transaction

from studio.fields.errors import Refused
from studio.people.models import (
    ADDRESS_LENGTH,
    EMAIL_LENGTH,
    NAME_LENGTH,
    NOTE_LENGTH,
    PHONE_LENGTH,
    Client,
    Contact,
    Supplier,
    User,
)
from studio.people.places import is_country
from studio.people.roles import require
from studio.people.text import tidy

Kind = TypeVar("Kind", Client, Supplier)

_FIELDS = {
    "name": (NAME_LENGTH, False),
    "email": (EMAIL_LENGTH, False),
    "phone": (PHONE_LENGTH, False),
    "address": (ADDRESS_LENGTH, True),
    "country": (2, False),
    "note": (NOTE_LENGTH, True),
}

# Rooms above register here why a person must be kept for now (an unpaid bill); each raises Refused.
erase_guards: list[Callable[[Contact], None]] = []


class Erased(Refused):
    """This person was erased; there is nothing to change."""


def guard_erasing(check: Callable[[Contact], None]) -> None:
    """Have `check(contact)` run before a person is erased; it raises Refused to stop it."""
    if check not in erase_guards:
        erase_guards.append(check)


def add_client(*, by: User, at: datetime, name: str, **details: str) -> Client:
    """Will add somebody who buys or orders. `details`: email, phone, address, country (two letters), note."""
    return _added(Client, by, at, {"name": name, **details})


def add_supplier(*, by: User, at: datetime, name: str, **details: str) -> Supplier:
    """Will add somebody we buy from. `details`: email, phone, address, country (two letters), note."""
    return _added(Supplier, by, at, {"name": name, **details})


def change_client(*, client: Client, by: User, **details: str) -> Client:
    """Will change what is given of name, email, phone, address, country and note; the rest stays."""
    return _changed(client, by, details)


def change_supplier(*, supplier: Supplier, by: User, **details: str) -> Supplier:
    """Will change what is given of name, email, phone, address, country and note; the rest stays."""
    return _changed(supplier, by, details)


def erase_client(*, client: Client, by: User, at: datetime) -> Client:
    """Will blank everything known about a client. The row and its number stay, so the books stay whole.

    Raises what a registered guard raises, while something is still owed or on order. Erasing twice changes
    nothing.
    """
    return _erased(client, by, at)


def erase_supplier(*, supplier: Supplier, by: User, at: datetime) -> Supplier:
    """Will blank everything known about a supplier, as `erase_client` does for a client."""
    return _erased(supplier, by, at)


def _added(model: type[Kind], by: User, at: datetime, details: dict[str, str]) -> Kind:
    require(by, "contacts")
    contact = model(added_by=by, added_at=at, **_checked(details))
    with transaction.atomic():
        contact.save(force_insert=True)
    return contact


def _changed(contact: Kind, by: User, details: dict[str, str]) -> Kind:
    require(by, "contacts")
    kept = _checked(details)
    with transaction.atomic():
        locked = _locked(contact)
        if locked.erased_at is not None:
            raise Erased("This person was erased. Add them anew if they are back.", code="erased")
        for field, text in kept.items():
            setattr(locked, field, text)
        locked.save()
    return locked


def _erased(contact: Kind, by: User, at: datetime) -> Kind:
    require(by, "contacts")
    with transaction.atomic():
        locked = _locked(contact)
        if locked.erased_at is not None:
            return locked
        for check in erase_guards:
            check(locked)
        for field in Contact.PERSONAL:
            setattr(locked, field, "")
        locked.erased_at = at
        locked.save()
    return locked


def _locked(contact: Kind) -> Kind:
    return type(contact).objects.select_for_update().get(pk=contact.pk)


def _checked(details: dict[str, str]) -> dict[str, Any]:
    kept = {}
    for field, text in details.items():
        if field not in _FIELDS:
            raise TypeError(f"A person here has no {field!r}.")
        most, lines = _FIELDS[field]
        try:
            kept[field] = tidy(text, most=most, lines=lines)
        except ValueError as error:
            raise Refused(str(error), field=field) from error
    if "name" in kept and not kept["name"]:
        raise Refused("Write a name. A nickname will do.", field="name")
    if kept.get("email") and not _looks_like_mail(kept["email"]):
        raise Refused("That isn't an e-mail address. Write it like name@place.example, or leave it.", field="email")
    if "country" in kept:
        kept["country"] = kept["country"].upper()
        if kept["country"] and not is_country(kept["country"]):
            raise Refused("Pick a country from the list, or leave it.", field="country")
    return kept


def _looks_like_mail(text: str) -> bool:
    name, at, place = text.rpartition("@")
    return bool(name and at and place) and not any(char.isspace() for char in text)
