"""Which workpieces stand behind accounts and numbers."""

from collections.abc import Iterable

from studio.work.making import gone_words
from studio.work.models import Workpiece


def by_account(account_ids: Iterable[int]) -> dict[int, Workpiece]:
    """Workpieces by the key of their account. One query."""
    rows = Workpiece.objects.filter(account__in=list(account_ids)).select_related("species")
    return {row.account_id: row for row in rows}


def by_number(numbers: Iterable[str]) -> dict[str, Workpiece]:
    """Workpieces on the bench by number; a number nothing alive carries is absent. One query."""
    rows = Workpiece.objects.on_the_bench().filter(number__in=list(numbers)).select_related("account", "species")
    return {row.number: row for row in rows}


def why_absent(numbers: Iterable[str]) -> list[str]:
    """For each number nothing on the bench carries, how it left and what to do. At most two queries a number."""
    wanted = list(numbers)
    gone = {row.number: row for row in Workpiece.objects.filter(number__in=wanted, closed_at__isnull=False)}
    return [
        gone_words(gone[number])
        if number in gone
        else f"Nothing carries the number {number}. Look at the tag again, or leave it out."
        for number in wanted
    ]
