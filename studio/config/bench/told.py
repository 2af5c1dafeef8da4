"""One measured figure, and how it is told beside its bare counterpart."""

import statistics
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True)
class Figure:
    """What was measured, in words: `ours` by the studio, `bare` by the least that could do the same."""

    what: str
    ours: str
    bare: str = ""
    note: str = ""

    def line(self) -> str:
        return f"  {self.what:<42} {self.ours:>14} {self.bare:>14}   {self.note}".rstrip()

    def plain(self) -> dict[str, str]:
        return asdict(self)


def heading(words: str) -> str:
    return f"\n{words:<44} {'ours':>14} {'bare':>14}"


def median_s(do: Callable[[], Any], times: int) -> float:
    """Seconds `do` takes, the middle one of `times` runs."""
    taken = []
    for _ in range(times):
        began = time.perf_counter()
        do()
        taken.append(time.perf_counter() - began)
    return statistics.median(taken)


def seconds(value: float) -> str:
    """`12.3 ms` or `1.23 s`."""
    return f"{value * 1000:,.1f} ms" if value < 1 else f"{value:,.2f} s"
