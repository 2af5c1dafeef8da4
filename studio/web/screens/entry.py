"""One entry of the journal: what it did to what, and taking it back where that is how it is put right."""

from dataclasses import dataclass
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse

from studio.fields.quantity import show
from studio.ledger import browsing, queries
from studio.ledger import operations as ledger
from studio.ledger.accounts import Component, Kind
from studio.people import roles
from studio.people.models import User
from studio.reports.places import names_of
from studio.stores.queries import CommodityName, names_of_commodities
from studio.web import links
from studio.web.deeds import Deed, Reading
from studio.work.models import StepCode

# What tells of sales, debts and bills: for those who see the books, not for everybody who sees costs.
ABOUT_MONEY = frozenset(
    {Kind.REVENUE, Kind.GALLERY_SHARE, Kind.SELLING_COST, Kind.SALES_TAX, Kind.GALLERY_OWES, Kind.CLIENT_OWES,
     Kind.DEPOSIT}
)  # fmt: skip
BILLS = frozenset({"bill", "wages"})
# Only what no other screen keeps a row of: taking back a sale here would leave the piece sold there.
TAKEN_BACK_HERE = BILLS | {"adjustment"}
ELSEWHERE = {
    "sale": "A sale is taken back on the page of the sale, where the piece returns to the shelf.",
    "payment": "A payment is taken back on the page of who paid it.",
    "hours": "Mistyped hours are taken back on the page of the workpiece, under the hours booked on it.",
    "loss": "If it isn't lost after all, say so on the page of the loss.",
    "buy": "A wrong price or amount is put right on the page of the batch: correct the price, or count again.",
    "count": "Count once more; the difference is entered by itself.",
    "wood": "A wrong price of wood is put right on the page of the purchase, with a bill since.",
    "reversal": "This takes another entry back already. Enter what is right as a new one.",
}
NOT_TAKEN_BACK = "What this entry did is put right where it was done: on the page of the workpiece, batch or load."


@dataclass(frozen=True)
class Shown:
    """One line as the page writes it."""

    words: str
    url: str
    part: str
    towards: str
    towards_url: str
    amount: str
    value_micro: int


def may_see(user: Any, entry: queries.EntryView) -> bool:
    """Costs may be seen by more people than sales and bills."""
    if roles.allowed(user, "see_money"):
        return True
    causes = {entry.kind, browsing.kind_before(entry.pk) if entry.reverses_id else ""}
    return not causes & BILLS and not any(line.account_kind in ABOUT_MONEY for line in entry.lines)


def lines_of(entry: queries.EntryView) -> list[Shown]:
    """Every line with the name of what it touched, in eight queries at most."""
    accounts = {line.account_id for line in entry.lines} | {
        line.towards_id for line in entry.lines if line.towards_id
    }
    names, materials = names_of(accounts), names_of_commodities()
    found = []
    for line in entry.lines:
        named = names[line.account_id]
        towards = names[line.towards_id] if line.towards_id else None
        found.append(
            Shown(
                named.words,
                links.to(named.url_name, named.pk) if named.url_name else "",
                str(Component(line.component).label),
                towards.words if towards else "",
                links.to(towards.url_name, towards.pk) if towards and towards.url_name else "",
                _amount(line, materials),
                line.value_micro,
            )
        )
    return found


def _amount(line: queries.EntryLine, materials: dict[int, CommodityName]) -> str:
    if not line.amount or line.commodity_id is None:
        return ""
    named = materials.get(line.commodity_id)
    counted = named.counted if named else False
    words = show(line.amount, "count") if counted else show(line.amount, "mass", unit="g")
    return f"{words} {named.name}" if named else words


class EntryPage(Reading):
    right = "see_costs"

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        entry = queries.entry(pk)
        if entry is None:
            raise Http404
        if not may_see(request.user, entry):
            roles.require(request.user, "see_money")
        here = entry.kind in TAKEN_BACK_HERE and not entry.reversed_by_id
        context = {
            "entry": entry,
            "lines": lines_of(entry),
            "by": User.objects.filter(pk=entry.by_id).first() if entry.by_id else None,
            "step": StepCode(entry.step).label if entry.step in StepCode.values else "",
            "take_back": reverse("entry_reverse", args=[pk]) if here and roles.allowed(request.user, "books") else "",
            "elsewhere": "" if here or entry.reversed_by_id else ELSEWHERE.get(entry.kind, NOT_TAKEN_BACK),
            "journal": reverse("journal") if roles.allowed(request.user, "see_money") else "",
            "section": "books",
        }
        return render(request, "books/entry.html", context)


class TakeBack(Deed):
    right = "books"
    heading = "Take this entry back?"
    button = "Take it back"
    section = "books"

    def find(self, *, pk: int) -> None:
        entry = queries.entry(pk)
        if entry is None or entry.kind not in TAKEN_BACK_HERE:
            raise Http404
        self.entry = entry
        self.back = reverse("entry", args=[pk])

    def context(self, form: Any) -> dict[str, Any]:
        moved = show(sum(line.value_micro for line in self.entry.lines if line.value_micro > 0), "money")
        return {
            "sub": f"{self.entry.words}, {moved}. A second entry of today undoes it; both stay in the journal. "
            "Then enter what is right."
        }

    def do(self, data: dict[str, Any]) -> str:
        posted = ledger.reverse(entry_id=self.entry.pk, at=self.now, **self.stamp)
        self.say("Taken back. Enter what is right now, if there is anything to enter.")
        return reverse("entry", args=[posted.entry_id])


urlpatterns = [
    path("books/entries/<int:pk>/", EntryPage.as_view(), name="entry"),
    path("books/entries/<int:pk>/take-back/", TakeBack.as_view(), name="entry_reverse"),
]
