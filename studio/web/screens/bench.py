"""Everything on the bench, by wood, stage and the step that comes next."""

from typing import Any

import django_tables2 as tables
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import include, path
from django_tables2 import RequestConfig

from studio.fields.quantity import show
from studio.people.roles import allowed
from studio.pieces.models import Piece
from studio.web import links
from studio.web.deeds import Reading
from studio.web.screens.bench_page import WorkpiecePage, next_step
from studio.web.templatetags.studio import NOTHING, tag
from studio.wood import queries as wood
from studio.work import queries
from studio.work.models import ClosedAs, Stage, StepCode, Workpiece

PER_PAGE = 25
TEXT_LIMIT = 100
FINISHED = "finished"


class BenchTable(tables.Table):
    number = tables.Column(verbose_name="Number", order_by="sort_key")
    title = tables.Column(verbose_name="What it is", empty_values=())
    wood = tables.Column(verbose_name="Wood", empty_values=(), order_by="species__name_search", accessor="species")
    comes_next = tables.Column(verbose_name="Comes next", empty_values=(), orderable=False)
    mass_mg = tables.Column(verbose_name="Weighs", attrs={"th": {"class": "n"}, "td": {"class": "n"}})
    cost = tables.Column(
        verbose_name="All in",
        accessor="account__value_micro",
        attrs={"th": {"class": "n"}, "td": {"class": "n"}},
    )

    class Meta:
        template_name = "parts/table.html"
        empty_text = ""

    def render_number(self, record: Workpiece) -> str:
        return tag(record.number, links.to("workpiece", record.pk), label=record.get_stage_display().lower())

    def render_title(self, record: Workpiece) -> str:
        return " ".join(filter(None, [record.title or record.get_stage_display(), "(held)" if record.held else ""]))

    def render_wood(self, record: Workpiece) -> str:
        return wood_words(record) or NOTHING

    def render_comes_next(self, record: Workpiece) -> str:
        if record.closed_at is not None:
            return str(record.get_closed_as_display())
        step = next_step(tuple(record.steps.all()))
        if step is None:
            return "Cut" if record.stage == Stage.LUMP else "Nothing left to do"
        return f"{step.get_code_display()}{', begun' if step.state == 'open' else ''}"

    def render_mass_mg(self, value: int) -> str:
        return show(value, "mass", unit="g")

    def render_cost(self, value: int) -> str:
        return show(value, "money")


def wood_words(piece: Workpiece) -> str:
    kind = piece.get_wood_kind_display() if piece.wood_kind not in ("", "plain") else ""
    return " ".join(word for word in (str(piece.species or ""), kind) if word)


def key(text: str) -> int | None:
    """A key out of an address, or nothing."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None


class Bench(Reading):
    def get(self, request: HttpRequest) -> HttpResponse:
        costs = allowed(request.user, "see_costs")
        asked = {
            "text": request.GET.get("q", "")[:TEXT_LIMIT],
            "stage": request.GET.get("stage", ""),
            "step": request.GET.get("step", ""),
            "species_id": key(request.GET.get("species", "")),
            "closed": request.GET.get("closed", ""),
        }
        rows = queries.search(costs=costs, **asked)  # type: ignore[arg-type]
        finished = Piece.objects.finished().values("workpiece")
        if asked["closed"] == FINISHED:
            rows = rows.filter(pk__in=finished)
        elif not asked["closed"] and not asked["text"]:  # who types a number wants what bears it, wherever it stands
            rows = rows.exclude(pk__in=finished)
        table = BenchTable(rows, exclude=() if costs else ("cost",))
        RequestConfig(request, paginate={"per_page": PER_PAGE, "silent": True}).configure(table)
        context: dict[str, Any] = {
            "section": "wood",
            "table": table,
            "asked": asked,
            "filtered": any(asked.values()),
            "woods": wood.species_list(),
            "stages": Stage.choices,
            "steps": [*StepCode.choices, ("none", "nothing left to do")],
            "ends": [(FINISHED, "finished, not sold yet"), *ClosedAs.choices],
            "may_wood": allowed(request.user, "wood"),
            "may_bench": allowed(request.user, "bench"),
        }
        return render(request, "bench/list.html", context)


urlpatterns = [
    path("bench/", Bench.as_view(), name="bench"),
    path("bench/<int:pk>/", WorkpiecePage.as_view(), name="workpiece"),
    path("", include("studio.web.screens.bench_weigh")),
    path("", include("studio.web.screens.bench_deeds")),
    path("", include("studio.web.screens.bench_dry_room")),
    path("", include("studio.web.screens.bench_steps")),
    path("", include("studio.web.screens.bench_cut")),
    path("", include("studio.web.screens.clock")),
    path("", include("studio.web.screens.broke")),
]
