"""Photographs: taken in with a form, and shown on a page."""

from typing import Any, cast

from django.forms import CharField, FileField, HiddenInput
from django.http import FileResponse, Http404, HttpRequest, QueryDict
from django.urls import path
from django.utils import timezone

from studio.fields.errors import Refused
from studio.people.models import User
from studio.pictures import operations as pictures
from studio.pictures import queries
from studio.pictures.models import Picture, Size
from studio.pictures.serve import response
from studio.web.deeds import Reading
from studio.web.forms import Camera, StudioForm


class PhotographForm(StudioForm):
    """A form with a photograph. It is kept as soon as it has arrived, before anything is booked: decoding
    takes a moment and nothing may wait for it. When something else in the form is wrong the photograph
    stays, by its name in `photo_kept`, so that nobody has to take it twice.
    """

    photo_required = False
    photo = FileField(label="A photograph", required=False, widget=Camera())
    photo_kept = CharField(required=False, widget=HiddenInput, max_length=32)

    def __init__(self, *args: Any, by: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.by = by
        self.order_fields([name for name in self.fields if name != "photo_kept"])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        file, kept = data.get("photo"), data.pop("photo_kept", "")
        data["photo"] = queries.by_name(kept) if kept else None
        if file:
            try:
                data["photo"] = pictures.take(file=file, by=self.by, at=timezone.now())
            except Refused as stop:
                self.add_error("photo", stop.message)
                return data
        if data["photo"] is not None:
            self._keep(data["photo"])
        elif self.photo_required:
            self.add_error("photo", "Choose a picture here.")
        return data

    def _keep(self, picture: Picture) -> None:
        data = cast(QueryDict, self.data).copy()
        data[self.add_prefix("photo_kept")] = picture.name
        self.data = data
        self["photo"].help_text = "Your photograph is kept. Choose another only if it was the wrong one."


class Photograph(Reading):
    def get(self, request: HttpRequest, name: str, size: str) -> FileResponse:
        picture = queries.by_name(name)
        if picture is None or size not in Size.values:
            raise Http404("There is no such picture.")
        return response(picture, size)


urlpatterns = [path("photographs/<slug:name>/<slug:size>.jpg", Photograph.as_view(), name="picture")]
