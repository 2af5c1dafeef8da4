"""Commissions: what is owed to whom, by when, and what each waits for."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils import timezone

from studio.commissions import queries
from studio.commissions.models import Commission
from studio.commissions.queries import CommissionPage, QueueRow
from studio.people import settings as answers
from studio.people.roles import allowed
from studio.web import links
from studio.web.deeds import Reading
from studio.web.paging import paged
from studio.web.saying import in_words
from studio.web.screens.pieces_page import Act

ENDED_SHOWN = 25


def days_words(row: QueueRow) -> str:
    """`in 12 days`, `today`, `three days late`."""
    left = row.days_left
    if left is None:
        return "no day agreed"
    if left == 0:
        return "today"
    far = abs(left)
    span = f"{in_words(far) if far <= 12 else far} {'day' if far == 1 else 'days'}"
    return f"{span} late" if left < 0 else f"in {span}"


class Commissions(Reading):
    """The queue on the graduated rule, the nearest day first."""

    right = "contacts"

    def get(self, request: HttpRequest) -> HttpResponse:
        user, on = request.user, answers.local_date(timezone.now())
        rows = queries.queue(on)
        context = {
            "section": "commissions",
            "owed": len(rows),
            "rows": paged(
                request, [{"row": row, "order": row.commission, "days": days_words(row)} for row in rows], "page"
            ),
            "late": sum(row.late for row in rows),
            "ended": queries.ended()[:ENDED_SHOWN],
            "may_order": allowed(user, "commissions"),
        }
        return render(request, "commissions/queue.html", context)


class CommissionScreen(Reading):
    right = "contacts"

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        page = queries.page(pk, answers.local_date(timezone.now()))
        if page is None:
            raise Http404("There is no such commission.")
        nxt, also = acts(page, request.user)
        context = {
            "section": "commissions",
            "page": page,
            "order": page.commission,
            "row": page.row,
            "days": days_words(page.row) if page.row else "",
            "next": nxt,
            "also": also,
            "may_order": allowed(request.user, "commissions"),
            "may_money": allowed(request.user, "see_money"),
        }
        return render(request, "commissions/commission.html", context)


def acts(page: CommissionPage, user: Any) -> tuple[Act | None, list[Act]]:
    """What it waits for comes first, in blue, where this person may do it."""
    order, row = page.commission, page.row
    order_ok, sell = allowed(user, "commissions"), allowed(user, "sell")
    code = row.waiting.code if row else ""
    every: dict[str, tuple[str, str, bool]] = {
        "agree": ("Agree on price and day", "commission_agree", order_ok and order.state == "asked"),
        "deposit": ("Take a deposit", "commission_deposit", sell and may_take_more(page)),
        "wood": ("Set wood aside", "commission_reserve", order_ok and order.is_open),
        "deliver": ("Hand it over", "commission_deliver", sell and code == "deliver"),
        "change": ("Change what was agreed", "commission_change", order_ok and order.is_open),
        "back": ("Give deposit back", "commission_deposit_back", sell and order.is_open and page.deposit_micro > 0),
        "off": ("Call it off", "commission_call_off", order_ok and order.is_open),
        "undo": ("Take the delivery back", "commission_delivery_back", sell and order.state == "delivered"),
    }
    found = {code: Act(word, links.to(screen, order.pk)) for code, (word, screen, may) in every.items() if may}
    first = found.pop(code, None)
    if first is None and row is not None and row.waiting.workpiece is not None:
        first = Act(f"See {row.waiting.workpiece.number}", links.to("workpiece", row.waiting.workpiece.pk))
    return first, list(found.values())


def may_take_more(page: CommissionPage) -> bool:
    """Whether a deposit can grow: agreed, and not all of the price is held yet."""
    order = page.commission
    return order.state == "agreed" and page.deposit_micro < (order.price_micro or 0)


def commission_or_404(pk: int) -> Commission:
    found = Commission.objects.select_related("client", "deposit_account", "sale").filter(pk=pk).first()
    if found is None:
        raise Http404("There is no such commission.")
    return found


urlpatterns = [
    path("commissions/", Commissions.as_view(), name="commissions"),
    path("commissions/<int:pk>/", CommissionScreen.as_view(), name="commission"),
]
