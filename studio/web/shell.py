"""The words at the top of every page, and the sentence that says what was just done."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse

from studio.people import roles

UNDO = "undo="
THEN = "then="


@dataclass(frozen=True)
class Word:
    """One word of the header: the name of the url it leads to and the right one needs to be shown it."""

    word: str
    url_name: str
    right: str = "read"
    aside: bool = False


WORDS = (
    Word("Round", "round"),
    Word("Wood", "wood"),
    Word("Stores", "stores"),
    Word("Pieces", "pieces"),
    Word("Commissions", "commissions", "contacts"),
    Word("Galleries", "galleries"),
    Word("Prices", "prices", "see_costs"),
    Word("Books", "books", "see_money"),
    Word("Studio", "settings", "settings", aside=True),
    Word("Help", "help", aside=True),
)


@dataclass(frozen=True)
class Shown:
    """A word as this person sees it now. `current` is what aria-current should say, empty when elsewhere."""

    word: str
    url: str
    current: str
    aside: bool


def _url(name: str) -> str | None:
    try:
        return reverse(name)
    except NoReverseMatch:
        return None


def words_for(user: Any, path: str, section: str | None = None) -> list[Shown]:
    """Return the words `user` may follow, in order; a word whose screen does not exist is left out.

    The current one is `section` (a url name) if given, otherwise the word whose address `path` lies under.
    """
    open_to = [
        (word, url)
        for word in WORDS
        if roles.allowed(user, word.right) and (url := _url(word.url_name)) is not None
    ]
    if section is None:
        under = [
            (len(url), word.url_name)
            for word, url in open_to
            if path == url or (url != "/" and path.startswith(url))
        ]
        section = max(under)[1] if under else ""
    return [
        Shown(
            word.word,
            url,
            ("page" if path == url else "true") if word.url_name == section else "",
            word.aside,
        )
        for word, url in open_to
    ]


def said(
    request: HttpRequest, sentence: str, *, undo: str | None = None, then: tuple[str, str] | None = None
) -> None:
    """Say on the next page what was just done. `undo` is an address that takes a POST and reverses it; `then` is
    an address and the word that leads to it, where one goes on from here."""
    tags = UNDO + undo if undo else f"{THEN}{then[0]} {then[1]}" if then else ""
    messages.success(request, sentence, extra_tags=tags)


def warned(request: HttpRequest, sentence: str) -> None:
    """Say on the next page something done that wants a second look."""
    messages.warning(request, sentence)


def then_link(extra_tags: str | None) -> tuple[str, str] | None:
    """Return the address and the word put in by `said`, or nothing."""
    if not extra_tags or not extra_tags.startswith(THEN):
        return None
    url, _, word = extra_tags[len(THEN) :].partition(" ")
    return url, word


def undo_address(extra_tags: str | None) -> str:
    """Return the address put in by `said`, or nothing."""
    return extra_tags[len(UNDO) :] if extra_tags and extra_tags.startswith(UNDO) else ""
