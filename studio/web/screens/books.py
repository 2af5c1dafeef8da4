"""The books: where we stand, what the year made, what broke, the journal, bills, and closing."""

from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

import django_tables2 as tables
from django import forms
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone

from studio.fields import quantity
from studio.fields.formats import current
from studio.fields.forms import QuantityField
from studio.ledger import browsing
from studio.ledger import operations as ledger
from studio.ledger import queries as ledger_queries
from studio.ledger.accounts import Kind
from studio.people import roles
from studio.people import settings as answers
from studio.reports import csvs, losses, stand, year
from studio.reports.places import names_of
from studio.web import links, saying
from studio.web.deeds import Deed, Reading
from studio.web.forms import DayField, StudioForm

PER_PAGE = 25


@dataclass(frozen=True)
class Span:
    """A year of the studio's, with the addresses of the years beside it."""

    number: int
    since: date
    until: date
    others: tuple[int, ...]


def span_of(request: HttpRequest) -> Span:
    """The year asked for by `?year=`, this one where none or no sensible one is."""
    today = timezone.localdate()
    asked = request.GET.get("year", "")
    covered = browsing.days_covered()
    first = covered[0].year if covered else today.year
    last = max(today.year, covered[1].year if covered else today.year)
    number = int(asked) if asked.isascii() and asked.isdigit() and len(asked) == 4 else today.year
    number = min(max(number, first), last)
    return Span(number, date(number, 1, 1), date(number, 12, 31), tuple(range(last, first - 1, -1)))


def _address(link: tuple[str, int | None, str]) -> str:
    """Where a line of the report leads, or nothing while there is no such screen."""
    name, pk, query = link
    url = (links.to(name, pk) if pk is not None else links.to(name)) if name else ""
    return f"{url}?{query}" if url and query else url


class BooksPage(Reading):
    right = "see_money"

    def get(self, request: HttpRequest) -> HttpResponse:
        now = stand.stand()
        blocks = [(block, [(line, _address(line.link)) for line in block.lines]) for block in now.blocks]
        context = {
            "stand": now,
            "blocks": [(block, lines) for block, lines in blocks if lines],
            "debts": [(debt, _address(debt.link)) for debt in now.debts],
            "closed_until": ledger_queries.closed_until(),
            "section": "books",
        }
        return render(request, "books/stand.html", context)


class YearPage(Reading):
    right = "see_money"

    def get(self, request: HttpRequest) -> HttpResponse:
        span = span_of(request)
        return render(
            request, "books/year.html", {"year": year.year(span.since, span.until), "span": span, "section": "books"}
        )


class LossesPage(Reading):
    """What broke. A maker sees it too: it is about work, and shows costs only."""

    right = "see_costs"

    def get(self, request: HttpRequest) -> HttpResponse:
        span = span_of(request)
        context = {
            "losses": losses.losses(span.since, span.until),
            "span": span,
            "sees_money": roles.allowed(request.user, "see_money"),
            "section": "books",
        }
        return render(request, "books/losses.html", context)


def _file(text: str, name: str) -> HttpResponse:
    # The mark in front tells spreadsheets that the text is UTF-8.
    response = HttpResponse("\ufeff" + text, content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


class StandFile(Reading):
    right = "see_money"

    def get(self, request: HttpRequest) -> HttpResponse:
        shown = current()
        text = csvs.stand_csv(stand.stand(), currency=shown.currency, coin_digits=shown.coin_digits)
        return _file(text, f"where-we-stand-{timezone.localdate().isoformat()}.csv")


class YearFile(Reading):
    right = "see_money"

    def get(self, request: HttpRequest) -> HttpResponse:
        span, shown = span_of(request), current()
        found = year.year(span.since, span.until)
        text = csvs.year_csv(found, currency=shown.currency, coin_digits=shown.coin_digits)
        return _file(text, f"year-{span.number}.csv")


class Money(tables.Column):
    """Millionths written in the studio's money, figures to the right."""

    def __init__(self, **how: Any) -> None:
        attrs = {"td": {"class": "n"}, "th": {"class": "n"}}
        super().__init__(**{"attrs": attrs, "orderable": False, **how})

    def render(self, value: int) -> str:
        return quantity.show(value, "money")


class JournalTable(tables.Table):
    effective_at = tables.Column(verbose_name="When", orderable=False)
    words = tables.Column(
        verbose_name="What", orderable=False, linkify=lambda record: reverse("entry", args=[record.pk])
    )
    moved_micro = Money(verbose_name="Moved")
    by = tables.Column(verbose_name="By", orderable=False, default="the studio")

    def render_effective_at(self, value: datetime) -> str:
        return saying.when(value, timezone.now(), clock=True)

    def render_words(self, record: browsing.EntryRow) -> str:
        if record.reversed_by_id:
            return f"{record.words}, taken back since"
        return record.words


class JournalFilter(forms.Form):
    """What of the journal is wanted; what can't be read is left out of the question and said."""

    kind = forms.ChoiceField(
        label="What happened", required=False, choices=[("", "Everything"), *ledger_queries.ENTRY_WORDS.items()]
    )
    since = DayField(label="From", required=False)
    until = DayField(label="To", required=False)
    account = forms.IntegerField(required=False, min_value=1, max_value=2**31, widget=forms.HiddenInput)


class JournalPage(Reading):
    right = "see_money"

    def get(self, request: HttpRequest) -> HttpResponse:
        form = JournalFilter(request.GET)
        form.is_valid()
        asked = form.cleaned_data
        account = asked.get("account")
        found = browsing.journal(
            kind=asked.get("kind") or "",
            since=asked.get("since"),
            until=asked.get("until"),
            account_id=account,
        )
        page: Any = Paginator(found, PER_PAGE).get_page(request.GET.get("page"))  # type: ignore[arg-type]  # slices do
        context = {
            "form": form,
            "table": JournalTable(page.object_list),
            "page": page,
            "about": names_of([account])[account] if account else None,
            "filtered": any(asked.values()),
            "section": "books",
        }
        return render(request, "books/journal.html", context)


BILLS = (
    (str(Kind.ENERGY), "Power"),
    (str(Kind.OVERHEAD), "The shop: rent, insurance, heating, repairs"),
    (str(Kind.PAID_LABOUR), "Wages"),
    (str(Kind.SELLING_COST), "Selling: stalls, boxes, photographs"),
)


def money_field(**how: Any) -> QuantityField:
    return QuantityField(dimension="money", least=1, **how)


def whole_coins(micro: int) -> int:
    """Return the amount, or raise with a sentence: what is paid is paid in coins."""
    coin = answers.coin_micro()
    if micro % coin:
        least = quantity.show(coin, "money", with_unit=True)
        raise forms.ValidationError(
            f"Money is paid in coins: {least} is the smallest. Write the amount that was paid."
        )
    return micro


def moment_of(day: date, now: datetime) -> datetime:
    """The moment a bill of that day is entered for: now for today, noon for another day."""
    if day == timezone.localdate(now):
        return now
    return datetime.combine(day, time(12), tzinfo=timezone.get_current_timezone())


class BillForm(StudioForm):
    what = forms.ChoiceField(label="What was it for?", choices=BILLS, widget=forms.RadioSelect)
    amount = money_field(
        label="How much was paid?", help_text="Everything on the bill, before what you may get back."
    )
    at = DayField(label="On which day?", initial=timezone.localdate)

    def clean_amount(self) -> int:
        return whole_coins(self.cleaned_data["amount"])


class PayBill(Deed):
    right = "books"
    form_class = BillForm
    heading = "Pay a bill"
    button = "It is paid"
    section = "books"

    def find(self) -> None:
        self.back = reverse("books")

    def do(self, data: dict[str, Any]) -> str:
        posted = ledger.pay_bill(
            what=Kind(data["what"]), value=data["amount"], at=moment_of(data["at"], self.now), **self.stamp
        )
        self.say(f"{dict(BILLS)[data['what']].split(':')[0]}: {quantity.show(data['amount'], 'money')} paid.")
        return reverse("entry", args=[posted.entry_id])


class CloseForm(StudioForm):
    until = DayField(
        label="Up to and including which day?",
        help_text="Nothing more can be entered for that day or an earlier one. It can be moved on, never back.",
    )


class CloseBooks(Deed):
    right = "books"
    form_class = CloseForm
    heading = "Close the books"
    button = "Close them"
    section = "books"

    def find(self) -> None:
        self.back = reverse("books")

    def do(self, data: dict[str, Any]) -> str:
        ledger.close_books(until=data["until"], at=self.now, by=self.by)
        self.say(f"The books are closed up to {saying.day(data['until'], timezone.localdate(self.now))}.")
        return self.back


urlpatterns = [
    path("books/", BooksPage.as_view(), name="books"),
    path("books/where-we-stand.csv", StandFile.as_view(), name="books_csv"),
    path("books/year/", YearPage.as_view(), name="year"),
    path("books/year.csv", YearFile.as_view(), name="year_csv"),
    path("books/losses/", LossesPage.as_view(), name="losses"),
    path("books/journal/", JournalPage.as_view(), name="journal"),
    path("books/pay/", PayBill.as_view(), name="bill_pay"),
    path("books/close/", CloseBooks.as_view(), name="books_close"),
]
