"""Signing in and out."""

from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.decorators import method_decorator

from studio.people import queries


class SignInForm(AuthenticationForm):
    error_messages = {
        "invalid_login": (
            "That name and password don't go together. Try the password again, capitals and all, "
            "or ask the owner to set you a new one."
        ),
        "inactive": "This sign-in has been closed. Ask the owner.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        name, password = self.fields["username"], self.fields["password"]
        name.label = "Your sign-in name"
        name.widget.attrs.update(autocomplete="username", autocapitalize="none", spellcheck="false")
        name.error_messages["required"] = "Write your sign-in name here."
        password.label = "Password"
        password.widget.attrs.update(autocomplete="current-password")
        password.error_messages["required"] = "Write your password here."


class SignIn(LoginView):
    template_name = "people/sign_in.html"
    form_class = SignInForm
    redirect_authenticated_user = True
    next_page = "/"

    @method_decorator(login_not_required)
    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if not request.user.is_authenticated and not queries.anybody():
            return HttpResponseRedirect(reverse("set_up"))
        return super().dispatch(request, *args, **kwargs)  # type: ignore[return-value]


class SignOut(LogoutView):
    next_page = "sign_in"
    http_method_names = ["post", "options"]

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = super().dispatch(request, *args, **kwargs)
        response["Clear-Site-Data"] = '"storage"'
        return response
