"""Who works here: role, what an hour is worth, password; and everybody's own page."""

from typing import Any

import django_tables2 as tables
from django import forms
from django.contrib.auth import update_session_auth_hash
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone
from django.utils.html import format_html
from django_tables2 import RequestConfig

from studio.fields import quantity
from studio.fields.forms import QuantityField
from studio.people import operations as people
from studio.people import queries, roles
from studio.people.models import NAME_LENGTH, Role, User
from studio.people.roles import RIGHTS
from studio.web import saying
from studio.web.deeds import Deed, Reading
from studio.web.forms import DayField, StudioForm

ROLE_WORDS = {
    Role.OWNER: "Owner: may do everything",
    Role.MAKER: "Maker: bench, stores, wood, prices and commissions; not the books",
    Role.BOOKKEEPER: "Bookkeeper: sells, counts and keeps the books; not the bench",
    Role.VISITOR: "Visitor: looks around, sees no costs",
}
NEW_PASSWORD = "12 characters or more; a few words are easiest."  # noqa: S105  a hint, not a password


def role_field() -> forms.ChoiceField:
    return forms.ChoiceField(
        label="What do they do here?",
        choices=[(str(role), words) for role, words in ROLE_WORDS.items()],
        widget=forms.RadioSelect,
    )


def password_field(label: str = "A password") -> forms.CharField:
    return forms.CharField(
        label=label,
        help_text=NEW_PASSWORD,
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )


def rights_of(role: str) -> list[tuple[str, bool]]:
    """Every right in words and whether the role carries it."""
    return [(words, role in roles) for words, roles in RIGHTS.values()]


class PeopleTable(tables.Table):
    name = tables.Column(empty_values=(), verbose_name="Name", orderable=False)
    username = tables.Column(verbose_name="Signs in as", orderable=False)
    role = tables.Column(accessor="get_role_display", verbose_name="Role", orderable=False)
    hour = tables.Column(
        empty_values=(),
        verbose_name="An hour",
        orderable=False,
        attrs={"td": {"class": "n"}, "th": {"class": "n"}},
    )
    seen = tables.Column(empty_values=(), verbose_name="Last here", orderable=False)

    def __init__(self, *args: Any, wages: dict[int, queries.Wage], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.wages = wages

    def render_name(self, record: User) -> Any:
        return format_html('<a href="{}">{}</a>', reverse("person", args=[record.pk]), record)

    def render_hour(self, record: User) -> str:
        wage = self.wages.get(record.pk)
        if wage is None:
            return "not said"
        return f"{quantity.show(wage.rate_micro, 'money')} {'paid' if wage.paid else 'own'}"

    def render_seen(self, record: User) -> str:
        if not record.is_active:
            return "sign-in closed"
        return saying.when(record.last_login, timezone.now()) if record.last_login else "not yet"


class PeoplePage(Reading):
    right = "people"

    def get(self, request: HttpRequest) -> HttpResponse:
        table = PeopleTable(queries.users(), wages=queries.wages_on(timezone.localdate()))
        RequestConfig(request, paginate={"per_page": 25, "silent": True}).configure(table)
        return render(request, "people/list.html", {"table": table, "section": "settings"})


class PersonPage(Reading):
    right = "people"

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        person = User.objects.filter(pk=pk).first()
        if person is None:
            raise Http404
        context = {
            "person": person,
            "wages": queries.wage_history(person),
            "rights": rights_of(person.role),
            "section": "settings",
        }
        return render(request, "people/person.html", context)


class AddForm(StudioForm):
    display_name = forms.CharField(label="What do you call them?", max_length=NAME_LENGTH)
    username = forms.CharField(
        label="A name to sign in with",
        help_text="Short, no spaces. Capitals don't matter.",
        max_length=150,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}),
    )
    role = role_field()
    password = password_field("A first password for them")


class AddPerson(Deed):
    right = "people"
    form_class = AddForm
    heading = "Somebody new"
    button = "Let them in"
    section = "settings"

    def find(self) -> None:
        self.back = reverse("people")

    def do(self, data: dict[str, Any]) -> str:
        user = people.add_user(**data, by=self.by, at=self.now)
        self.say(f"{user} can sign in as {user.username} now.")
        return reverse("person", args=[user.pk])


class AboutPerson(Deed):
    """A deed about one person; its page is the way back."""

    right = "people"
    section = "settings"
    sub = ""

    def find(self, *, pk: int) -> None:
        person = User.objects.filter(pk=pk).first()
        if person is None:
            raise Http404
        self.person = person
        self.back = reverse("person", args=[pk])

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": self.sub, "heading": self.heading.format(self.person)}


class NameForm(StudioForm):
    display_name = forms.CharField(label="The name", max_length=NAME_LENGTH)


class Rename(AboutPerson):
    form_class = NameForm
    heading = "What do you call {}?"

    def initial(self) -> dict[str, Any]:
        return {"display_name": self.person.display_name}

    def do(self, data: dict[str, Any]) -> str:
        self.say(f"{people.rename_user(user=self.person, **data, by=self.by)} it is.")
        return self.back


class RoleForm(StudioForm):
    role = role_field()


class ChangeRole(AboutPerson):
    form_class = RoleForm
    heading = "What does {} do here?"

    def initial(self) -> dict[str, Any]:
        return {"role": self.person.role}

    def do(self, data: dict[str, Any]) -> str:
        user = people.change_role(user=self.person, role=data["role"], by=self.by)
        self.say(f"{user} is {'an' if user.role == Role.OWNER else 'a'} {user.get_role_display()} now.")
        return self.back


class WageForm(StudioForm):
    rate = QuantityField(dimension="money", label="What is an hour worth?", least=0)
    paid = forms.ChoiceField(
        label="Is it paid?",
        choices=[("own", "Own time, only reckoned"), ("paid", "Wages, really paid")],
        widget=forms.RadioSelect,
        help_text="Own time is part of all in, never of paid out.",
    )
    from_on = DayField(
        label="From which day on?",
        help_text="Hours already booked stay as they were reckoned.",
        initial=timezone.localdate,
    )


class SetWage(AboutPerson):
    form_class = WageForm
    heading = "An hour of {}"

    def initial(self) -> dict[str, Any]:
        wage = queries.wages_on(timezone.localdate(self.now), [self.person]).get(self.person.pk)
        return {"rate": wage.rate_micro, "paid": "paid" if wage.paid else "own"} if wage else {}

    def do(self, data: dict[str, Any]) -> str:
        row = people.set_wage(
            person=self.person,
            rate_micro=data["rate"],
            paid=data["paid"] == "paid",
            from_on=data["from_on"],
            by=self.by,
            at=self.now,
        )
        words = "paid" if row.paid else "reckoned"
        since = saying.day(row.from_on, timezone.localdate(self.now))
        self.say(f"An hour of {self.person} is {words} at {quantity.show(row.rate_micro, 'money')} from {since} on.")
        return self.back


class PasswordForm(StudioForm):
    password = password_field("The new password")


class SetPassword(AboutPerson):
    form_class = PasswordForm
    heading = "A new password for {}"
    sub = "Tell it to them yourself. It ends their other sign-ins at once."

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        roles.require(request.user, self.right)
        if request.user.pk == kwargs.get("pk"):
            return OwnPassword.as_view()(request)  # type: ignore[return-value]
        return super().dispatch(request, *args, **kwargs)

    def do(self, data: dict[str, Any]) -> str:
        people.set_password(user=self.person, password=data["password"], by=self.by)
        self.say(f"{self.person} signs in with the new password from now on.")
        return self.back


class CloseSignIn(AboutPerson):
    heading = "Close {}’s sign-in?"
    button = "Close it"
    sub = "They can't come in from this moment on. What they did stays under their name; you can let them in again."

    def do(self, data: dict[str, Any]) -> str:
        self.say(f"{people.deactivate(user=self.person, by=self.by)} can't sign in any more.")
        return self.back


class OpenSignIn(AboutPerson):
    heading = "Let {} in again?"
    button = "Let them in"
    sub = "With the password they had."

    def do(self, data: dict[str, Any]) -> str:
        self.say(f"{people.reactivate(user=self.person, by=self.by)} can sign in again.")
        return self.back


class OwnPage(Reading):
    """What everybody sees of their own sign-in."""

    def get(self, request: HttpRequest) -> HttpResponse:
        assert isinstance(request.user, User)
        return render(request, "people/own.html", {"rights": rights_of(request.user.role), "section": ""})


class OwnPasswordForm(StudioForm):
    current = forms.CharField(
        label="Your password of today",
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    password = password_field("The new one")


class OwnPassword(Deed):
    right = "read"
    form_class = OwnPasswordForm
    heading = "Your own password"

    def find(self, **kwargs: Any) -> None:
        self.back = reverse("own")

    def do(self, data: dict[str, Any]) -> str:
        user = people.set_password(user=self.by, password=data["password"], by=self.by, current=data["current"])
        update_session_auth_hash(self.request, user)
        self.say("Your new password holds. Other places where you were signed in are signed out.")
        return self.back


urlpatterns = [
    path("people/", PeoplePage.as_view(), name="people"),
    path("people/add/", AddPerson.as_view(), name="person_add"),
    path("people/<int:pk>/", PersonPage.as_view(), name="person"),
    path("people/<int:pk>/name/", Rename.as_view(), name="person_name"),
    path("people/<int:pk>/role/", ChangeRole.as_view(), name="person_role"),
    path("people/<int:pk>/wage/", SetWage.as_view(), name="person_wage"),
    path("people/<int:pk>/password/", SetPassword.as_view(), name="person_password"),
    path("people/<int:pk>/close/", CloseSignIn.as_view(), name="person_close"),
    path("people/<int:pk>/open/", OpenSignIn.as_view(), name="person_open"),
    path("me/", OwnPage.as_view(), name="own"),
    path("me/password/", OwnPassword.as_view(), name="own_password"),
]
