"""At the scale: one target after the other, and what was poured is kept right by what comes next."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.shortcuts import render
from django.urls import path, reverse
from django.utils import timezone

from studio.craft import mix
from studio.equipment.cautions import at_the_mix
from studio.fields.quantity import LIMIT, NotUnderstood, parse, show
from studio.web.deeds import Reading
from studio.web.screens.pour import asked, plan_query, targets
from studio.web.screens.pour_clock import began, foot
from studio.web.screens.pour_ready import unready_words
from studio.web.screens.pour_swirls import swirl_words, window_at, window_words
from studio.work import queries as work
from studio.work.queries import PourPlan
from studio.work.queries.pour_clocks import clock_cautions

GRAM = 1000


def grams(mg: int) -> str:
    """A weight as a scale shows it, without its unit."""
    return show(mg, "mass", unit="g", with_unit=False)


class Mix(Reading):
    """`step` is a, c or b; `shown_a` what the scale showed where A stopped elsewhere; `a` what is in the cup."""

    right = "bench"

    def get(self, request: HttpRequest) -> HttpResponse:
        whole = asked(request.GET, timezone.now()).plan
        if whole is None or whole.refusals:
            return HttpResponseRedirect(f"{reverse('pour_plan')}?{request.GET.urlencode()}")
        self.cup, self.cups = cup_number(request.GET, len(whole.cups)), len(whole.cups)
        self.done = (_known(request.GET, "done_a"), _known(request.GET, "done_b")) if self.cup > 1 else (0, 0)
        plan = in_cup(whole, self.cup)
        step = request.GET.get("step", "a")
        if "step" not in request.GET and ((asks := self._asks(whole)) or clock_cautions(whole.clock)):
            return self._before(request, whole, asks)
        if step == "s" and whole.swirls:
            return self._swirl(request, whole)
        if step not in ("c", "b", "book"):
            return self._show(request, plan, "a", {})
        return self._after_a(request, plan, step)

    def _after_a(self, request: HttpRequest, plan: PourPlan, step: str) -> HttpResponse:
        a, wrong = _poured(request.GET, "a", "shown_a", plan.a_mg)
        if wrong:
            return self._show(request, plan, "a", {"wrong": wrong})
        if a < plan.a_mg and not request.GET.get("enough") and "a" not in request.GET:
            return self._show(request, plan, "a", {"under": a})
        b = plan.b_for(a)
        if step == "b" and "t0" not in request.GET:
            query = plan_query(request.GET, step="b", a=a, t0=timezone.now().isoformat(), **self._carried())
            return HttpResponseRedirect(f"{reverse('pour_mix')}?{query}")
        if step == "c":
            return self._show(request, plan, "c", {"a": a, "b": b})
        if step == "book":
            return self._book(request, plan, a, b)
        return self._show(request, plan, "b", {"a": a, "b": b})

    def _book(self, request: HttpRequest, plan: PourPlan, a: int, b: int) -> HttpResponse:
        """What the scale showed last, less what was in the cup before, is Part B."""
        before = a + plan.colorant_mg
        total, wrong = _poured(request.GET, "", "shown_b", before + b)
        if not wrong and total <= before:
            wrong = f"The scale can't show less than the {grams(before)} that were in the cup before Part B."
        if wrong:
            return self._show(request, plan, "b", {"a": a, "b": b, "wrong": wrong})
        a, b = a + self.done[0], total - before + self.done[1]
        if self.cup < self.cups:
            query = plan_query(request.GET, step="a", cup=self.cup + 1, done_a=a, done_b=b)
            return HttpResponseRedirect(f"{reverse('pour_mix')}?{query}")
        if plan.swirls:
            query = plan_query(request.GET, a=a, b=b, t0=request.GET.get("t0"), step="s")
            return HttpResponseRedirect(f"{reverse('pour_mix')}?{query}")
        query = plan_query(request.GET, a=a, b=b, t0=request.GET.get("t0"))
        return HttpResponseRedirect(f"{reverse('pour_book')}?{query}")

    def _asks(self, plan: PourPlan) -> list[tuple[int, list[str]]]:
        """What wasn't ticked at the moulds, and seal coats outside their window."""
        now = timezone.now()
        moulds = work.prepared([fill.wanted for fill in plan.fills])
        return [(one.place, words) for one in moulds if (words := unready_words(one, now))]

    def _before(self, request: HttpRequest, plan: PourPlan, asks: list[tuple[int, list[str]]]) -> HttpResponse:
        query = plan_query(request.GET)
        context = {
            "asks": asks, "late": clock_cautions(plan.clock), "query": query, "plan": plan, "section": "stores",
            "back": f"{reverse('pour_plan')}?{query}",
        }  # fmt: skip
        return render(request, "pour/before.html", context)

    def _swirl(self, request: HttpRequest, plan: PourPlan) -> HttpResponse:
        """After the mix: take out the cups, stir in their colours, and wait until they may go in."""
        poured = {name: request.GET.get(name) for name in ("a", "b", "t0")}
        context = {
            "plan": plan,
            "swirls": swirl_words(plan),
            "window": window_at(plan, began(request.GET)),
            "words": window_words(plan),
            "foot": foot(plan, request.GET, timezone.now()),
            "query": plan_query(request.GET, **poured),
            "back": f"{reverse('pour_plan')}?{plan_query(request.GET)}",
        }
        return render(request, "pour/swirl.html", context)

    def _carried(self) -> dict[str, int]:
        """Which cup it is and what went into those before it, from one step to the next."""
        if self.cup == 1:
            return {}
        return {"cup": self.cup, "done_a": self.done[0], "done_b": self.done[1]}

    def _show(self, request: HttpRequest, plan: PourPlan, step: str, at: dict[str, Any]) -> HttpResponse:
        a, b = at.get("a", plan.a_mg), at.get("b", plan.b_mg)
        rule = targets(plan, a, b)
        order = [target.step for target in rule]
        target = rule[order.index(step)]
        after = {"a": "c" if plan.colorant_mg else "b", "c": "b", "b": "book"}[step]
        poured = a if step != "a" else None
        keep = QueryDict(plan_query(request.GET, a=poured, t0=request.GET.get("t0"), **self._carried()))
        context = {
            "plan": plan,
            "step": step,
            "after": after,
            "target": plan.colorant_mg if step == "c" else target.mg,
            "shown": grams(plan.colorant_mg if step == "c" else target.mg),
            "rule": [
                {"words": one.words, "shown": grams(one.mg), "state": _state(order, one.step, step)} for one in rule
            ],
            "keep": [(name, value) for name, values in keep.lists() for value in values],
            "here": keep.urlencode(),
            "note": overshoot_words(plan, a, b) if step != "a" else "",
            "good": good_words(plan, a, target.mg - b) if step == "b" else "",
            "wrong": at.get("wrong", ""),
            "under": under_words(plan, at["under"]) if "under" in at else "",
            "shown_typed": request.GET.get("shown_a" if step == "a" else "shown_b", "") if at.get("wrong") else "",
            "foot": foot(plan, request.GET, timezone.now()) if step == "b" else None,
            "cautions": at_the_mix(),
            "cup": f"Cup {self.cup} of {self.cups}" if self.cups > 1 else "",
            "numbers": [blank.workpiece.number for fill in plan.fills for blank in fill.blanks],
            "back": f"{reverse('pour_plan')}?{plan_query(request.GET)}",
        }
        return render(request, "pour/mix.html", context, status=422 if at.get("wrong") else 200)


def cup_number(query: QueryDict, cups: int) -> int:
    """Which of the cups is being mixed, from 1."""
    text = query.get("cup", "")
    return max(1, min(int(text), cups)) if text.isdecimal() and len(text) < 3 else 1


def in_cup(plan: PourPlan, number: int) -> PourPlan:
    """The plan as one of its cups sees it."""
    if len(plan.cups) < 2:
        return plan
    cup = plan.cups[number - 1]
    waste = plan.waste_mg * cup.mixed_mg // plan.total_mg
    return replace(
        plan, a_mg=cup.a_mg, b_mg=cup.b_mg, total_mg=cup.mixed_mg, colorant_mg=cup.colorant_mg, waste_mg=waste
    )


def _known(query: QueryDict, name: str) -> int:
    text = query.get(name, "")[:16]
    return int(text) if text.isdecimal() and int(text) <= LIMIT else 0


def _state(order: list[str], one: str, step: str) -> str:
    if order.index(one) < order.index(step):
        return "done"
    return "now" if one == step else "later"


def _poured(query: QueryDict, known: str, typed: str, planned: int) -> tuple[int, str]:
    """(milligrams, what is wrong with what was typed). Empty means that it stopped on its target."""
    held = query.get(known, "") if known else ""
    if held.isdecimal() and 0 < int(held[:16]) <= LIMIT:
        return int(held[:16]), ""
    text = query.get(typed, "").strip()
    if not text:
        return planned, ""
    try:
        return parse(text, "mass", least=1), ""
    except NotUnderstood as stop:
        return planned, str(stop)


def overshoot_words(plan: PourPlan, a_mg: int, b_mg: int) -> str:
    """What happened and what follows, in words; nothing where A stopped on its target."""
    if a_mg == plan.a_mg:
        return ""
    more = a_mg + b_mg - plan.total_mg
    went = f"A went to {grams(a_mg)}, {grams(plan.a_mg)} was planned."
    moved = f"B is {'raised' if b_mg > plan.b_mg else 'lowered'} from {grams(plan.b_mg)} to {grams(b_mg)}"
    follows = f"{moved}: the ratio is right again, {grams(abs(more))} g {'more' if more > 0 else 'less'} in all."
    room = f" {grams(plan.waste_mg)} g of it are for the cup." if more > 0 else " See that the moulds fill."
    held = next((one.has for one in plan.stores if one.material == plan.system.part_b), b_mg)
    short = f" The stores hold {grams(held)} g of Part B by the books." if held < b_mg else ""
    return f"{went} {follows}{room}{short}"


def under_words(plan: PourPlan, a_mg: int) -> str:
    return f"A stands at {grams(a_mg)}: {grams(plan.a_mg - a_mg)} g more."


def good_words(plan: PourPlan, a_mg: int, before_b: int) -> str:
    """The span of the scale within the sheet's tolerance; nothing where the sheet gives none."""
    tolerance = plan.system.ratio_tolerance_ppm
    if not tolerance:
        return ""
    ratio, step = (plan.system.parts_a, plan.system.parts_b), Decimal(plan.step_mg) / GRAM
    try:
        low, high = mix.good_range(ratio, Decimal(a_mg) / GRAM, tolerance, step)
    except ValueError as stop:
        return str(stop)
    return f"{grams(int(low * GRAM) + before_b)} to {grams(int(high * GRAM) + before_b)} g"


urlpatterns = [path("pour/mix/", Mix.as_view(), name="pour_mix")]
