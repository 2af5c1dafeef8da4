"""What a handler tells the screen while it works, and how it learns that it should stop."""

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.conf import settings

from studio.jobs.errors import Cancelled
from studio.jobs.models import MESSAGE_LENGTH, Job


class Progress:
    """Handed to every handler. `tick` costs a query at most every `every_s` seconds, so call it freely.

    Call it outside any transaction: inside one nobody sees the figure before the end.
    """

    def __init__(
        self,
        job_id: int,
        by: Any = None,
        every_s: float = 0.5,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.job_id = job_id
        self.by = by
        self._every_s = every_s
        self._clock = clock
        self._written: float | None = None

    def tick(self, done: int, total: int, message: str = "") -> None:
        """Say that `done` of `total` is finished. Raises `Cancelled` when somebody asked for the work to
        stop."""
        now = self._clock()
        if self._written is not None and now - self._written < self._every_s:
            return
        self._written = now
        percent = 0 if total <= 0 else max(0, min(100, 100 * done // total))
        row = Job.objects.filter(pk=self.job_id)
        row.update(percent=percent, message=message[:MESSAGE_LENGTH])
        if row.filter(cancel_requested=True).exists():
            raise Cancelled

    def file(self, suffix: str) -> Path:
        """A path of this job's own to write its file to; `suffix` with its dot (`.pdf`)."""
        folder = results_folder()
        folder.mkdir(mode=0o700, exist_ok=True)
        return folder / f"{self.job_id}{suffix}"


def results_folder() -> Path:
    return Path(settings.DATA_DIR) / "jobs"
