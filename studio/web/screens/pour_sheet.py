"""The plan of a pour on paper, for a bench where no screen belongs."""

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.urls import path, reverse
from django.utils import timezone

from studio.people import settings as answers
from studio.web.deeds import Reading
from studio.web.screens.pour import asked, plan_query


class PourSheet(Reading):
    """The file itself; a plan that can't be poured leads back to what is wrong with it."""

    right = "bench"

    def get(self, request: HttpRequest) -> HttpResponse:
        from studio.papers.from_pours import mix_sheet_facts
        from studio.papers.mix_sheet import print_mix_sheet

        now = timezone.now()
        plan = asked(request.GET, now).plan
        if plan is None or plan.refusals or not plan.total_mg:
            return HttpResponseRedirect(f"{reverse('pour_plan')}?{request.GET.urlencode()}")
        query = plan_query(QueryDict(_filled(request.GET)), sheet=plan.total_mg)
        address = request.build_absolute_uri(f"{reverse('pour_typed')}?{query}")
        facts = mix_sheet_facts(plan, on=answers.local_date(now), address=address)
        printed = print_mix_sheet(facts, paper=str(answers.value("paper_size")).lower())
        response = HttpResponse(printed.pdf, content_type="application/pdf")
        response["Content-Disposition"] = 'inline; filename="mix-sheet.pdf"'
        return response


def _filled(query: QueryDict) -> str:
    """The address without what was left empty: the shorter, the coarser its code on the paper."""
    return urlencode([(name, value) for name, values in query.lists() for value in values if value])


urlpatterns = [path("pour/sheet/", PourSheet.as_view(), name="pour_sheet")]
