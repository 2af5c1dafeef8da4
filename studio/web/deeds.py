"""How every screen that changes something works: one form, one operation, carried out once.

A GET shows the form with a fresh key. A POST carries the operation out under that key: sent twice it counts
once. A refusal stands beside its field, what was typed stays, nothing was stored. A question ("ten times the
last weight: sure?") becomes a tick on the same form; an answer about the studio that is missing is asked there
and then.
"""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils import timezone
from django.utils.crypto import salted_hmac
from django.views import View

from studio.fields.errors import Refused
from studio.fields.forms import QuantityField, moment_or_now
from studio.fields.models import Submission
from studio.fields.submissions import OtherBody, answered, carry_out
from studio.people import operations as people
from studio.people import roles
from studio.people import settings as answers
from studio.people.models import User
from studio.people.queries import MissingWage
from studio.people.questions import REGISTRY
from studio.people.settings import MissingSetting
from studio.web.asking import answer_field
from studio.web.errors import conflict
from studio.web.forms import StudioForm
from studio.web.shell import said, warned

ASKED_AGAIN = frozenset({"sure", "confirm"})
ANSWER = "answer__"
WAGE = "wage__"


LARGEST_KEY = 2**63 - 1


def refuse_no_key(keys: dict[str, Any]) -> None:
    """A number longer than any row's key is not there; SQLite would not even look."""
    if any(isinstance(key, int) and key > LARGEST_KEY for key in keys.values()):
        raise Http404


class Reading(View):
    """A page that only shows: `right` is needed to open it."""

    right = "read"

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        roles.require(request.user, self.right)
        refuse_no_key(kwargs)
        return super().dispatch(request, *args, **kwargs)  # type: ignore[return-value]


class Deed(View):
    """A form and the one operation it carries out. Subclasses name a form and write `do`.

    `find` loads what the address names into attributes (raise Http404 where there is none). `do` gets the
    cleaned data and returns the address to go to; it may call `say`. `heading`, `button` and `context` dress
    the page; `template_name` may be the screen's own, with `{% include "parts/deed.html" %}` inside.
    """

    right = "bench"
    form_class: type[StudioForm] = StudioForm
    template_name = "deed.html"
    heading = ""
    button = "Store"
    section = ""
    back = ""

    request: HttpRequest
    now: datetime
    submission: Submission

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        roles.require(request.user, self.right)
        self.now = timezone.now()
        self._words: list[tuple[Callable[..., None], tuple, dict]] = []
        refuse_no_key(kwargs)
        self.find(**kwargs)
        return super().dispatch(request, *args, **kwargs)  # type: ignore[return-value]

    # what subclasses write

    def find(self, *args: Any, **kwargs: Any) -> None:
        """Load what the address names."""

    def initial(self) -> dict[str, Any]:
        return {}

    def form_kwargs(self) -> dict[str, Any]:
        return {}

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {}

    def do(self, data: dict[str, Any]) -> str:
        raise TypeError(f"{type(self).__name__} says no deed.")

    # what they use

    def say(self, sentence: str, *, undo: str | None = None, then: tuple[str, str] | None = None) -> None:
        """Say on the next page what was done. Not said again when the same form comes twice."""
        self._words.append((said, (sentence,), {"undo": undo, "then": then}))

    def warn(self, sentence: str) -> None:
        self._words.append((warned, (sentence,), {}))

    @property
    def by(self) -> Any:
        return self.request.user

    @property
    def stamp(self) -> dict[str, Any]:
        """`by`, `submission` and `now`, as every operation that posts takes them."""
        return {"by": self.by, "submission": self.submission, "now": self.now}

    # how it goes

    def get(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        form = self.form_class(initial=self.initial(), **self.form_kwargs())
        return self.show(form)

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        form = self.form_class(request.POST, request.FILES, initial=self.initial(), **self.form_kwargs())
        self._keep_questions(form)
        if not form.is_valid() or self._still_to_come(form):
            # sent twice, the second reading may find nothing left of what the first one took
            before = answered(actor=request.user, key=request.POST.get("submission", ""), body=self._body(form))
            return HttpResponseRedirect(before, status=303) if before else self.show(form)
        try:
            outcome = carry_out(
                actor=request.user,
                key=request.POST.get("submission", ""),
                body=self._body(form),
                at=self.now,
                do=lambda submission: self._do(form, submission),
            )
        except OtherBody as stop:
            return conflict(request, stop.message, back=request.path)
        except MissingSetting as stop:
            return self.show(self._with_question(form, ANSWER + stop.key, answer_field(stop.key), "answer", stop))
        except MissingWage as stop:
            field = wage_field(stop.person)
            return self.show(self._with_question(form, f"{WAGE}{stop.person.pk}", field, "people", stop))
        except Refused as stop:
            return self.show(self._with_refusal(form, stop))
        if not outcome.replayed:
            for speak, args, how in self._words:
                speak(request, *args, **how)
        response = HttpResponseRedirect(outcome.result)
        response.status_code = 303
        return response

    def _do(self, form: StudioForm, submission: Submission) -> str:
        self.submission = submission
        self._words.clear()
        self._store_answers(form)
        own = {k: v for k, v in form.cleaned_data.items() if not k.startswith((ANSWER, WAGE))}
        return self.do(own)

    def show(self, form: StudioForm) -> HttpResponse:
        context = {
            "form": form,
            "heading": self.heading,
            "button": self.button,
            "section": self.section,
            "back": self.back,
            **self.context(form),
        }
        status = 422 if form.is_bound else 200
        return render(self.request, self.template_name, context, status=status)

    def _still_to_come(self, form: StudioForm) -> bool:
        """`at` says when something happened: a moment ahead is a slip, whether or not the books would notice it."""
        at = form.cleaned_data.get("at")
        if not isinstance(at, datetime) or moment_or_now(at, self.now) <= self.now:
            return False
        form.add_error("at", "That time is still to come. Enter what has happened; leave it empty for now.")
        return True

    def _body(self, form: StudioForm) -> dict[str, list[str]]:
        """What the form said. A password goes in as a keyed mark: what is kept of it helps nobody to guess it."""
        body = {**dict(self.request.POST.lists()), "_path": [self.request.path], "_files": self._file_marks()}
        for name, field in form.fields.items():
            if isinstance(field.widget, forms.PasswordInput) and name in body:
                body[name] = [salted_hmac("studio.web.deeds", text).hexdigest() for text in body[name]]
        return body

    def _file_marks(self) -> list[str]:
        return [f"{name}:{one.name}:{one.size}" for name, files in self.request.FILES.lists() for one in files]

    def _keep_questions(self, form: StudioForm) -> None:
        """Fields that an earlier refusal added to this form come back with it."""
        for name in self.request.POST:
            if name == "sure" and "sure" not in form.fields:
                form.fields["sure"] = sure_field()
            elif name.startswith(ANSWER) and name[len(ANSWER) :] in REGISTRY:
                form.fields[name] = answer_field(name[len(ANSWER) :])
            elif name.startswith(WAGE) and (person := _person(name[len(WAGE) :])) is not None:
                form.fields[name] = wage_field(person)

    def _with_refusal(self, form: StudioForm, stop: Refused) -> StudioForm:
        if stop.code in ASKED_AGAIN and "sure" not in form.fields:
            form.fields["sure"] = sure_field()
        form.refuse(stop)
        return form

    def _with_question(
        self, form: StudioForm, name: str, field: forms.Field, right: str, stop: Refused
    ) -> StudioForm:
        if roles.allowed(self.request.user, right):
            form.fields[name] = field
            form.add_error(name, stop.message)
        else:
            form.add_error(None, f"{stop.message} Ask {roles.who_may(right)} to say it.")
        return form

    def _store_answers(self, form: StudioForm) -> None:
        """What was asked on the way holds from the first day on: it was so before anybody said it."""
        for name, value in form.cleaned_data.items():
            if name.startswith(ANSWER):
                people.set_setting(key=name[len(ANSWER) :], value=value, by=self.by, at=self.now)
            elif name.startswith(WAGE) and (person := _person(name[len(WAGE) :])) is not None:
                people.set_wage(
                    person=person,
                    rate_micro=value,
                    paid=False,
                    from_on=answers.local_date(self.now),
                    by=self.by,
                    at=self.now,
                )


def wage_field(person: User) -> QuantityField:
    return QuantityField(
        dimension="money",
        label=f"What is an hour of {person} worth?",
        help_text="Their own time as you reckon it. Wages that are really paid are set under Studio, People.",
    )


def _person(key: str) -> User | None:
    return User.objects.filter(pk=key).first() if key.isdigit() else None


def sure_field() -> forms.BooleanField:
    return forms.BooleanField(required=False, label="Yes, that is right")
