"""Headers every answer carries: what the page may load, what the browser may offer it, and what may be
kept."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase
from django.utils.cache import add_never_cache_headers

Answer = Callable[[HttpRequest], HttpResponseBase]
HEADER = "Content-Security-Policy"


def policy() -> str:
    """The content security policy as one header value, from SECURE_CSP."""
    return "; ".join(f"{name} {sources}" for name, sources in settings.SECURE_CSP.items())


class SecurityPolicyMiddleware:
    """Puts the policy on every answer that brings none of its own (a served picture brings a stricter
    one)."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response
        self.policy = policy()

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        response.headers.setdefault(HEADER, self.policy)
        response.headers.setdefault("Permissions-Policy", settings.PERMISSIONS_POLICY)
        return response


class NoStoreMiddleware:
    """Nothing that was made for somebody is kept by a browser or a proxy, unless the view says how long it
    may be."""

    def __init__(self, get_response: Answer) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if not response.has_header("Cache-Control"):
            add_never_cache_headers(response)
        return response
