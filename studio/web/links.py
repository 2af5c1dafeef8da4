"""Addresses of screens by name, for pages that stand before the screen they lead to does."""

from typing import Any

from django.urls import NoReverseMatch, reverse


def to(name: str, *args: Any, **kwargs: Any) -> str:
    """Return the address of a screen, or nothing where there is no such screen."""
    try:
        return reverse(name, args=args or None, kwargs=kwargs or None)
    except NoReverseMatch:
        return ""
