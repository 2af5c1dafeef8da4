"""The same figures a second time: from single lines of the journal, by other means, sharing nothing.

The first computation reads the balances that accounts carry and sums in the database; this one reads every
line and sums in data frames. Where the two disagree, one of them is wrong, and the report says so.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from studio.ledger import queries as ledger
from studio.ledger.accounts import PAID_OUT

COLUMNS = ["account", "kind", "component", "commodity", "amount", "value", "day"]
_SAFE = 2**62


@dataclass(frozen=True)
class Twice:
    """Value on one account: what was paid out of it, and all in. Millionths."""

    paid_out: int = 0
    all_in: int = 0


class Lines:
    """Every line of the journal in one frame. One query; about 100 bytes a line while it lives."""

    def __init__(self) -> None:
        import pandas as pd

        self.frame = pd.DataFrame(ledger.lines_frame(), columns=COLUMNS)
        # Sums of 64-bit whole numbers wrap round without a word; beyond what can't wrap, Python's own are used.
        largest = int(self.frame["value"].abs().max() or 0) if len(self.frame) else 0
        if largest * len(self.frame) >= _SAFE:
            self.frame["value"] = self.frame["value"].astype(object)

    @property
    def count(self) -> int:
        return len(self.frame)

    @property
    def whole(self) -> int:
        """The sum of every value there is: nothing, in books that hold."""
        return int(self.frame["value"].sum()) if self.count else 0

    def by_account(self) -> dict[int, Twice]:
        """Value on every account, paid out and all in."""
        if not self.count:
            return {}
        all_in = self._summed(self.frame, "account")
        paid = self._summed(self.frame[self.frame["component"].isin([str(part) for part in PAID_OUT])], "account")
        return {account: Twice(paid.get(account, 0), value) for account, value in all_in.items()}

    def by_kind(self, *, since: date | None = None, until: date | None = None) -> dict[str, int]:
        """Value on all accounts of each kind, over the days named."""
        frame = self.frame
        if since:
            frame = frame[frame["day"] >= since]
        if until:
            frame = frame[frame["day"] <= until]
        return self._summed(frame, "kind") if len(frame) else {}

    @staticmethod
    def _summed(frame: Any, column: str) -> dict[Any, int]:
        return {key: int(value) for key, value in frame.groupby(column)["value"].sum().items()}


def together(found: dict[int, Twice], accounts: Iterable[int]) -> Twice:
    """The sum over some accounts."""
    held = [found.get(account, Twice()) for account in accounts]
    return Twice(sum(one.paid_out for one in held), sum(one.all_in for one in held))
