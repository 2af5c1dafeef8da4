"""Clients and suppliers: who they are, and what is between us."""

from typing import Any

import django_tables2 as tables
from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django_tables2 import RequestConfig

from studio.commissions.models import Commission
from studio.fields.quantity import show
from studio.people import contacts, queries
from studio.people.models import Client, Contact, Supplier
from studio.people.places import countries
from studio.people.roles import allowed
from studio.selling import queries as selling
from studio.web.deeds import Deed, Reading
from studio.web.forms import StudioForm
from studio.web.screens.galleries_deeds import MoneyForm, Paying
from studio.web.screens.pieces_base import SEARCH_LENGTH, Nothing
from studio.web.screens.stores_change import ChangeDeed

SHOWN = 25
WORDS = {
    Client: {"one": "client", "list": "clients", "heading": "Clients", "sub": "Those who buy pieces or order them."},
    Supplier: {
        "one": "supplier",
        "list": "suppliers",
        "heading": "Suppliers",
        "sub": "Those you buy wood and materials from.",
    },
}


class ContactForm(StudioForm):
    name = forms.CharField(max_length=200, label="What is the name?")
    email = forms.CharField(max_length=254, required=False, label="E-mail", widget=forms.EmailInput)
    phone = forms.CharField(
        max_length=50, required=False, label="Telephone", widget=forms.TextInput(attrs={"type": "tel"})
    )
    address = forms.CharField(
        max_length=500, required=False, label="Address", widget=forms.Textarea(attrs={"rows": 3})
    )
    country = forms.ChoiceField(required=False, label="Country")
    note = forms.CharField(max_length=2000, required=False, label="A note", widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["country"].choices = [("", "not said"), *countries().items()]  # type: ignore[attr-defined]


class ContactTable(tables.Table):
    name = tables.Column("Name", order_by=("name_search", "pk"))
    phone = tables.Column("Telephone", orderable=False)
    email = tables.Column("E-mail", orderable=False)
    country = tables.Column("Country", orderable=False)

    class Meta:
        template_name = "parts/table.html"

    def __init__(self, *args: Any, screen: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.screen = screen

    def render_name(self, record: Contact) -> SafeString:
        return format_html('<a href="{}">{}</a>', reverse(self.screen, args=[record.pk]), record.name)

    def render_country(self, value: str) -> str:
        return countries().get(value, value)


class ContactList(Reading):
    right = "contacts"
    model: type[Contact] = Client

    def get(self, request: HttpRequest) -> HttpResponse:
        search = request.GET.get("search", "").strip()[:SEARCH_LENGTH]
        words = WORDS[self.model]
        rows = queries.clients(search) if self.model is Client else queries.suppliers(search)
        table = ContactTable(rows, screen=words["one"])
        RequestConfig(request, paginate={"per_page": 25, "silent": True}).configure(table)
        context = {
            "section": "commissions",
            "words": words,
            "search": search,
            "table": table if table.page.paginator.count else None,
            "add": reverse(f"{words['one']}_add"),
        }
        return render(request, "contacts/list.html", context)


class Clients(ContactList):
    model = Client


class Suppliers(ContactList):
    model = Supplier


def contact_or_404(model: type[Contact], pk: int) -> Any:
    found = model.objects.filter(pk=pk).first()  # type: ignore[attr-defined]
    if found is None:
        raise Http404("There is nobody of that number here.")
    return found


class ContactScreen(Reading):
    right = "contacts"
    model: type[Contact] = Client

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        contact, words = contact_or_404(self.model, pk), WORDS[self.model]
        context: dict[str, Any] = {
            "section": "commissions",
            "contact": contact,
            "country": countries().get(contact.country, ""),
            "words": words,
            "change": reverse(f"{words['one']}_change", args=[pk]),
            "erase": reverse(f"{words['one']}_erase", args=[pk]),
        }
        return render(request, "contacts/contact.html", context | self.more(request, contact))

    def more(self, request: HttpRequest, contact: Any) -> dict[str, Any]:
        return {}


class ClientScreen(ContactScreen):
    def more(self, request: HttpRequest, contact: Any) -> dict[str, Any]:
        found: dict[str, Any] = {
            "commissions": Commission.objects.filter(client=contact).order_by("-number")[:SHOWN],
            "may_order": allowed(request.user, "commissions"),
        }
        if allowed(request.user, "see_money"):
            owed = selling.owed_by(contact)
            found |= {
                "money": True,
                "owed_micro": owed,
                "credit_micro": -owed,
                "sales": selling.sold(client_id=contact.pk)[:SHOWN],
                "may_sell": allowed(request.user, "sell"),
                "payments": contact.payments.order_by("-at", "-pk")[:SHOWN],
            }
        return found


class SupplierScreen(ContactScreen):
    model = Supplier


class ContactAdd(Deed):
    right, section, form_class, button = "contacts", "commissions", ContactForm, "Keep it"
    model: type[Contact] = Client

    def find(self) -> None:
        words = WORDS[self.model]
        self.heading, self.back = f"A new {words['one']}", reverse(words["list"])

    def do(self, data: dict[str, Any]) -> str:
        add = contacts.add_client if self.model is Client else contacts.add_supplier
        row = add(by=self.by, at=self.now, **data)
        self.say(f"{row} is on the list.")
        return reverse(WORDS[self.model]["one"], args=[row.pk])


class ClientAdd(ContactAdd):
    model = Client


class SupplierAdd(ContactAdd):
    model = Supplier


class AtContact(Deed):
    right, section = "contacts", "commissions"
    model: type[Contact] = Client
    contact: Any

    def find(self, pk: int) -> None:
        self.contact = contact_or_404(self.model, pk)
        self.back = reverse(WORDS[self.model]["one"], args=[pk])


class ContactChange(ChangeDeed, AtContact):
    form_class, heading, button = ContactForm, "Name and address", "Keep it so"

    def initial(self) -> dict[str, Any]:
        return {name: getattr(self.contact, name) for name in ContactForm.base_fields}

    def do(self, data: dict[str, Any]) -> str:
        details = {name: data[name] for name in ContactForm.base_fields}
        if self.model is Client:
            contacts.change_client(client=self.contact, by=self.by, **details)
        else:
            contacts.change_supplier(supplier=self.contact, by=self.by, **details)
        self.say(f"{details['name']} is kept as you wrote.")
        return self.back


class ClientChange(ContactChange):
    model = Client


class SupplierChange(ContactChange):
    model = Supplier


class ContactErase(AtContact):
    form_class, button = Nothing, "Erase it all"

    def find(self, pk: int) -> None:
        super().find(pk)
        self.heading = f"Erase what is known about {self.contact}?"

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": "Name, address and notes are gone for good. What was sold stays in the books without a name."}

    def do(self, data: dict[str, Any]) -> str:
        if self.model is Client:
            contacts.erase_client(client=self.contact, by=self.by, at=self.now)
        else:
            contacts.erase_supplier(supplier=self.contact, by=self.by, at=self.now)
        self.say("It is erased.")
        return reverse(WORDS[self.model]["list"])


class ClientErase(ContactErase):
    model = Client


class SupplierErase(ContactErase):
    model = Supplier


class ClientMoney(Paying):
    """Money between us and a client."""

    section, form_class = "commissions", MoneyForm

    def find(self, pk: int) -> None:
        self.contact = contact_or_404(Client, pk)
        self.who = {"client": self.contact}
        self.back = reverse("client", args=[pk])

    def context(self, form: StudioForm) -> dict[str, Any]:
        owed = selling.owed_by(self.contact)
        said = f"owes {show(owed, 'money')}" if owed > 0 else "owes nothing"
        if owed < 0:
            said = f"has {show(-owed, 'money')} to their credit"
        return {"sub": f"{self.contact} {said}."}


class ClientPayment(ClientMoney):
    heading, button = "They paid", "The money is in"

    def do(self, data: dict[str, Any]) -> str:
        payment = self.paid(data)
        undo = reverse("payment_undo", args=[payment.pk])
        self.say(f"{self.contact} paid {show(data['amount'], 'money', with_unit=True)}.", undo=undo)
        return self.back


class ClientGiveBack(ClientMoney):
    heading, button = "Pay back what stands to their credit", "It is paid back"

    def do(self, data: dict[str, Any]) -> str:
        self.given_back(data)
        self.say(f"{show(data['amount'], 'money', with_unit=True)} went back to {self.contact}.")
        return self.back


urlpatterns = [
    path("clients/", Clients.as_view(), name="clients"),
    path("clients/new/", ClientAdd.as_view(), name="client_add"),
    path("clients/<int:pk>/", ClientScreen.as_view(), name="client"),
    path("clients/<int:pk>/change/", ClientChange.as_view(), name="client_change"),
    path("clients/<int:pk>/erase/", ClientErase.as_view(), name="client_erase"),
    path("clients/<int:pk>/payment/", ClientPayment.as_view(), name="client_payment"),
    path("clients/<int:pk>/give-back/", ClientGiveBack.as_view(), name="client_give_back"),
    path("suppliers/", Suppliers.as_view(), name="suppliers"),
    path("suppliers/new/", SupplierAdd.as_view(), name="supplier_add"),
    path("suppliers/<int:pk>/", SupplierScreen.as_view(), name="supplier"),
    path("suppliers/<int:pk>/change/", SupplierChange.as_view(), name="supplier_change"),
    path("suppliers/<int:pk>/erase/", SupplierErase.as_view(), name="supplier_erase"),
]
