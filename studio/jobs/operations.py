"""Every change of a job's state."""

import json
import logging
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from django.db import transaction
from django.db.models.functions import Greatest
from django.utils import timezone

from studio.fields.errors import Refused
from studio.jobs import registry
from studio.jobs.errors import Cancelled, JobEnded, NoSuchJob, ResultUnfit
from studio.jobs.models import MESSAGE_LENGTH, Job, State
from studio.jobs.progress import Progress, results_folder

logger = logging.getLogger("studio.jobs")

BROKE = (
    "Something broke while this was being done; nothing half done was kept as a result. "
    "Start it again; if it breaks again, the log says why."
)
DIED = "The machine or the program stopped while this was being done. Start it again."
STOPPED = "Stopped, as asked."


@dataclass(frozen=True)
class Outcome:
    """What a handler returns: something JSON can hold, a file below the results folder, a closing
    sentence."""

    result: Any = None
    file: Path | None = None
    message: str = ""


def start(*, kind: str, args: dict[str, Any], by: Any, at: datetime | None = None) -> Job:
    """Will put the work in the queue and return its row, with the surrounding transaction or not at all.

    Raises `UnknownKind` for work nobody has registered.
    """
    from studio.jobs.tasks import work_on

    registry.entry(kind)
    with transaction.atomic():
        job = Job.objects.create(kind=kind, args=args, by=by, created_at=at or timezone.now())
        work_on.enqueue(job.pk)
    return job


def cancel(*, job_id: int, at: datetime | None = None) -> Job:
    """Will stop the work: at once when it hasn't begun, at its next tick when it has.

    Raises `NoSuchJob`, and `JobEnded` when it is over already.
    """
    with transaction.atomic():
        job = Job.objects.select_for_update().filter(pk=job_id).first()
        if job is None:
            raise NoSuchJob("This work is not on the list any more.")
        if job.ended:
            raise JobEnded(f"This is over already: {job.get_state_display()}. There is nothing to stop.")
        job.cancel_requested = True
        if job.state == State.WAITING:
            job.state, job.message, job.finished_at = State.CANCELLED, STOPPED, at or timezone.now()
        job.save(update_fields=["cancel_requested", "state", "message", "finished_at"])
    return job


def carry_out(*, job_id: int) -> Job | None:
    """Will do the work of one waiting job, here and now, and write down how it ended. Only the worker calls
    this.

    Returns None, doing nothing, when the job is not waiting: stopped meanwhile, or taken by another worker.
    """
    now = timezone.now()
    taken = Job.objects.filter(pk=job_id, state=State.WAITING).update(
        state=State.RUNNING, started_at=Greatest("created_at", now)
    )
    if not taken:
        return None
    job = Job.objects.select_related("by").get(pk=job_id)
    try:
        outcome = registry.entry(job.kind).load()(job.args, Progress(job.pk, job.by))
        path, result = _kept(outcome)
    except Cancelled:
        return _end(job_id, State.CANCELLED, STOPPED)
    except Refused as refusal:
        return _end(job_id, State.FAILED, refusal.message)
    except Exception:
        logger.exception("Job %s (%s) broke", job_id, job.kind)
        return _end(job_id, State.FAILED, BROKE)
    return _end(job_id, State.DONE, outcome.message, percent=100, result_path=path, result=result)


def mark_left_behind() -> int:
    """Will mark as failed what a worker that is no more was doing. Called by a worker that holds the worker's
    lock.

    Returns how many there were.
    """
    left = list(Job.objects.filter(state=State.RUNNING).values_list("pk", flat=True))
    for pk in left:
        _end(pk, State.FAILED, DIED)
    return len(left)


def _end(job_id: int, state: State, message: str, **more: Any) -> Job:
    Job.objects.filter(pk=job_id, state=State.RUNNING).update(
        state=state, message=message[:MESSAGE_LENGTH], finished_at=timezone.now(), **more
    )
    return Job.objects.get(pk=job_id)


def _kept(outcome: Outcome) -> tuple[str, Any]:
    json.dumps(outcome.result, allow_nan=False)
    if outcome.file is None:
        return "", outcome.result
    file, folder = outcome.file.resolve(), results_folder().resolve()
    if not file.is_relative_to(folder) or not file.is_file():
        raise ResultUnfit("The file this made can't be found where results are kept. Start it again.")
    return str(file.relative_to(folder)), outcome.result
