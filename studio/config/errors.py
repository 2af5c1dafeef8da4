"""Answers when something went wrong: a page of the studio's own, a plain sentence, the right number."""

import logging
import sys
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string

from studio.web import errors as screens

logger = logging.getLogger("studio.errors")

BARE = """<!doctype html><html lang="en"><meta charset="utf-8"><title>Something broke here</title>
<h1>Something broke here</h1><p>Nothing was stored by what you just did. Go back and try it once more;
if it breaks again, the log says why.</p><p><a href="/">To the round</a></p></html>"""


def _page(request: HttpRequest, template: str, status: int, **context: Any) -> HttpResponse:
    return HttpResponse(render_to_string(template, context, request=request), status=status)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _page(request, "errors/400.html", 400)


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _page(request, "errors/403.html", 403, reason=str(exception))


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    return _page(request, "errors/404.html", 404)


def broken(request: HttpRequest) -> HttpResponse:
    """The page for a fault of ours. Made without the request, so that whatever broke can't break it again."""
    if screens.is_busy(sys.exc_info()[1]):  # a middleware met a busy database; views are answered by our own
        return screens.busy(request)
    try:
        return HttpResponse(render_to_string("errors/500.html"), status=500)
    except Exception:
        logger.exception("The page for a fault could not be made either")
        return HttpResponse(BARE, status=500)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    return _page(request, "errors/csrf.html", 403)


def too_many_tries(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
    response = _page(request, "errors/429.html", 429)
    response.headers["Retry-After"] = str(15 * 60)
    return response
