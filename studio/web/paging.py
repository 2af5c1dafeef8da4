"""Lists within a page: 25 at a time, each with its own word in the address."""

from collections.abc import Sequence
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.http import HttpRequest

EACH = 25


def paged(request: HttpRequest, rows: Sequence[Any] | QuerySet[Any], key: str) -> Page[Any]:
    """The part of `rows` that the address asks for with `key`; an address that makes no sense gives the first."""
    return Paginator(rows, EACH).get_page(request.GET.get(key))
