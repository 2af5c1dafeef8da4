"""Whole-number columns: the only kind of column that may hold money, grams or anything counted."""

from decimal import Decimal

from django.db import models
from django.db.models import Value
from django.db.models.functions import Cast

LIMIT = 10**15


class NotWhole(TypeError):
    """Something other than an `int` was about to be stored as a whole number."""


class WholeField(models.BigIntegerField):
    """A 64-bit integer that refuses floats, Decimals, text and booleans instead of cutting them short.

    Django's own integer field turns 1.99 into 1 without a word, which is how a gram goes missing.
    """

    def get_prep_value(self, value):  # type: ignore[no-untyped-def]
        if value is None or hasattr(value, "resolve_expression"):
            return value
        if type(value) is not int:
            raise NotWhole(f"{self.name} takes a whole number, not {value!r} ({type(value).__name__}).")
        return super().get_prep_value(value)

    def get_db_prep_save(self, value, connection):  # type: ignore[no-untyped-def]
        """Look into an expression too: F("x") - Decimal("2.5") leaves a REAL cell, or a rounded one."""
        if hasattr(value, "flatten"):
            for node in value.flatten():
                if isinstance(node, Value) and isinstance(node.value, (float, Decimal)):
                    raise NotWhole(f"{self.name} takes whole numbers only, not {node.value!r}.")
        return super().get_db_prep_save(value, connection)


def whole_checks(table: str, *names: str, at_least: int | None = None) -> list[models.CheckConstraint]:
    """Database checks that each named column really holds an integer within ±10^15.

    SQLite stores 1.5 or 'abc' in an integer column without complaint; a comparison with its own cast sees it.
    """
    low = -LIMIT if at_least is None else at_least
    return [
        models.CheckConstraint(
            condition=models.Q(
                (name, Cast(name, models.BigIntegerField())),
                (f"{name}__gte", low),
                (f"{name}__lte", LIMIT),
            ),
            name=f"{table}_{name}_whole",
        )
        for name in names
    ]
