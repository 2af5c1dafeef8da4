"""A small studio told again and again, until it has as many pieces as one wants to measure at.

Every row of the rooms that hold what happened is copied with its keys moved on, so that each copy is a history of
its own and the books still add up. What there is one of (machines, materials, galleries, people) stays one.
SQLite only.
"""

from dataclasses import dataclass
from math import ceil
from typing import Any

from django.apps import apps
from django.db import connection, models, transaction

from studio.ledger.accounts import CARRIES_BALANCE, Account, Kind
from studio.pieces.models import Piece
from studio.work.models import Workpiece

ROOMS = ("ledger", "wood", "stores", "equipment", "work", "pieces", "selling")
STAY = {
    "Commodity", "BooksClosed", "Species", "Material", "ResinSystem", "Machine", "Mould", "UsualMinutes", "Gallery",
    "GalleryTerms", "ClientAccount", "Upkeep", "FinishSchedule", "FinishLine", "RagsIn", "MouldReady",
}  # fmt: skip
OWN_ACCOUNTS = ", ".join(f"'{kind.value}'" for kind in (*CARRIES_BALANCE, Kind.DEPOSIT))
# A machine runs one load and a person one clock at a time, so what runs now runs once.
ONLY = {
    "Account": f"kind IN ({OWN_ACCOUNTS})",
    "Load": "ended_at IS NOT NULL",
    "LoadPlace": "load_id IN (SELECT id FROM equipment_load WHERE ended_at IS NOT NULL)",
    "ClockRun": "stopped_at IS NOT NULL",
    "ClockShare": "run_id IN (SELECT id FROM work_clockrun WHERE stopped_at IS NOT NULL)",
}
# Names of which there may be one: each copy says which it is. What was kept for somebody is kept once.
SAID_ANEW = {
    ("Workpiece", "number"): "number || '~' || %(copy)s",
    ("Workpiece", "hold_reason"): "''",
    ("Workpiece", "hold_ref"): "''",
    ("Piece", "signed_number"): "signed_number || '~' || %(copy)s",
    ("Piece", "public_token"): "substr(public_token, 1, 24) || '-' || %(copy)s",
    ("Batch", "number"): "number + %(move)s",
    ("Bath", "name"): "name || ' ' || %(copy)s",
}


@dataclass(frozen=True)
class Grown:
    pieces: int
    workpieces: int
    lines: int

    def __str__(self) -> str:
        return f"{self.pieces:,} pieces, {self.workpieces:,} workpieces, {self.lines:,} lines in the journal"


def grow_to(pieces: int) -> Grown:
    """Will copy the studio in these data until it holds at least so many pieces."""
    step, copies = _step(), _copies()
    base = Piece.objects.filter(pk__lt=step).count()
    wanted = max(copies, ceil((pieces - base) / base))
    tables = [model for room in ROOMS for model in apps.get_app_config(room).get_models()]
    copied = {model for model in tables if model.__name__ not in STAY}
    with transaction.atomic(), connection.cursor() as cursor:
        for copy in range(copies + 1, wanted + 1):
            for model in tables:
                if model in copied:
                    cursor.execute(_statement(model, copied, step, copy))
    with connection.cursor() as cursor:
        cursor.execute("SELECT COUNT(*) FROM ledger_line")
        lines = cursor.fetchone()[0]
    return Grown(Piece.objects.count(), Workpiece.objects.count(), lines)


def _step() -> int:
    """How far the keys of one copy lie from those of the next: the same for all tables and all runs."""
    return 1_000_000


def _copies() -> int:
    newest = Account.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    return newest // _step()


def _statement(model: type[models.Model], copied: set[type[models.Model]], step: int, copy: int) -> str:
    table, fields = model._meta.db_table, model._meta.concrete_fields
    read = ", ".join(_read(model, field, copied, step, copy) for field in fields)
    which = f"id < {step} AND ({ONLY.get(model.__name__, '1')})"
    names = ", ".join(f'"{field.column}"' for field in fields)
    return f'INSERT INTO "{table}" ({names}) SELECT {read} FROM "{table}" WHERE {which} ORDER BY id'  # noqa: S608


def _read(model: type[models.Model], field: Any, copied: set[type[models.Model]], step: int, copy: int) -> str:
    said = SAID_ANEW.get((model.__name__, field.name))
    if said:
        return said % {"copy": copy, "move": copy * step}
    column = f'"{field.column}"'
    if field.primary_key:
        return f"{column} + {copy * step}"
    target = field.remote_field.model if field.remote_field else None
    if target not in copied:
        return column
    only = ONLY.get(target.__name__)
    if only is None:
        return f"{column} + {copy * step}"
    there = f'SELECT id FROM "{target._meta.db_table}" WHERE id < {step} AND ({only})'  # noqa: S608
    return f"CASE WHEN {column} IN ({there}) THEN {column} + {copy * step} ELSE {column} END"
