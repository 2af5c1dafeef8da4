"""Every request runs in the studio's own time zone and way of writing; a busy database is said plainly."""

from collections.abc import Callable

from django.db import OperationalError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from studio.fields import formats
from studio.people import settings as answers
from studio.people.roles import NotAllowed
from studio.web import errors


class StudioMiddleware:
    """One query for the studio's answers, which are then remembered until the request ends.

    A refusal belongs beside its form, so views answer those; only a right that is missing is answered here.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with answers.remembered():
            try:
                wanted = answers.formats()
            except OperationalError as error:
                if errors.is_busy(error):
                    return errors.busy(request)
                raise
            with formats.use(wanted), timezone.override(wanted.time_zone):
                return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if errors.is_busy(exception):
            return errors.busy(request)
        if isinstance(exception, NotAllowed):
            return render(request, "errors/403.html", {"reason": exception.message}, status=403)
        return None
