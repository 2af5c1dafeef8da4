from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction
from django_tasks_db.models import DBTaskResult

from studio.jobs import operations, queries, registry
from studio.jobs.errors import Cancelled, JobEnded, NoSuchJob, UnknownKind
from studio.jobs.models import Job, State
from studio.jobs.progress import Progress, results_folder

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
KINDS = ("count", "write", "write_elsewhere", "break_down", "refuse", "bring_back_nonsense")


@pytest.fixture(autouse=True)
def known_kinds() -> Iterator[None]:
    for kind in KINDS:
        registry.register(kind, kind.replace("_", " "), f"tests.jobs.handlers:{kind}")
    yield
    for kind in KINDS:
        registry.forget(kind)


def begin(kind: str, **args: object) -> Job:
    return operations.start(kind=kind, args=args, by=None, at=NOW)


def done(kind: str, **args: object) -> Job:
    job = operations.carry_out(job_id=begin(kind, **args).pk)
    assert job is not None
    return job


def test_work_that_is_started_waits_in_the_queue() -> None:
    job = begin("count", to=3)
    assert (job.state, job.created_at, job.finished_at) == (State.WAITING, NOW, None)
    assert DBTaskResult.objects.get().args_kwargs["args"] == [job.pk]


def test_work_started_in_a_transaction_that_fails_leaves_nothing_in_the_queue() -> None:
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        begin("count", to=3)
        raise ZeroDivisionError
    assert (Job.objects.count(), DBTaskResult.objects.count()) == (0, 0)


def test_work_nobody_knows_is_refused_before_anything_is_stored() -> None:
    with pytest.raises(UnknownKind, match="doesn't know how"):
        begin("fly")
    assert Job.objects.count() == 0


def test_work_done_keeps_its_result_and_says_so() -> None:
    job = done("count", to=4)
    assert (job.state, job.percent, job.result, job.message) == (State.DONE, 100, {"counted": 4}, "Counted.")
    assert job.started_at is not None and job.finished_at is not None
    assert job.started_at <= job.finished_at


def test_a_file_the_work_made_is_kept_by_a_path_below_the_results() -> None:
    job = done("write", text="ash")
    assert (results_folder() / job.result_path).read_text() == "ash"


def test_a_file_outside_the_results_is_not_kept() -> None:
    job = done("write_elsewhere")
    assert (job.state, job.result_path) == (State.FAILED, "")


def test_work_that_breaks_is_failed_with_a_sentence_and_no_inner_detail() -> None:
    job = done("break_down")
    assert (job.state, job.message) == (State.FAILED, operations.BROKE)
    assert "secret detail" not in job.message


def test_work_that_is_refused_says_why() -> None:
    job = done("refuse")
    assert (job.state, job.message) == (State.FAILED, "The sheet has no pieces on it. Choose some first.")


def test_a_result_that_is_no_json_fails_the_work_instead_of_the_worker() -> None:
    assert done("bring_back_nonsense").state == State.FAILED


def test_waiting_work_is_stopped_at_once_and_never_done() -> None:
    job = begin("count", to=3)
    operations.cancel(job_id=job.pk, at=NOW)
    assert operations.carry_out(job_id=job.pk) is None
    job.refresh_from_db()
    assert (job.state, job.finished_at) == (State.CANCELLED, NOW)


def test_running_work_stops_at_its_next_tick() -> None:
    job = begin("count", to=3)
    Job.objects.filter(pk=job.pk).update(state=State.RUNNING, started_at=NOW)
    progress = Progress(job.pk, every_s=0)
    progress.tick(1, 3)
    operations.cancel(job_id=job.pk)
    with pytest.raises(Cancelled):
        progress.tick(2, 3)


def test_work_stopped_while_running_ends_as_stopped() -> None:
    job = begin("count", to=3)
    Job.objects.filter(pk=job.pk).update(cancel_requested=True)
    ended = operations.carry_out(job_id=job.pk)
    assert ended is not None
    assert (ended.state, ended.message) == (State.CANCELLED, operations.STOPPED)


def test_what_is_over_cannot_be_stopped() -> None:
    job = done("count", to=1)
    with pytest.raises(JobEnded, match="over already: done"):
        operations.cancel(job_id=job.pk)
    with pytest.raises(NoSuchJob):
        operations.cancel(job_id=job.pk + 1)


def test_work_is_done_once_even_when_two_workers_have_it() -> None:
    job = begin("count", to=1)
    assert operations.carry_out(job_id=job.pk) is not None
    assert operations.carry_out(job_id=job.pk) is None


def test_ticks_in_quick_succession_cost_no_queries(django_assert_num_queries) -> None:  # type: ignore[no-untyped-def]
    job = begin("count", to=1)
    clock = iter([0.0, 0.1, 0.2, 0.6])
    progress = Progress(job.pk, every_s=0.5, clock=lambda: next(clock))
    with django_assert_num_queries(2):
        progress.tick(0, 10)
    with django_assert_num_queries(0):
        progress.tick(1, 10)
        progress.tick(2, 10)
    with django_assert_num_queries(2):
        progress.tick(6, 10, "six")
    job.refresh_from_db()
    assert (job.percent, job.message) == (60, "six")


def test_what_a_dead_worker_left_is_marked_failed_with_a_sentence() -> None:
    left, waiting = begin("count", to=1), begin("count", to=1)
    Job.objects.filter(pk=left.pk).update(state=State.RUNNING, started_at=NOW)
    assert operations.mark_left_behind() == 1
    left.refresh_from_db()
    waiting.refresh_from_db()
    assert (left.state, left.message, waiting.state) == (State.FAILED, operations.DIED, State.WAITING)


def test_the_database_refuses_a_job_that_ended_at_no_time() -> None:
    job = begin("count", to=1)
    with pytest.raises(IntegrityError), transaction.atomic():
        Job.objects.filter(pk=job.pk).update(state=State.DONE)
    with pytest.raises(IntegrityError), transaction.atomic():
        Job.objects.filter(pk=job.pk).update(percent=101)
    with pytest.raises(IntegrityError), transaction.atomic():
        Job.objects.filter(pk=job.pk).update(started_at=NOW - timedelta(seconds=1))


def test_the_list_is_one_query_and_newest_first(django_assert_num_queries) -> None:  # type: ignore[no-untyped-def]
    first, second = begin("count", to=1), begin("count", to=2)
    with django_assert_num_queries(1):
        assert [job.pk for job in queries.newest()] == [second.pk, first.pk]
    with django_assert_num_queries(1):
        found = queries.job(first.pk)
    assert found is not None and found.pk == first.pk
