"""When something a machine wants every so often is due again."""

from dataclasses import dataclass
from datetime import datetime, timedelta


@dataclass(frozen=True)
class Due:
    """`at`: due by the calendar, None where only hours count. `left_s`: hours it may still run before it is due, in
    seconds, None where only the calendar counts. `now`: one of the two is up."""

    at: datetime | None
    left_s: int | None
    now: bool


def due(*, since: datetime, now: datetime, every_s: int | None, run_s: int | None, ran_s: int) -> Due:
    """Say when it is due again: `every_s` after `since` (last done, or when its diary began), or once the machine has
    run `run_s` since then (`ran_s` so far), whichever comes first. Times must know their zone; all durations in
    seconds. Raises ValueError where neither interval is given or one isn't above nothing. Arithmetic only."""
    if every_s is None and run_s is None:
        raise ValueError("Say how often: by the calendar, by hours run, or both.")
    if min(one for one in (every_s, run_s) if one is not None) < 1 or ran_s < 0:
        raise ValueError("Intervals lie above nothing.")
    at = None if every_s is None else since + timedelta(seconds=every_s)
    left = None if run_s is None else max(run_s - ran_s, 0)
    return Due(at, left, (at is not None and at <= now) or left == 0)
