"""Checks run before the studio is served: what the whole rests on is looked at, not assumed."""

import os
import stat
from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Tags, register
from django.db import connections

from studio.config.environment import SQLITE_PRAGMAS


@register(Tags.database)
def sqlite_pragmas(databases: Sequence[str] | None = None, **kwargs: Any) -> list[CheckMessage]:
    """Read back on a live connection what SQLite really does about durability, foreign keys and triggers."""
    found: list[CheckMessage] = []
    for alias in databases or []:
        connection = connections[alias]
        if connection.vendor != "sqlite":
            continue
        with connection.cursor() as cursor:
            for name, wanted in SQLITE_PRAGMAS.items():
                cursor.execute(f"PRAGMA {name}")
                value = cursor.fetchone()[0]
                if value != wanted:
                    found.append(
                        Error(
                            f"SQLite has {name} at {value}, not {wanted}: a power cut or a stray statement "
                            "could harm the books.",
                            hint="A network or shared folder can cause this. "
                            "Move the data (STUDIO_DATA) to a local disk.",
                            id="studio.E001",
                        )
                    )
    return found


@register(Tags.security)
def secret_is_private(**kwargs: Any) -> list[CheckMessage]:
    """The file the secret lies in is readable by its owner alone (where the system knows such a thing)."""
    path = settings.DATA_DIR / "secret"
    if os.name == "nt" or not path.exists():
        return []
    mode = stat.S_IMODE(path.stat().st_mode)
    if mode & 0o077:
        return [
            Error(
                f"{path} can be read by others (mode {mode:o}): whoever reads it can sign in as anybody.",
                hint=f"chmod 600 {path}",
                id="studio.E002",
            )
        ]
    return []
