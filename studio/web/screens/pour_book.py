"""Booking a pour by what the scale showed, and the tap that it has thickened."""

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import path, reverse

from studio.craft import mix
from studio.fields.errors import Refused
from studio.fields.forms import moment_or_now
from studio.fields.listing import listed
from studio.fields.models import Submission
from studio.fields.quantity import LIMIT, show
from studio.people import settings as answers
from studio.web import saying
from studio.web.deeds import Deed
from studio.web.forms import StudioForm
from studio.web.screens.pour import asked, plan_query
from studio.web.screens.pour_clock import began, foot
from studio.web.screens.pour_forms import BookForm, ThickenedForm
from studio.web.screens.pour_mix import GRAM, grams
from studio.web.screens.pour_page import the_pour
from studio.web.screens.pour_swirls import taken
from studio.web.screens.stores_short import OffersCount
from studio.work import operations as work
from studio.work.queries import PourPlan


class Book(OffersCount, Deed):
    """The plan stands in the address; the form holds what was really weighed."""

    form_class, button, heading = BookForm, "It is poured", "What did the scale show?"
    template_name, section = "pour/book.html", "stores"
    plan: PourPlan | None

    def find(self, **kwargs: Any) -> None:
        self.plan = asked(self.request.GET, self.now).plan
        self.back = f"{reverse('pour_plan')}?{plan_query(self.request.GET)}"

    def get(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        if self.plan is None or self.plan.refusals:
            return HttpResponseRedirect(self.back)
        return super().get(request, **kwargs)

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        if self.plan is None:
            # Blanks that were joined by this very form can't be planned with any more: it was sent twice.
            done = Submission.objects.filter(actor=self.by, key=request.POST.get("submission", "")).first()
            return HttpResponseRedirect(done.result if done else self.back)
        return super().post(request, **kwargs)

    def form_kwargs(self) -> dict[str, Any]:
        return {"plan": self.plan}

    def initial(self) -> dict[str, Any]:
        assert self.plan is not None
        poured_a, poured_b = self._walked("a"), self._walked("b")
        return {
            "poured_a": poured_a or self.plan.a_mg,
            "poured_b": poured_b or self.plan.b_mg,
            "colorants": self.plan.colorant_mg,
        }

    def _walked(self, name: str) -> int | None:
        text = self.request.GET.get(name, "")[:16]
        return int(text) if text.isdecimal() and 0 < int(text) <= LIMIT else None

    def context(self, form: StudioForm) -> dict[str, Any]:
        assert self.plan is not None
        return {
            "plan": self.plan,
            "foot": foot(self.plan, self.request.GET, self.now),
            "rescue": self._rescue(form),
        }

    def began_at(self, data: dict[str, Any]) -> datetime | None:
        """When the two parts met, by the walk at the scale."""
        return began(self.request.GET)

    def _warmth(self, plan: PourPlan, at: datetime) -> int | None:
        """The resin's own warmth as it was typed for the plan, else the shop's."""
        shop = answers.known("shop_temperature_mdegc", answers.local_date(at))
        return plan.resin_mdegc if plan.resin_mdegc is not None else shop

    def _rescue(self, form: StudioForm) -> str:
        """What to add so that a wrong mix comes right, when the ratio was refused."""
        assert self.plan is not None
        data = getattr(form, "cleaned_data", {})
        a, b = data.get("poured_a"), data.get("poured_b")
        if "off_ratio_words" not in form.errors or not a or not b:
            return ""
        step = Decimal(self.plan.step_mg) / GRAM
        more = mix.rescue(
            (self.plan.system.parts_a, self.plan.system.parts_b), (Decimal(a) / GRAM, Decimal(b) / GRAM), step
        )
        adds = [f"{grams(int(add * GRAM))} g of Part {part}" for add, part in zip(more, "AB", strict=True) if add > 0]
        return f"Still in the cup? Add {listed(adds)}; then write what is in it now." if adds else ""

    def do(self, data: dict[str, Any]) -> str:
        plan = self.plan
        assert plan is not None
        if plan.total_mg == 0:
            raise Refused(" ".join(plan.refusals) or "There is nothing to pour.", code="no_plan")
        at = moment_or_now(data["at"], self.now)
        colour = data.get("colorants") or 0
        pour = work.pour(
            system=plan.system,
            fills=_fills(plan, data),
            planned_a_mg=plan.a_mg,
            planned_b_mg=plan.b_mg,
            poured_a_mg=data["poured_a"],
            poured_b_mg=data["poured_b"],
            colorants=[work.ColourIn(plan.colorant, colour)] if plan.colorant and colour else [],
            swirls=taken(plan, data),
            colour_words=data.get("colour_words", ""),
            off_ratio_words=data["off_ratio_words"],
            cups=len(plan.cups),
            wood_sure=bool(data.get("sure")),
            began_at=self.began_at(data),
            resin_mdegc=self._warmth(plan, at),
            **self.said_of_stores(data),
            at=at,
            **self.stamp,
        )
        numbers = ", ".join(fill.casting.number for fill in pour.fills.select_related("casting").order_by("pk"))
        out = pour.demould_not_before
        until = f" Not out of the mould before {saying.when(out, self.now, clock=True)}." if out else ""
        self.say(f"{show(pour.poured_mg, 'mass')} are poured into {numbers}.{until}")
        return reverse("pour", args=[pour.pk])


class Thickened(Deed):
    """One tap: it thickened now, or at the time given."""

    form_class, button = ThickenedForm, "It has thickened"

    def find(self, pk: int, **kwargs: Any) -> None:  # type: ignore[override]
        self.found = the_pour(pk)
        self.back = reverse("pour", args=[pk])
        self.heading = "Has it thickened?"

    def do(self, data: dict[str, Any]) -> str:
        row = work.note_thickened(pour=self.found.pour, at=moment_or_now(data["at"], self.now), now=self.now)
        assert row.thickened_at and row.began_at
        took = int((row.thickened_at - row.began_at).total_seconds())
        what = f"{show(row.poured_mg, 'mass')} thickened in {show(took, 'duration')}."
        self.say(f"{what} The next plan reckons with that.")
        return self.back


def _fills(plan: PourPlan, data: dict[str, Any]) -> list[work.Fill]:
    return [
        work.Fill(
            planned_mg=fill.planned_mg,
            poured_mg=data.get(f"into_{place}"),
            blanks=[blank.workpiece for blank in fill.blanks],
            mould=fill.wanted.mould,
            wood_mg=fill.wood_mg,
            wood_mm3=fill.wood_mm3,
            reckoned_mg=fill.reckoned_mg,
            title=data.get(f"title_{place}", ""),
        )
        for place, fill in enumerate(plan.fills)
    ]


urlpatterns = [
    path("pour/book/", Book.as_view(), name="pour_book"),
    path("pour/<int:pk>/thickened/", Thickened.as_view(), name="pour_thickened"),
]
