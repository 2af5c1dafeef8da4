"""A database that is busy, and a form that came too late: what the person is told."""

from collections.abc import Sequence

from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template import loader

RETRY_AFTER_S = 5
# PostgreSQL: lock not available, deadlock, serialization failure (PostgreSQL manual, appendix A).
_BUSY_STATES = frozenset({"55P03", "40P01", "40001"})


def is_busy(error: BaseException | None) -> bool:
    """Return whether `error` only says that somebody else was writing at that moment."""
    if not isinstance(error, DatabaseError):
        return False
    state = getattr(error.__cause__, "sqlstate", None)
    return state in _BUSY_STATES or "is locked" in str(error)


def busy(request: HttpRequest) -> HttpResponse:
    """Answer 503 with when to come back: the form was not stored and may be sent again as it is.

    Rendered without the request, so that the page itself asks nothing of the database.
    """
    again = request.get_full_path() if request.method == "GET" else ""
    response = HttpResponse(loader.get_template("errors/503.html").render({"again": again}), status=503)
    response.headers["Retry-After"] = str(RETRY_AFTER_S)
    return response


def conflict(
    request: HttpRequest, why: str, *, back: str = "", changed: Sequence[tuple[str, str, str]] = ()
) -> HttpResponse:
    """Answer 409: what the form was about changed meanwhile. `changed` holds (what, was, now) as text.

    For a form that can still be shown with what was typed, include `parts/stale.html` above it instead.
    """
    return render(request, "errors/409.html", {"why": why, "back": back, "changed": changed}, status=409)
