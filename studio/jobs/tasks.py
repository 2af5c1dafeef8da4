"""The one task the queue knows; what it does is decided by the job's kind."""

from django_tasks import task

from studio.jobs import operations


@task()
def work_on(job_id: int) -> None:
    operations.carry_out(job_id=job_id)
