"""Pages as signed-in people get them, beside the same template given the same things without asking for them."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.db import connection
from django.db.models.sql.compiler import SQLCompiler
from django.http import HttpRequest, HttpResponse
from django.template.backends.django import Template
from django.test import Client
from django.test.utils import override_settings
from django.urls import reverse

from studio.config.bench.told import Figure, median_s, seconds
from studio.people.models import User
from studio.pieces.models import Piece

BARE_URLS = "studio.config.bench.bare_urls"


@dataclass
class Kept:
    """What a view handed to its template, and every answer of the database the template then asked for."""

    template: Template
    context: dict[str, Any]
    answers: dict[tuple, Any]


kept: dict[str, Kept] = {}


def screens() -> list[tuple[str, str]]:
    """The pages measured: what each is called and where it is."""
    finished = Piece.objects.filter(finished_at__isnull=False)
    middle = finished.order_by("pk")[finished.count() // 2]
    return [
        ("the round", reverse("round")),
        ("the bench", reverse("bench")),
        ("the pieces", reverse("pieces")),
        ("one piece", reverse("piece", args=[middle.pk])),
        ("the books", reverse("books")),
    ]


def figures(times: int) -> list[Figure]:
    """Will measure every page as the first owner sees it; raises AssertionError where one does not open."""
    client = signed_in()
    with override_settings(ROOT_URLCONF=BARE_URLS, ALLOWED_HOSTS=["testserver"]):
        return [measured(client, f"{name}, {url}", url, times) for name, url in screens()]


def signed_in() -> Client:
    """The first owner at a browser."""
    client = Client()
    owner = User.objects.owners().order_by("pk").first()
    assert owner is not None, "there is nobody to open the pages for"
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    return client


def measured(client: Client, name: str, url: str, times: int) -> Figure:
    """Will time one page and the same template given the same things."""
    with _remembering(url):
        whole = _opened(client, url)
    bare_url = f"/bare/?{urlencode({'of': url})}"
    bare = _opened(client, bare_url)
    assert len(bare) > 0.9 * len(whole), f"{url} was not rendered again: {len(bare)} bytes of {len(whole)}"
    _opened(client, bare_url)
    asked, asked_bare = _asked(client, url), _asked(client, bare_url)
    ours = median_s(lambda: client.get(url), times)
    least = median_s(lambda: client.get(bare_url), times)
    note = f"{asked} queries, {asked_bare} bare; {len(whole) / 1024:.0f} KiB"
    return Figure(name, seconds(ours), seconds(least), note)


def _opened(client: Client, url: str) -> bytes:
    answer = client.get(url)
    assert answer.status_code == 200, f"{url} answered {answer.status_code}"
    return answer.content


def _asked(client: Client, url: str) -> int:
    count = 0

    def counted(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        nonlocal count
        count += 1
        return execute(sql, params, many, context)

    with connection.execute_wrapper(counted):
        client.get(url)
    return count


@contextmanager
def _remembering(url: str) -> Iterator[None]:
    """Keep what the view of this page hands to the first template it renders."""
    render = Template.render

    def keep(self: Template, context: Any = None, request: Any = None) -> Any:
        kept.setdefault(url, Kept(self, dict(context or {}), {}))
        return render(self, context, request)

    Template.render = keep  # type: ignore[method-assign, assignment]
    try:
        yield
    finally:
        Template.render = render  # type: ignore[method-assign]


def bare(request: HttpRequest) -> HttpResponse:
    """The kept template with the kept context. What the template itself asks of the database is asked once and
    then remembered, so that nothing but rendering is left."""
    page = kept[request.GET["of"]]
    with _answering_from(page.answers):
        return HttpResponse(page.template.render(page.context, request))


@contextmanager
def _answering_from(answers: dict[tuple, Any]) -> Iterator[None]:
    execute = SQLCompiler.execute_sql

    def remembered(self: SQLCompiler, *args: Any, **kwargs: Any) -> Any:
        sql, params = self.as_sql()
        key = (sql, repr(params), repr(args), repr(kwargs))
        if key not in answers:
            found = execute(self, *args, **kwargs)
            answers[key] = found if found is None or isinstance(found, (list, tuple, int)) else list(found)
        return answers[key]

    SQLCompiler.execute_sql = remembered  # type: ignore[method-assign]
    try:
        yield
    finally:
        SQLCompiler.execute_sql = execute  # type: ignore[method-assign]
