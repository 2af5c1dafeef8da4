"""What everything on the bench cost, by component, beside one statement written by hand."""

from django.db import connection

from studio.config.bench.told import Figure, median_s, seconds
from studio.ledger.queries import costs_of

BY_HAND = """
SELECT l.account_id, l.component, SUM(l.value_micro)
  FROM ledger_line l JOIN ledger_account a ON a.id = l.account_id
 WHERE a.kind = 'workpiece'
 GROUP BY l.account_id, l.component
HAVING SUM(l.value_micro) <> 0
"""


def figures(times: int) -> list[Figure]:
    """Will measure both and raise AssertionError where they differ."""
    ours = {(pk, part.value): value for pk, cost in costs_of().items() for part, value in cost.parts.items()}
    theirs = {(pk, part): int(value) for pk, part, value in _by_hand()}
    assert ours == theirs, "the costs differ from those of the statement written by hand"
    note = f"{len({pk for pk, _ in ours}):,} workpieces that hold value"
    return [
        Figure("what everything cost", seconds(median_s(costs_of, times)), seconds(median_s(_by_hand, times)), note)
    ]


def _by_hand() -> list[tuple]:
    with connection.cursor() as cursor:
        cursor.execute(BY_HAND)
        return cursor.fetchall()
