from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction

from studio.fields.errors import Refused
from studio.people import contacts, operations, places, queries
from studio.people.models import Client, Contact, User
from studio.people.roles import NotAllowed

pytestmark = pytest.mark.django_db
SENTINEL = {
    "name": "Sentinelname Øverby",
    "email": "sentinelmail@place.example",
    "phone": "+00 5550 1234567",
    "address": "Sentinelstreet 7\nSentineltown",
    "country": "NO",
    "note": "Sentinelnote: wants the bark left on",
}


@pytest.fixture
def client_of(owner: User, at: datetime) -> Callable[..., Client]:
    def _add(name: str = "Mara Lind", **details: str) -> Client:
        return operations.add_client(by=owner, at=at, name=name, **details)

    return _add


@pytest.mark.parametrize("typed", ["müller", "MÜLLER", "muller", "Jörg MULL", "straße", "STRASSE", "łucja"])
def test_a_name_is_found_whatever_the_capitals_and_accents(client_of: Callable[..., Client], typed: str) -> None:
    wanted = client_of("Jörg Müller-Straße Łucja")
    client_of("Somebody Else")
    assert list(queries.clients(typed)) == [wanted]


def test_a_percent_sign_in_a_search_means_itself(client_of: Callable[..., Client]) -> None:
    client_of("Mara Lind")
    assert not queries.clients("%").exists()
    assert not queries.clients("_").exists()


def test_a_changed_name_is_found_by_the_new_one_only(client_of: Callable[..., Client], owner: User) -> None:
    client = operations.change_client(client=client_of("Mara Lind"), by=owner, name="Ève Nord", country="se")
    assert list(queries.clients("eve")) == [client]
    assert not queries.clients("mara").exists()
    assert client.country == "SE"
    client.name = "Third"
    client.save(update_fields=["name"])
    assert queries.clients("third").exists()


def test_what_is_not_given_stays(client_of: Callable[..., Client], owner: User) -> None:
    client = client_of("Mara Lind", email="mara@place.example", phone="12")
    assert operations.change_client(client=client, by=owner, phone="34").email == "mara@place.example"
    with pytest.raises(TypeError):
        operations.change_client(client=client, by=owner, erased_at="now")


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("name", ""),
        ("name", " \t "),
        ("name", "x" * 201),
        ("name", "a\x00b"),
        ("name", "two\nlines"),
        ("email", "nobody"),
        ("email", "a b@c.example"),
        ("email", "@c.example"),
        ("email", "a@b.example\nBcc: c@d.example"),
        ("country", "XX"),
        ("country", "EU"),
        ("country", "Norway"),
        ("address", "x" * 501),
        ("note", "x" * 2001),
    ],
)
def test_what_cannot_be_kept_is_told_beside_its_field(owner: User, at: datetime, field: str, text: str) -> None:
    with pytest.raises(Refused) as refused:
        operations.add_client(by=owner, at=at, **{"name": "Mara", field: text})
    assert refused.value.field == field
    assert not Client.objects.exists()


@pytest.mark.parametrize("name", ["<b>x</b>", "O'Brien; DROP TABLE", "=1+1", "漢字 Ж Ł", "👩‍🎨", "x" * 200])
def test_a_name_is_kept_as_it_was_typed(client_of: Callable[..., Client], name: str) -> None:
    assert Client.objects.get(pk=client_of(name).pk).name == name


def test_every_country_has_two_letters_and_a_name() -> None:
    countries = places.countries()
    assert 245 <= len(countries) <= 250  # ISO 3166-1 has 249
    assert countries["NO"] == "Norway"
    assert {"US", "GB", "JP", "NZ", "ZA"} <= countries.keys()


def test_a_supplier_is_kept_as_a_client_is(owner: User, at: datetime) -> None:
    supplier = operations.add_supplier(by=owner, at=at, name="Sawmill at the Weir", note="ring first")
    assert list(queries.suppliers("weir")) == [supplier]
    operations.change_supplier(supplier=supplier, by=owner, phone="77")
    operations.erase_supplier(supplier=supplier, by=owner, at=at)
    supplier.refresh_from_db()
    assert str(supplier) == f"supplier {supplier.pk} (erased)"


def test_an_erased_client_leaves_a_row_and_not_one_word(
    client_of: Callable[..., Client], owner: User, at: datetime
) -> None:
    client = client_of(**SENTINEL)
    kept = client_of("Mara Lind")
    assert _words_in_the_database("entinel")  # the search below finds them while they are there
    operations.erase_client(client=client, by=owner, at=at)
    for word in ("entinel", "verby", "5550 1234567", "bark left on"):
        assert not _words_in_the_database(word)
    client.refresh_from_db()
    assert client.erased_at == at
    assert str(client) == f"client {client.pk} (erased)"
    assert list(queries.clients()) == [kept]


def test_an_erased_client_is_not_written_to_again(
    client_of: Callable[..., Client], owner: User, at: datetime
) -> None:
    client = operations.erase_client(client=client_of(), by=owner, at=at)
    assert operations.erase_client(client=client, by=owner, at=at) == client
    with pytest.raises(contacts.Erased):
        operations.change_client(client=client, by=owner, name="Back")
    with pytest.raises(IntegrityError), transaction.atomic():
        Client.objects.filter(pk=client.pk).update(email="back@place.example")


def test_a_client_with_something_open_is_kept_until_it_is_settled(
    client_of: Callable[..., Client], owner: User, at: datetime
) -> None:
    def open_bill(contact: Contact) -> None:
        raise Refused(f"{contact} still owes a bill.")

    client = client_of(**SENTINEL)
    contacts.guard_erasing(open_bill)
    with pytest.raises(Refused, match="still owes"):
        operations.erase_client(client=client, by=owner, at=at)
    client.refresh_from_db()
    assert client.name == SENTINEL["name"]


def test_a_visitor_neither_adds_nor_erases(
    client_of: Callable[..., Client], add: Callable[..., User], at: datetime
) -> None:
    client, visitor = client_of(), add("visitor")
    for refused in (
        lambda: operations.add_client(by=visitor, at=at, name="X"),
        lambda: operations.change_client(client=client, by=visitor, name="X"),
        lambda: operations.erase_client(client=client, by=visitor, at=at),
    ):
        with pytest.raises(NotAllowed):
            refused()


def test_a_list_takes_one_query(client_of: Callable[..., Client], django_assert_num_queries: Any) -> None:
    for number in range(20):
        client_of(f"Client {number}")
    with django_assert_num_queries(1):
        assert len([str(client) for client in queries.clients("client")]) == 20


def _words_in_the_database(word: str) -> list[str]:
    """Every table that holds the word anywhere, as a dump of the database would show it."""
    found = []
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")  # noqa: S608  names from the catalogue
            if any(word.casefold() in str(row).casefold() for row in cursor.fetchall()):
                found.append(table)
    return found
