"""What the studio has settled: every question with what holds, whose figure it is, and what was said before."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone

from studio.fields.errors import Refused
from studio.fields.formats import current
from studio.people import operations as people
from studio.people import queries
from studio.people import settings as answers
from studio.people.questions import REGISTRY
from studio.web import saying
from studio.web.asking import answer_field
from studio.web.deeds import Deed, Reading
from studio.web.forms import DayField, StudioForm


class SettingsPage(Reading):
    right = "settings"

    def get(self, request: HttpRequest) -> HttpResponse:
        page = queries.settings_page(timezone.localdate(), current())
        return render(request, "settings/page.html", {"groups": page, "section": "settings"})


class SettingForm(StudioForm):
    """One question; where the answer may change with time, from which day on."""

    def __init__(self, *args: Any, key: str, holds: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        question = REGISTRY[key]
        self.fields["value"] = answer_field(key)
        self.fields["value"].label = "Your answer"
        if holds is not None:
            self.fields["value"].initial = answers.show(key, holds, formats=current(), boxed=True)
        if question.dated:
            self.fields["from_on"] = DayField(
                label="From which day on?",
                help_text="What is in the books already stays as it was reckoned.",
                initial=timezone.localdate,
            )


class ChangeSetting(Deed):
    right = "settings"
    form_class = SettingForm
    section = "settings"

    def find(self, *, key: str) -> None:
        if key not in REGISTRY:
            raise Http404
        self.key = key
        self.heading = REGISTRY[key].asks
        self.back = f"{reverse('settings')}#{key}"

    def form_kwargs(self) -> dict[str, Any]:
        return {"key": self.key, "holds": answers.known(self.key, timezone.localdate(self.now))}

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": "" if form.is_bound else f"Whose figure: {REGISTRY[self.key].whose}."}

    def do(self, data: dict[str, Any]) -> str:
        try:
            row = people.set_setting(
                key=self.key, value=data["value"], by=self.by, at=self.now, from_on=data.get("from_on")
            )
        except Refused as stop:
            stop.field = "value" if stop.field == self.key else stop.field
            raise
        shown = answers.show(self.key, data["value"], formats=current()).replace("\n", ", ") or "nothing"
        since = (
            f" from {saying.day(row.from_on, timezone.localdate(self.now))} on" if REGISTRY[self.key].dated else ""
        )
        self.say(f"{self.heading} {shown}{since}.")
        return self.back


urlpatterns = [
    path("settings/", SettingsPage.as_view(), name="settings"),
    path("settings/<slug:key>/", ChangeSetting.as_view(), name="setting"),
]
