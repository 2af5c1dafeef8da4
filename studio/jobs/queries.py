"""Reads for the screens: one query each."""

from typing import Any

from studio.jobs.models import Job, JobQuerySet


def job(job_id: int) -> Job | None:
    """One job with who asked for it, or None."""
    return Job.objects.select_related("by").filter(pk=job_id).first()


def newest(*, by: Any = None, limit: int = 50) -> JobQuerySet:
    """The newest jobs, of one person when told."""
    jobs = Job.objects.select_related("by").newest_first()
    return (jobs if by is None else jobs.filter(by=by))[:limit]
