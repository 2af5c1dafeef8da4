"""What anybody with the card may read of a piece: no price, no client, no sign-in, no cookie."""

from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.urls import path
from django.utils.decorators import method_decorator
from django.views import View

from studio.fields.quantity import show
from studio.papers.from_pieces import resin_words, size_words
from studio.people import settings as answers
from studio.pictures.models import Size
from studio.pictures.serve import response as picture_response
from studio.pieces import queries

LONGEST_TOKEN = 64


@method_decorator(login_not_required, name="dispatch")
class Open(View):
    """A page for everybody who was given its address; machines that list the web are asked to leave it out."""

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        answer = super().dispatch(request, *args, **kwargs)
        answer.headers["X-Robots-Tag"] = "noindex, nofollow, noarchive"
        answer.headers["Referrer-Policy"] = "no-referrer"
        return answer


def found(token: str) -> queries.PublicPiece:
    piece = queries.by_token(token) if len(token) <= LONGEST_TOKEN else None
    if piece is None:
        raise Http404("There is no such piece.")
    return piece


class PublicPage(Open):
    def get(self, request: HttpRequest, token: str) -> HttpResponse:
        piece = found(token)
        pictures = [
            {"number": number, "caption": caption, "size": picture.shown_size(Size.LARGE)}
            for number, (picture, caption) in enumerate(piece.pictures)
        ]
        context = {
            "piece": piece,
            "first": pictures[0] if pictures else None,
            "others": pictures[1:],
            "resin": resin_words(piece.origin),
            "size": size_words(piece),
            "weight": show(piece.mass_mg, "mass", unit="g") if piece.mass_mg else "",
            "year": str(piece.signed_on.year) if piece.signed_on else "",
            "maker": answers.known("maker_name") or "",
        }
        return render(request, "public/piece.html", context)


class PublicPicture(Open):
    def get(self, request: HttpRequest, token: str, number: int, size: str) -> HttpResponseBase:
        pictures = found(token).pictures
        if number >= len(pictures):
            raise Http404("There is no such picture.")
        return picture_response(pictures[number][0], size)


urlpatterns = [
    path("p/<str:token>/", PublicPage.as_view(), name="public_piece"),
    path("p/<str:token>/<int:number>-<slug:size>.jpg", PublicPicture.as_view(), name="public_picture"),
]
