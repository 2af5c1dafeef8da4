"""A client on a form: chosen from those known, or written down on the way."""

from datetime import datetime
from typing import Any

from django import forms

from studio.fields.errors import Refused
from studio.people import contacts, queries
from studio.people.models import Client, User
from studio.people.roles import allowed
from studio.web.forms import StudioForm


class ClientFields(StudioForm):
    """`client` or, where nobody fits, `new_client`. Names are shown only to those who may see them."""

    client = forms.ModelChoiceField(
        queryset=Client.objects.none(), required=False, label="A client you know", empty_label="nobody named"
    )
    new_client = forms.CharField(max_length=200, required=False, label="Or somebody new, by name")

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if allowed(user, "contacts"):
            self.fields["client"].queryset = queries.clients()  # type: ignore[attr-defined]
        else:
            del self.fields["client"], self.fields["new_client"]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        if data.get("client") and data.get("new_client"):
            self.add_error("new_client", "Choose somebody you know or write a new name, not both.")
        return data


def client_of(data: dict[str, Any], *, by: User, at: datetime, needed: bool = False) -> Client | None:
    """The client a form names; a new name is written down, in the same transaction as what is done with it."""
    if data.get("client"):
        return data["client"]
    if data.get("new_client"):
        try:
            return contacts.add_client(name=data["new_client"], by=by, at=at)
        except Refused as stop:
            stop.field = "new_client"
            raise
    if needed:
        raise Refused("Say who it is for: choose somebody, or write a name.", field="client")
    return None
