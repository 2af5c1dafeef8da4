"""Rule 11 (whole coins, one currency), rule 13 (no names), rule 15 (how SQLite is set)."""

import pytest
from django.db import connection, models

from studio.config.environment import SQLITE_PRAGMAS
from studio.fields.whole import WholeField
from studio.ledger import operations
from studio.ledger.accounts import WHOLE_COINS, Account, Commodity, Component, Kind
from studio.ledger.errors import CurrencyIsFrozen, NotWholeCoins
from studio.ledger.journal import BooksClosed, Entry, Leg, Line, post
from studio.people import operations as people_operations
from studio.people import settings as studio_settings
from studio.people.models import Role
from tests.ledger.books import COIN, MONEY, NOW, Books, counted, day, differences

JOURNAL = (Entry, Line, BooksClosed, Account, Commodity)


def _currency(books: Books, code: str) -> None:
    books.by.role = Role.OWNER
    books.by.save()
    people_operations.set_setting(key="currency", value=code, by=books.by, at=day(0))


@pytest.mark.parametrize("kind", WHOLE_COINS)
def test_cash_debts_deposits_and_tax_move_by_whole_coins(books: Books, kind: Kind) -> None:
    account = operations.open_account(kind) if kind in (Kind.GALLERY_OWES, Kind.CLIENT_OWES, Kind.DEPOSIT) else kind
    before = counted()
    sign = -1 if kind == Kind.DEPOSIT else 1
    for value, fits in ((COIN, True), (COIN + 1, False), (1, False), (COIN // 2, False)):
        legs = [Leg(account, Component.MONEY, sign * value), Leg(Kind.REVENUE, Component.MONEY, -sign * value)]
        if fits:
            post(kind="sale", legs=legs, at=day(1), by=books.by, now=NOW)
            before = counted()
        else:
            with pytest.raises(NotWholeCoins):
                post(kind="sale", legs=legs, at=day(1), by=books.by, now=NOW)
    assert counted() == before


def test_stock_keeps_its_millionths(books: Books) -> None:
    batch, piece = books.batch(3, 1 * MONEY), books.workpiece()
    books.draw((batch, 1), to=[(piece, 1)])
    assert Account.objects.get(pk=piece.pk).value_micro == 333_333


@pytest.mark.parametrize(("code", "coin"), [("JPY", MONEY), ("EUR", 10_000), ("KWD", 1_000)])
def test_a_coin_is_the_currencys_own_smallest(books: Books, code: str, coin: int) -> None:
    _currency(books, code)
    assert studio_settings.coin_micro() == coin
    operations.pay_bill(what=Kind.ENERGY, value=coin, at=day(1), by=books.by, now=NOW)
    with pytest.raises(NotWholeCoins):
        operations.pay_bill(what=Kind.ENERGY, value=coin // 2, at=day(1), by=books.by, now=NOW)
    assert differences() == []


def test_the_currency_can_be_changed_until_the_first_entry_and_never_after(books: Books) -> None:
    _currency(books, "EUR")
    _currency(books, "CHF")
    books.batch()
    with pytest.raises(CurrencyIsFrozen) as stop:
        _currency(books, "EUR")
    assert stop.value.field == "currency"
    assert studio_settings.known("currency") == "CHF"
    _currency(books, "CHF")


def test_a_first_answer_after_the_first_entry_keeps_the_size_of_the_coin(books: Books) -> None:
    books.batch()
    with pytest.raises(CurrencyIsFrozen):
        _currency(books, "JPY")
    _currency(books, "NOK")


def test_the_journal_has_no_column_that_could_hold_a_name_or_a_sentence() -> None:
    """Those who are written about can be erased, the journal can't: it holds keys and short codes only."""
    longest = {"kind": 24, "step": 16, "component": 12, "measure": 8}
    for model in JOURNAL:
        for field in model._meta.concrete_fields:
            assert not isinstance(field, (models.TextField, models.JSONField, models.BinaryField)), field
            if isinstance(field, models.CharField):
                assert field.max_length is not None and field.max_length <= longest[field.name], field
            if field.is_relation:
                assert field.remote_field.on_delete is models.PROTECT, field


def test_the_journal_has_no_column_for_fractions() -> None:
    for model in JOURNAL:
        for field in model._meta.concrete_fields:
            assert not isinstance(field, (models.FloatField, models.DecimalField)), field
            if field.name in ("amount", "value_micro"):
                assert isinstance(field, WholeField)


@pytest.mark.django_db
@pytest.mark.skipif(connection.vendor != "sqlite", reason="these are SQLite's settings")
def test_sqlite_is_set_as_the_journal_needs_it() -> None:
    """WAL and FULL: what was answered survives a power cut. Recursive triggers: REPLACE meets the delete trigger."""
    wanted = {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "recursive_triggers": 1}
    assert wanted.items() <= SQLITE_PRAGMAS.items()
    with connection.cursor() as cursor:
        for name, value in wanted.items():
            assert cursor.execute(f"PRAGMA {name}").fetchone()[0] == value, name
        assert cursor.execute("PRAGMA busy_timeout").fetchone()[0] == 20_000
    assert connection.settings_dict["OPTIONS"]["transaction_mode"] == "IMMEDIATE"
