"""A database of its own on PostgreSQL, thrown away when the figures are known."""

import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from urllib.parse import urlsplit, urlunsplit


@contextmanager
def of_its_own(address: str) -> Iterator[str]:
    """Make an empty database beside the one at `address` and give its address; it goes with whatever happens."""
    import psycopg
    from psycopg import sql

    name = f"bench_{secrets.token_hex(6)}"
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
    try:
        yield urlunsplit(urlsplit(address)._replace(path=f"/{name}"))
    finally:
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(sql.Identifier(name)))
