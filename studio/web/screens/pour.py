"""Planning a pour: which resin, which moulds with what in them, and the grams that makes."""

from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone

from studio.fields.quantity import show
from studio.people import roles
from studio.people import settings as answers
from studio.stores import queries as stores
from studio.web.deeds import Reading
from studio.web.screens.loads import keys_of
from studio.web.screens.pour_clock import (
    allowance_words,
    began,
    clock_words,
    cup_words,
    degas_words,
    give_words,
    lift_words,
)
from studio.web.screens.pour_forms import MOST_MOULDS, MOST_SWIRLS, PlanForm
from studio.web.screens.pour_pot import pots_for
from studio.web.screens.pour_swirls import swirl_words, window_words
from studio.work import queries as work
from studio.work.models import Stage, StepCode, Workpiece
from studio.work.queries import FillWanted, PourPlan, pours_under_way

MOST_TICKS = 40
# What a walk to the scale adds to the address of a plan.
WALK = ("place", "sheet", "step", "shown_a", "shown_b", "enough", "a", "b", "t0", "cup", "done_a", "done_b")


def ready_to_cast(besides: frozenset[int]) -> list[tuple[Workpiece, str]]:
    """Blanks whose next step is the pour, those asked for first. What lies in its mould already is offered only where
    it is asked for. One query; another where some are not."""
    rows = {row.pk: row for row in _comes_to_its_cast().all()}
    if besides - rows.keys():
        rows |= {row.pk: row for row in _wood(work.on_the_bench()).filter(pk__in=besides)}
    ordered = sorted(rows.values(), key=lambda row: (row.pk not in besides, row.sort_key))
    return [(row, _words(row)) for row in ordered]


@cache
def _comes_to_its_cast() -> QuerySet[Workpiece]:
    """Built once, because every plan asks it and nothing in it changes: only its copies are read."""
    return _wood(work.ready_for(StepCode.CAST)).exclude(stage=Stage.CASTING)[:MOST_TICKS]


def _wood(rows: QuerySet[Workpiece]) -> QuerySet[Workpiece]:
    """Without what a plan doesn't read: their steps, whose they are, what they cost."""
    return rows.prefetch_related(None).select_related(None).select_related("species")


def _words(row: Workpiece) -> str:
    wood = row.title or (row.species.common_name if row.species else row.get_stage_display().lower())
    return f"{row.number}, {wood}"


@dataclass(frozen=True)
class Asked:
    """What an address asks for: the form, and the plan where the form could be read."""

    form: PlanForm
    plan: PourPlan | None


def asked(query: QueryDict, at: datetime, *, wood: bool = True) -> Asked:
    """Read a plan out of the query of an address and reckon it; `wood`: judge it too."""
    form = _form(query)
    if not form.is_valid():
        return Asked(form, None)
    colorant = form.colours.get(form.cleaned_data["colorant"])
    plan = work.plan_pour(
        form.chosen_system(),
        form.wanted(),
        at=at,
        colorant=colorant,
        colorant_ppm=(form.cleaned_data["share"] or 0) if colorant else 0,
        resin_mdegc=form.cleaned_data["warmth"],
        swirls=form.swirls(),
        mixed_at=began(query),
        judge_wood=wood,
        clock_wanted=form.clock(),
    )
    return Asked(form, plan)


def _form(query: QueryDict) -> PlanForm:
    return PlanForm(query, rows=_rows(query), cups=_cups(query), ready=ready_to_cast(_named(query)), initial={})


def wanted_of(query: QueryDict) -> list[FillWanted]:
    """The moulds a plan's address names with what lies in them; none where it can't be read."""
    form = _form(query)
    return form.wanted() if form.is_valid() else []


def _rows(query: QueryDict) -> int:
    return max(1, min(_count(query, "rows", 1) + bool(query.get("more")), MOST_MOULDS))


def _cups(query: QueryDict) -> int:
    """How many cups for swirls are asked about."""
    return min(_count(query, "cups", 0) + bool(query.get("swirl")), MOST_SWIRLS)


def _count(query: QueryDict, name: str, usual: int) -> int:
    text = query.get(name, "")
    return int(text) if text.isdecimal() and len(text) < 3 else usual


def _named(query: QueryDict) -> frozenset[int]:
    """Keys of workpieces named anywhere in the address, so that a plan stays readable whatever their next step."""
    names = [name for name in query if name == "workpiece" or name.startswith("blanks_")]
    keys = [key for name in names for key in query.getlist(name)]
    return frozenset(int(key) for key in keys if key.isdecimal() and len(key) < 12)


def plan_query(query: QueryDict, **more: Any) -> str:
    """The address of the same plan, with more of the walk in it."""
    kept = query.copy()
    for name in ("more", "swirl", *WALK):
        kept.pop(name, None)
    for name, value in more.items():
        if value is not None:
            kept[name] = str(value)
    return kept.urlencode()


class PlanPour(Reading):
    """The choice, and with `go` in the address the plan."""

    right = "bench"

    def get(self, request: HttpRequest) -> HttpResponse:
        now = timezone.now()
        if request.GET.get("go") and not request.GET.get("more") and not request.GET.get("swirl"):
            found = asked(request.GET, now)
            if found.plan is not None:
                return self._plan(request, found, found.plan, now)
            return render(request, "pour/choose.html", self._choice(found.form), status=422)
        rows = _rows(request.GET)
        ready, typed = ready_to_cast(_named(request.GET)), _typed_before(request, rows)
        form = PlanForm(None, rows=rows, cups=_cups(request.GET), ready=ready, initial=typed)
        context = self._choice(form)
        context["under_way"] = [] if request.GET else pours_under_way(now)
        # Back from a plan that was refused: what would mend it is mostly asked for there.
        context["wide"] = bool(request.GET.get("wide"))
        return render(request, "pour/choose.html", context)

    def _choice(self, form: PlanForm) -> dict[str, Any]:
        return {
            "form": form,
            "rows": form.rows,
            "cups": form.cups,
            "may_swirl": bool(form.colours) and form.cups < MOST_SWIRLS,
            "may_more": form.rows < MOST_MOULDS,
            "nothing": not form.systems,
            "section": "stores",
        }

    def _plan(self, request: HttpRequest, found: Asked, plan: PourPlan, now: datetime) -> HttpResponse:
        from studio.web.screens.pour_ready import coat_words

        ready = work.prepared([fill.wanted for fill in plan.fills]) if plan.total_mg and not plan.refusals else ()
        context = {
            "plan": plan,
            "query": plan_query(request.GET),
            "targets": targets(plan),
            "short": [holding for holding in plan.stores if holding.short],
            "back": f"{reverse('pour_plan')}?{_without_go(request.GET)}",
            "ratio": f"{show(plan.system.parts_a, 'number')} to {show(plan.system.parts_b, 'number')}",
            "cups": cup_words(plan),
            "clock": clock_words(plan),
            "degas": degas_words(plan),
            "pots": pots_for(plan, found.form.pots, found.form.clock(), answers.local_date(now)),
            "takes_mg": on_scale(plan, plan.fill_mg),
            "spare_mg": on_scale(plan, plan.waste_mg),
            "give": give_words(plan.give_mg) if plan.give_mg else "",
            "allowed": allowance_words(plan),
            "lifts": lift_words(plan),
            "skins": work.not_brushed([one.workpiece for fill in plan.fills for one in fill.blanks]),
            "ready": [{"mould": one, "coat": coat_words(one, now)} for one in ready],
            "swirls": swirl_words(plan),
            "window": window_words(plan),
            "may_measure": roles.allowed(request.user, "equipment"),
            "section": "stores",
        }
        return render(request, "pour/plan.html", context)


def on_scale(plan: PourPlan, mg: int) -> int:
    """No finer than the scale shows it, never less than it is."""
    return -(-mg // plan.step_mg) * plan.step_mg


def _without_go(query: QueryDict) -> str:
    kept = query.copy()
    for name in ("go", "more", "swirl", *WALK):
        kept.pop(name, None)
    return kept.urlencode()


def _typed_before(request: HttpRequest, rows: int) -> dict[str, Any]:
    """What stood in the form before another mould was asked for; or what the address names to begin with."""
    query = request.GET
    found: dict[str, Any] = {name: query.get(name) for name in query if not name.startswith("blanks_")}
    for name in query:
        if name.startswith("blanks_"):
            found[name] = query.getlist(name)
    if keys_of(request) and "blanks_0" not in query:
        found["blanks_0"] = [str(key) for key in keys_of(request)]
    if "system" not in query and len(systems := stores.resin_systems()) == 1:
        found["system"] = str(systems[0].pk)
    return {name: value for name, value in found.items() if value or not name.startswith("mould_")}


@dataclass(frozen=True)
class Target:
    """What the scale should show, the cup weighed off, when so far was poured in."""

    step: str
    words: str
    mg: int


def targets(plan: PourPlan, a_mg: int | None = None, b_mg: int | None = None) -> list[Target]:
    """The cumulative targets: cup, A, colour where it goes into A, then B."""
    a, b = plan.a_mg if a_mg is None else a_mg, plan.b_mg if b_mg is None else b_mg
    found, sum_mg = [Target("cup", "Cup", 0), Target("a", "A", a)], a
    if plan.colorant_mg:
        sum_mg += plan.colorant_mg
        into_b = plan.system.colour_into == "b"
        found.append(Target("c", "Colour, in B", plan.colorant_mg) if into_b else Target("c", "Colour", sum_mg))
    return [*found, Target("b", "B", sum_mg + b)]


urlpatterns = [path("pour/", PlanPour.as_view(), name="pour_plan")]
