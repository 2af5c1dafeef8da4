"""Cards and tags on paper: one piece or many, looked over on screen before they are printed."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.db.models import F
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils import timezone

from studio.fields.errors import Refused
from studio.jobs import operations as jobs
from studio.jobs import queries as job_queries
from studio.jobs.models import Job, State
from studio.jobs.progress import results_folder
from studio.papers.from_pieces import PAPERS, SHEETS, print_pieces
from studio.papers.many import KIND
from studio.people import settings as answers
from studio.people.roles import allowed
from studio.pieces.models import PieceQuerySet
from studio.web.deeds import Deed, Reading
from studio.web.screens.pieces import SHOWN, chosen_pieces
from studio.web.screens.pieces_base import Nothing, named, piece_or_404

AT_ONCE = 24
MOST = 2000
LISTED = 200


@dataclass(frozen=True)
class Order:
    """What an address asks to be printed."""

    pks: tuple[int, ...]
    what: str
    paper: str
    price: bool

    @classmethod
    def of(cls, request: HttpRequest) -> "Order":
        """Read it; words nobody knows count as the first choice."""
        asked = request.GET
        if asked.get("all"):
            pks = tuple(signed(request).values_list("pk", flat=True)[:MOST])
        else:
            pks = tuple(
                dict.fromkeys(int(key) for key in asked.getlist("piece")[:MOST] if key.isdecimal() and len(key) < 16)
            )
        what = asked.get("what", "")
        paper = asked.get("paper", usual_sheet())
        return cls(
            pks,
            what if what in PAPERS else "a6",
            paper if paper in SHEETS else usual_sheet(),
            bool(asked.get("price")) and allowed(request.user, "see_costs"),
        )

    @property
    def query(self) -> str:
        found = QueryDict(mutable=True)
        found.setlist("piece", [str(pk) for pk in self.pks])
        found.update({"what": self.what, "paper": self.paper} | ({"price": "1"} if self.price else {}))
        return found.urlencode()

    def printed(self) -> Any:
        on = answers.local_date(timezone.now())
        return print_pieces(self.pks, what=self.what, paper=self.paper, price=self.price, on=on)


def usual_sheet() -> str:
    """The paper that lies in the printer."""
    return str(answers.value("paper_size")).lower()


def signed(request: HttpRequest) -> PieceQuerySet:
    """Pieces that can have a card: those with a signed number, as the list's filters choose them."""
    return (
        chosen_pieces(request)[0]
        .filter(signed_at__isnull=False)
        .order_by(F("signed_year").asc(nulls_last=True), F("signed_run").asc(nulls_last=True), "pk")
    )


class Papers(Reading):
    """Tick pieces, choose a card or a tag and the paper."""

    right = "print"

    def get(self, request: HttpRequest) -> HttpResponse:
        rows, asked = signed(request), chosen_pieces(request)[1]
        count = rows.count()
        context = {
            "section": "pieces",
            "pieces": rows[:LISTED],
            "count": count,
            "listed": LISTED,
            "chosen": asked,
            "states": [(key, words, key == asked["show"]) for key, (words, _, _) in SHOWN.items()],
            "papers": PAPERS.items(),
            "sheets": SHEETS.items(),
            "usual": usual_sheet(),
            "costs": allowed(request.user, "see_costs"),
        }
        return render(request, "papers/choose.html", context)


class Sheet(Deed):
    """What will be printed, and what can't be; many of them are printed by the worker."""

    right, section, form_class = "print", "pieces", Nothing
    template_name, heading, button = "papers/sheet.html", "Ready to print", "Print them"

    def find(self) -> None:
        self.order = Order.of(self.request)
        self.back = reverse("papers")

    def context(self, form: Any) -> dict[str, Any]:
        order, many = self.order, len(self.order.pks) > AT_ONCE
        context: dict[str, Any] = {
            "order": order,
            "count": len(order.pks),
            "many": many,
            "what": PAPERS[order.what],
            "sheet": SHEETS[order.paper],
            "no_address": not answers.known("base_url"),
            "may_settings": allowed(self.by, "settings"),
        }
        if order.pks and not many:
            context |= looked_over(order)
        return context

    def do(self, data: dict[str, Any]) -> str:
        if not self.order.pks:
            raise Refused("No piece is ticked. Go back and tick those to be printed.")
        order = self.order
        args = {"pieces": list(order.pks), "what": order.what, "paper": order.paper, "price": order.price}
        job = jobs.start(kind=KIND, args=args, by=self.by, at=self.now)
        return reverse("print_job", args=[job.pk])


def looked_over(order: Order) -> Mapping[str, Any]:
    """Print it to see what is missing, and say it before paper is spent."""
    try:
        printed = order.printed()
    except Refused as stop:
        return {"refused": stop.message}
    return {
        "pages": printed.pages,
        "missing": printed.missing_sentence,
        "shortened": printed.elided,
        "pdf": f"{reverse('papers_pdf')}?{order.query}" if printed.pages else "",
    }


class SheetFile(Reading):
    """The file itself, for as many as can be waited for."""

    right = "print"

    def get(self, request: HttpRequest) -> HttpResponse:
        order = Order.of(request)
        if not order.pks or len(order.pks) > AT_ONCE:
            return redirect(f"{reverse('papers_sheet')}?{order.query}")
        try:
            printed = order.printed()
        except Refused:
            return redirect(f"{reverse('papers_sheet')}?{order.query}")
        if not printed.pages:
            raise Http404("There is no such piece.")
        response = HttpResponse(printed.pdf, content_type="application/pdf")
        response["Content-Disposition"] = f'inline; filename="{order.what}.pdf"'
        return response


class PiecePapers(Reading):
    """Card and tag of one piece."""

    right = "print"

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        piece = piece_or_404(pk)
        found = []
        for what, words in PAPERS.items():
            if piece.signed_at is None:
                break
            price = what == "tag" and bool(request.GET.get("price")) and allowed(request.user, "see_costs")
            order = Order((pk,), what, "", price)
            sheet = Order((pk,), what, usual_sheet(), price)
            found.append({"what": words, "sheet": f"{reverse('papers_pdf')}?{sheet.query}", **looked_over(order)})
        context = {
            "section": "pieces",
            "piece": piece,
            "named": named(piece),
            "found": found,
            "paper": answers.value("paper_size"),
            "no_address": not answers.known("base_url"),
            "may_settings": allowed(request.user, "settings"),
            "costs": allowed(request.user, "see_costs"),
        }
        return render(request, "papers/piece.html", context)


def print_job(pk: int) -> Job:
    job = job_queries.job(pk)
    if job is None or job.kind != KIND:
        raise Http404("There is no such print.")
    return job


class PrintJob(Reading):
    """How far the printing is. Without scripts the page is opened again by its link."""

    right = "print"

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        job = print_job(pk)
        context = {"section": "pieces", "job": job, "done": job.state == State.DONE, "count": len(job.args["pieces"])}
        return render(request, "papers/job.html", context)


class StopPrint(Deed):
    right, section, form_class, heading, button = "print", "pieces", Nothing, "Stop printing?", "Stop it"

    def find(self, pk: int) -> None:
        self.job = print_job(pk)
        self.back = reverse("print_job", args=[pk])

    def do(self, data: dict[str, Any]) -> str:
        jobs.cancel(job_id=self.job.pk, at=self.now)
        self.say("It stops with the card it is at.")
        return self.back


class PrintFile(Reading):
    right = "print"

    def get(self, request: HttpRequest, pk: int) -> FileResponse:
        job = print_job(pk)
        file: Path = results_folder() / job.result_path
        if not job.result_path or not file.is_file():
            raise Http404("The file isn't there any more. Print it again.")
        return FileResponse(file.open("rb"), content_type="application/pdf", filename=f"{job.args['what']}.pdf")


urlpatterns = [
    path("papers/", Papers.as_view(), name="papers"),
    path("papers/sheet/", Sheet.as_view(), name="papers_sheet"),
    path("papers/sheet.pdf", SheetFile.as_view(), name="papers_pdf"),
    path("papers/job/<int:pk>/", PrintJob.as_view(), name="print_job"),
    path("papers/job/<int:pk>/stop/", StopPrint.as_view(), name="print_stop"),
    path("papers/job/<int:pk>/file.pdf", PrintFile.as_view(), name="print_file"),
    path("pieces/<int:pk>/papers/", PiecePapers.as_view(), name="piece_papers"),
]
