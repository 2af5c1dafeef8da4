"""Entries of four lines posted by many processes at once, beside bare statements in a transaction."""

import multiprocessing
import os
import sys
import time
from collections.abc import Callable
from datetime import date
from typing import Any

from django.db import connection, transaction
from django.utils import timezone

from studio.config.bench.told import Figure

PASSWORD = "only for measuring, twice"  # noqa: S105  a studio that is thrown away


def figures(writers: int, for_s: float) -> list[Figure]:
    """Will let `writers` processes post into these data for so many seconds, in a studio founded if there is none."""
    accounts = _found(writers)
    connection.close()
    ours = _at_once(_post, accounts, for_s)
    bare = _at_once(_post_bare, accounts, for_s)
    return [
        Figure(
            f"posts per second, {connection.vendor}",
            f"{sum(ours) / for_s:,.0f}",
            f"{sum(bare) / for_s:,.0f}",
            f"4 lines each, {writers} writers; the slowest {min(ours) / for_s:,.1f}, the quickest "
            f"{max(ours) / for_s:,.1f}",
        )
    ]


def _found(writers: int) -> list[int]:
    from studio.ledger.accounts import Kind
    from studio.ledger.operations import open_account
    from studio.people.models import User
    from studio.people.operations import set_up_studio

    if not User.objects.exists():
        set_up_studio(
            studio_name="Measured", currency="EUR", length_unit="mm", temperature_unit="°C", pressure_unit="bar",
            username="measurer", display_name="Measurer", password=PASSWORD, at=timezone.now(),
        )  # fmt: skip
    return [open_account(Kind.WORKPIECE).pk for _ in range(writers)]


def _at_once(post: Callable[[int], Callable[[], Any]], accounts: list[int], for_s: float) -> list[int]:
    """How many each process got through; they wait for each other before the first."""
    # A copy of this process starts much sooner than a new one, where the system can make it.
    how: Any = multiprocessing.get_context("fork" if sys.platform == "linux" else "spawn")
    barrier, told = how.Barrier(len(accounts)), how.Queue()
    writers = [how.Process(target=_write, args=(post.__name__, pk, for_s, barrier, told)) for pk in accounts]
    for writer in writers:
        writer.start()
    counts = [told.get(timeout=for_s + 120) for _ in writers]
    for writer in writers:
        writer.join()
    failed = [count for count in counts if not isinstance(count, int)]
    assert not failed, f"{len(failed)} of {len(counts)} writers stopped: {failed[0]}"
    return counts


def _write(which: str, account: int, for_s: float, barrier: Any, told: Any) -> None:
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.config.settings")
    django.setup()
    try:
        do = {"_post": _post, "_post_bare": _post_bare}[which](account)
        barrier.wait(120)
        count, until = 0, time.monotonic() + for_s
        while time.monotonic() < until:
            do()
            count += 1
        told.put(count)
    except Exception as problem:
        barrier.abort()
        told.put(f"{type(problem).__name__}: {problem}")


def _post(account: int) -> Callable[[], Any]:
    """Half an hour at the lathe: own hours and overhead, each on the workpiece and against its pool."""
    from studio.ledger.accounts import Account, Component, Kind
    from studio.ledger.operations import charge

    target = Account.objects.get(pk=account)
    parts = {Component.OWN_LABOUR: 14_000_000, Component.OVERHEAD: 6_000_000}
    against: dict[Component, Account | Kind] = {
        Component.OWN_LABOUR: Kind.OWN_LABOUR,
        Component.OVERHEAD: Kind.OVERHEAD,
    }
    return lambda: charge(account=target, values=parts, against=against, at=timezone.now(), kind="hours", step="turn")


def _post_bare(account: int) -> Callable[[], Any]:
    """The same rows by bare statements, nothing looked at."""
    from studio.ledger.accounts import Kind, pool

    pools = {"own_labour": pool(Kind.OWN_LABOUR).pk, "overhead": pool(Kind.OVERHEAD).pk}
    lines = [
        (where, part, sign * value)
        for part, value in (("own_labour", 14_000_000), ("overhead", 6_000_000))
        for where, sign in ((account, 1), (pools[part], -1))
    ]
    change = sum(value for where, _, value in lines if where == account)

    def post() -> None:
        now = timezone.now()
        with transaction.atomic(), connection.cursor() as cursor:
            entry = _entry(cursor, now, now.date())
            cursor.executemany(
                "INSERT INTO ledger_line (entry_id, account_id, component, amount, value_micro) "
                "VALUES (%s, %s, %s, 0, %s)",
                [(entry, *line) for line in lines],
            )
            cursor.execute(
                "UPDATE ledger_account SET value_micro = value_micro + %s WHERE id = %s", [change, account]
            )

    return post


def _entry(cursor: Any, now: Any, today: date) -> int:
    cursor.execute(
        "INSERT INTO ledger_entry (kind, step, effective_at, effective_on, recorded_at) "
        "VALUES ('hours', 'turn', %s, %s, %s) RETURNING id",
        [str(now), str(today), str(now)] if connection.vendor == "sqlite" else [now, today, now],
    )
    return cursor.fetchone()[0]
