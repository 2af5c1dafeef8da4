"""What every template may ask for, fetched only if it does."""

from typing import Any

from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject
from django.utils.timezone import now

from studio.people import settings as answers

UNNAMED = "The studio"


def studio_name() -> str:
    """Return what the studio is called, or a plain word before anybody has said."""
    return str(answers.known("studio_name") or UNNAMED)


def shell(request: HttpRequest) -> dict[str, Any]:
    """`studio_name`, and `moment`: the server's time, by which the clocks on the page are set."""
    return {"studio_name": SimpleLazyObject(studio_name), "moment": now()}
