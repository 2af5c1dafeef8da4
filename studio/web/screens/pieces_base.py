"""What the screens about made things share: the piece an address names, words for its wood, size and place."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.http import Http404
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from studio.papers.from_pieces import resin_words, size_words
from studio.people import settings as answers
from studio.people.models import Role, User
from studio.pieces.models import Piece
from studio.web.deeds import Deed
from studio.web.forms import StudioForm
from studio.work.models import Workpiece

SEARCH_LENGTH = 100

__all__ = [
    "SEARCH_LENGTH",
    "AtPiece",
    "Nothing",
    "Suggest",
    "form_choices",
    "named",
    "piece_or_404",
    "resin_words",
    "size_words",
    "whose_hand",
    "wood_words",
]


class Suggest(forms.TextInput):
    """A line of text with the studio's own words offered below it; any other word may be typed."""

    def __init__(self, words: Iterable[str] = (), attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"autocomplete": "off", **(attrs or {})})
        self.words = tuple(words)

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        offered = f"{name}_words"
        box = super().render(name, value, {**(attrs or {}), "list": offered}, renderer)
        options = format_html_join("", '<option value="{}"></option>', ((word,) for word in self.words))
        return format_html('{}<datalist id="{}">{}</datalist>', box, offered, options)


class Nothing(StudioForm):
    """A deed that asks nothing more."""


class AtPiece(Deed):
    """A deed on one piece, named by its key in the address."""

    section = "pieces"
    piece: Piece

    def find(self, pk: int, **_: Any) -> None:
        found = piece_or_404(pk)
        self.piece = found
        self.back = self.home

    @property
    def home(self) -> str:
        return reverse("piece", args=[self.piece.pk])

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"piece": self.piece, "sub": named(self.piece)}


def piece_or_404(pk: int) -> Piece:
    found = Piece.objects.select_related("workpiece__account", "workpiece__species").filter(pk=pk).first()
    if found is None:
        raise Http404("There is no such piece.")
    return found


def named(piece: Piece) -> str:
    """`0179, Bog-oak jar`, or what there is of it."""
    return ", ".join(word for word in (str(piece), piece.title) if word)


def form_choices(current: str = "") -> list[tuple[str, str]]:
    """The studio's own forms, and the one this piece has if it is another."""
    forms_of_studio = list(answers.value("forms"))
    if current and current not in forms_of_studio:
        forms_of_studio.append(current)
    return [("", "not said yet"), *((word, word) for word in forms_of_studio)]


def whose_hand(user: Any) -> User:
    """Whose usual times the steps still to come are reckoned with: the reader's where he works at the bench."""
    if user.role in (Role.OWNER, Role.MAKER):
        return user
    return User.objects.owners().order_by("pk").first() or user


def wood_words(workpiece: Workpiece) -> str:
    """The wood of a row in a list: what is written with the workpiece, nothing looked up."""
    kind = workpiece.get_wood_kind_display() if workpiece.wood_kind not in ("", "plain") else ""
    return " ".join(word for word in (str(workpiece.species or ""), kind) if word)
