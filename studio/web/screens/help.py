"""Help: what the figures rest on, who may do what, what to type in a terminal, and what our words mean."""

from dataclasses import dataclass
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils import timezone

from studio.equipment.cautions import CAUTIONS
from studio.equipment.models import MachineKind
from studio.fields.formats import current
from studio.people import queries, roles
from studio.people import settings as answers
from studio.people.models import Role
from studio.people.questions import GROUPS, QUESTIONS
from studio.web.deeds import Reading


@dataclass(frozen=True)
class Page:
    """One page of help: `templates/help/<slug>.html`, what it is called, what one finds there."""

    slug: str
    title: str
    about: str


PAGES = (
    Page("start", "The first day", "From an empty studio to a priced piece, in the order one walks the shop."),
    Page("safety", "Before you pour, bake or turn", "What can hurt you, where each caution comes from, who decides."),
    Page("formulas", "How the figures are worked out", "Every formula with its source and worked numbers."),
    Page("roles", "Who may do what", "The four roles and everything they may and may not do."),
    Page("settings", "What the studio settles", "Every question, what holds until you answer, whose figure that is."),
    Page("words", "Our words", "What lump, all in, lowest ask and the rest mean here."),
    Page("commands", "At the terminal", "Opening the studio, checking the books, letting somebody in."),
)
BY_SLUG = {page.slug: page for page in PAGES}


def _roles() -> dict[str, Any]:
    return {"roles": [role.label for role in Role], "table": queries.rights_table()}


def _settings() -> dict[str, Any]:
    """Every question with its default or what is proposed; what this studio has answered is not shown here."""
    groups: dict[str, list[dict[str, Any]]] = {words: [] for words in GROUPS.values()}
    for question in QUESTIONS:
        given = question.default if question.default is not None else question.suggestion
        groups[GROUPS[question.group]].append(
            {
                "question": question,
                "until": answers.show(question.key, question.default, formats=current()),
                "proposed": ""
                if question.default is not None
                else answers.show(question.key, given, formats=current()),
            }
        )
    return {"groups": groups, "today": timezone.localdate()}


def _safety() -> dict[str, Any]:
    kinds = [(kind.label, [one for one in CAUTIONS if one.kinds[0] == kind]) for kind in MachineKind]
    return {"kinds": [(label, found) for label, found in kinds if found]}


MORE = {"roles": _roles, "settings": _settings, "safety": _safety}
RIGHTS = ("wood", "stores")  # of whom the first day's page shows the way in


class Index(Reading):
    def get(self, request: HttpRequest) -> HttpResponse:
        return render(request, "help/index.html", {"pages": PAGES, "section": "help"})


class HelpPage(Reading):
    def get(self, request: HttpRequest, slug: str) -> HttpResponse:
        page = BY_SLUG.get(slug)
        if page is None:
            raise Http404
        more = MORE[slug]() if slug in MORE else {}
        may = {right: roles.allowed(request.user, right) for right in RIGHTS}
        return render(request, f"help/{slug}.html", {"page": page, "may": may, "section": "help", **more})


urlpatterns = [
    path("help/", Index.as_view(), name="help"),
    path("help/<slug:slug>/", HelpPage.as_view(), name="help_page"),
]
