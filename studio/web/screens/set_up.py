"""An empty studio's first page: four questions, after which its first owner is signed in."""

import zoneinfo
from typing import Any

from django import forms
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import path
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.views import View

from studio.fields.errors import Refused
from studio.fields.formats import NUMBER_FORMATS
from studio.people import operations as people
from studio.people import queries
from studio.people.models import NAME_LENGTH
from studio.people.places import currencies
from studio.web.forms import StudioForm
from studio.web.shell import said

# Length, temperature and gauge as they mostly go together; each can be changed by itself later.
UNITS = {
    "metric": ("mm", "°C", "bar"),
    "metric_psi": ("mm", "°C", "psi"),
    "inch": ("in", "°F", "psi"),
}
UNIT_WORDS = (
    ("metric", "Millimetres, Celsius, bar"),
    ("metric_psi", "Millimetres, Celsius, psi"),
    ("inch", "Inches, Fahrenheit, psi"),
)
BACKEND = "django.contrib.auth.backends.ModelBackend"


def money_choices() -> list[tuple[str, str]]:
    return [("", "Choose one"), *((code, f"{code}, {name}") for code, name in currencies().items())]


def zone_choices() -> list[str]:
    """Places one lives in; what only machines call a zone is left out."""
    return sorted(name for name in zoneinfo.available_timezones() if "/" in name and not name.startswith("Etc/"))


class SetUpForm(StudioForm):
    """The four questions. The browser proposes how numbers are written and which clock it lives by."""

    fieldsets = (
        ("1. The studio", ("studio_name",)),
        ("2. The money", ("currency",)),
        ("3. How you measure", ("units", "number_format", "time_zone")),
        ("4. You", ("display_name", "username", "password")),
    )
    studio_name = forms.CharField(label="What is the studio called?", max_length=NAME_LENGTH)
    currency = forms.ChoiceField(
        label="Which money do you count in?",
        help_text="One for everything. It can't be changed once the first amount is in the books.",
        choices=money_choices,
    )
    units = forms.ChoiceField(
        label="Which do you read off?",
        help_text="Weights are always in grams. You may type the others anywhere.",
        choices=UNIT_WORDS,
        initial="metric",
        widget=forms.RadioSelect,
    )
    number_format = forms.ChoiceField(
        label="How do you write one thousand two hundred and a bit?",
        choices=[(text, text) for text in NUMBER_FORMATS],
        initial="1,234.56",
    )
    time_zone = forms.ChoiceField(
        label="Which clock do you live by?",
        help_text="It decides which day a thing happened on.",
        choices=lambda: [("UTC", "UTC"), *((name, name.replace("_", " ")) for name in zone_choices())],
        initial="UTC",
    )
    display_name = forms.CharField(
        label="What do they call you?", help_text="Stands beside what you did.", max_length=NAME_LENGTH
    )
    username = forms.CharField(
        label="A name to sign in with",
        help_text="Short, no spaces. Capitals don't matter.",
        max_length=150,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}),
    )
    password = forms.CharField(
        label="A password",
        help_text="12 characters or more; a few words are easiest.",
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )


@method_decorator(login_not_required, name="dispatch")
class SetUp(View):
    """Open to whoever comes first, and to nobody after."""

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        if queries.anybody():
            return HttpResponseRedirect("/")
        return super().dispatch(request, *args, **kwargs)

    def get(self, request: HttpRequest) -> HttpResponse:
        return self.show(SetUpForm())

    def post(self, request: HttpRequest) -> HttpResponse:
        form = SetUpForm(request.POST)
        if not form.is_valid():
            return self.show(form)
        asked = dict(form.cleaned_data)
        length, temperature, pressure = UNITS[asked.pop("units")]
        try:
            owner = people.set_up_studio(
                **asked,
                length_unit=length,
                temperature_unit=temperature,
                pressure_unit=pressure,
                at=timezone.now(),
            )
        except people.AlreadySetUp:
            return HttpResponseRedirect("/")
        except Refused as stop:
            form.refuse(stop)
            return self.show(form)
        login(request, owner, backend=BACKEND)
        said(request, f"{asked['studio_name'].strip()} is open. Everything else is asked when it is first needed.")
        response = HttpResponseRedirect("/")
        response.status_code = 303
        return response

    def show(self, form: SetUpForm) -> HttpResponse:
        return render(self.request, "set_up/first.html", {"form": form}, status=422 if form.is_bound else 200)


urlpatterns = [path("set-up/", SetUp.as_view(), name="set_up")]
