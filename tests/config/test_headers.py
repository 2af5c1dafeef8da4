import logging
from collections.abc import Callable

import pytest
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory
from django.urls import path

from studio.config import errors
from studio.config.csp import HEADER, NoStoreMiddleware, SecurityPolicyMiddleware
from studio.config.logs import HideSecrets, OneLine

pytestmark = pytest.mark.django_db
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; font-src 'self'; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
urlpatterns = [
    path("ordinary/", lambda request: HttpResponse("for us")),
    path("open/", login_not_required(lambda request: HttpResponse("come in"))),
]


def through(middleware: type, make: Callable[[HttpRequest], HttpResponse]) -> HttpResponse:
    answer: HttpResponse = middleware(make)(RequestFactory().get("/"))
    return answer


def with_headers(**headers: str) -> Callable[[HttpRequest], HttpResponse]:
    return lambda request: HttpResponse("x", headers={key.replace("_", "-"): value for key, value in headers.items()})


def test_every_answer_carries_the_strict_policy_even_one_about_a_missing_page(client: Client) -> None:
    response = client.get("/come-in/forged/")
    for answer in (response, client.get("/no/such/page/")):
        assert answer.headers[HEADER] == POLICY
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Referrer-Policy"] == "same-origin"
        assert answer.headers["X-Frame-Options"] == "DENY"
        assert "geolocation=()" in answer.headers["Permissions-Policy"]


def test_a_stricter_policy_of_a_view_is_kept() -> None:
    kept = through(SecurityPolicyMiddleware, with_headers(Content_Security_Policy="sandbox"))
    assert kept.headers[HEADER] == "sandbox"


def test_nothing_made_for_somebody_may_be_kept_unless_the_view_says_so() -> None:
    plain = through(NoStoreMiddleware, with_headers())
    assert "no-store" in plain.headers["Cache-Control"] and "private" in plain.headers["Cache-Control"]
    kept = through(NoStoreMiddleware, with_headers(Cache_Control="private, max-age=60"))
    assert kept.headers["Cache-Control"] == "private, max-age=60"


def test_pages_are_behind_the_sign_in_unless_they_say_otherwise(client: Client, settings) -> None:  # type: ignore[no-untyped-def]
    settings.ROOT_URLCONF = __name__
    response = client.get("/ordinary/")
    assert (response.status_code, response.headers["Location"]) == (302, "/sign-in/?next=/ordinary/")
    assert client.get("/open/").content == b"come in"


def test_a_host_nobody_named_is_refused_and_its_name_is_not_repeated(client: Client) -> None:
    response = client.get("/sign-in/", HTTP_HOST="evil.example")
    assert response.status_code == 400
    assert b"evil.example" not in response.content


def test_a_fault_gets_a_page_of_the_studio_and_no_inner_detail() -> None:
    response = errors.broken(RequestFactory().get("/"))
    assert response.status_code == 500
    assert b"Traceback" not in response.content and b"<h1" in response.content


def test_a_fault_gets_a_bare_page_when_even_the_page_for_it_breaks(monkeypatch: pytest.MonkeyPatch) -> None:
    def fall(*args: object, **kwargs: object) -> str:
        raise OSError("no templates")

    monkeypatch.setattr(errors, "render_to_string", fall)
    response = errors.broken(RequestFactory().get("/"))
    assert response.status_code == 500
    assert b"Nothing was stored" in response.content


@pytest.mark.parametrize(
    ("view", "status"), [(errors.bad_request, 400), (errors.forbidden, 403), (errors.not_found, 404)]
)
def test_each_kind_of_refusal_has_its_page_and_number(view: Callable[..., HttpResponse], status: int) -> None:
    assert view(RequestFactory().get("/"), Exception("because")).status_code == status


def test_a_form_without_its_token_and_too_many_tries_have_their_pages() -> None:
    request = RequestFactory().get("/")
    assert errors.csrf_failure(request).status_code == 403
    tries = errors.too_many_tries(request)
    assert (tries.status_code, tries.headers["Retry-After"]) == (429, "900")


def line(words: str, *args: object) -> str:
    record = logging.LogRecord("x", logging.WARNING, __file__, 1, words, args, None)
    HideSecrets().filter(record)
    return OneLine("{message}", style="{").format(record)


def test_a_log_line_holds_no_key_that_stood_in_an_address() -> None:
    assert line("Gone: %s", "/come-in/abc:def:ghi/") == "Gone: /come-in/..."
    assert line("Not Found: %s", "/wood/?q=name") == "Not Found: /wood/?..."


def test_a_log_line_stays_one_line_whatever_was_typed() -> None:
    assert line("Not Found: %s", "/a\nERROR fake\x1b[31m") == "Not Found: /a\\x0aERROR fake\\x1b[31m"
