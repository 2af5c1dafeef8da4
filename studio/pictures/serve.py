"""Answering a request with a picture. Who may see it, the caller has asked before."""

from django.http import FileResponse, Http404
from django.utils.http import quote_etag

from studio.pictures.models import CONTENT_TYPE, SUFFIX, Picture, Size

DAY_S = 86_400


def response(picture: Picture, size: Size | str = Size.LARGE) -> FileResponse:
    """Return the file of a rendition, typed by us, never guessed, and inert whatever it holds.

    Raises Http404 for a size there isn't and for a file that is gone. Pictures of a studio are its own and
    its clients': only the browser that asked may keep them, for a day.
    """
    if size not in Size.values:
        raise Http404("There is no such size of a picture.")
    try:
        handle = open(picture.path(size), "rb")  # noqa: SIM115  FileResponse closes it
    except FileNotFoundError:
        raise Http404("This picture's file is gone.") from None
    answer = FileResponse(handle, content_type=CONTENT_TYPE, filename=f"{picture.name[:8]}-{size}{SUFFIX}")
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Content-Security-Policy"] = "default-src 'none'; sandbox"
    answer["Cross-Origin-Resource-Policy"] = "same-origin"
    answer["Cache-Control"] = f"private, max-age={DAY_S}, immutable"
    answer["ETag"] = quote_etag(picture.large_sha256 if size == Size.LARGE else picture.small_sha256)
    return answer
