"""Finishes made and changed, line by line, and workpieces put on one."""

import re
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import path, reverse

from studio.fields.errors import Refused
from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.stores import queries as stores
from studio.stores.models import Material, MaterialKind
from studio.web.deeds import Deed
from studio.web.forms import StudioForm, Typed
from studio.web.screens.bench_base import Nothing
from studio.web.screens.finish_words import line_words
from studio.work import operations as work
from studio.work import queries
from studio.work.models import FinishSchedule, LineKind
from studio.work.operations.finish_schedules import MOST_LINES, MOST_SPREAD_MGM2, MOST_WAIT_S, NAME_LENGTH

ROWS, MORE_ROWS = 6, 3
MOST_TICKS = 60
KINDS = [("", "nothing"), *((kind.value, str(kind.label)) for kind in LineKind)]
NAMES = ("kind", "grit", "material", "spread", "wait", "latest", "not_on_resin", "oily", "place")
# What is drawn of a line, and for which kinds of it.
DRAWN = {
    "kind": "",
    "grit": "for-sand",
    "material": "for-coat",
    "spread": "for-coat",
    "wait": "for-any",
    "latest": "for-work",
    "place": "for-any",
}
_LINE = re.compile(r"Line (\d+): (.*)", re.DOTALL)


class ScheduleForm(StudioForm):
    """A row of fields for each line; what is left on `nothing` is no line. `place` moves a line up or down."""

    name = forms.CharField(
        max_length=NAME_LENGTH, label="What do you call it?", help_text="Such as Hard oil, three coats."
    )

    def __init__(self, *args: Any, count: int, tins: list[Material], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.count, self.tins = count, {str(row.pk): row for row in tins}
        for n in range(1, count + 1):
            self._add(n)

    def _add(self, n: int) -> None:
        tins = [("", "choose one"), *((pk, row.name) for pk, row in self.tins.items())]
        hours: dict[str, Any] = {
            "dimension": "duration",
            "unit": "h",
            "required": False,
            "widget": Typed(letters=True),
        }
        self.fields |= {
            f"kind_{n}": forms.ChoiceField(choices=KINDS, required=False, label="What is done?"),
            f"grit_{n}": QuantityField(
                dimension="whole", least=1, most=20_000, required=False, label="To which grit?", widget=Typed()
            ),
            f"material_{n}": forms.ChoiceField(choices=tins, required=False, label="With what?"),
            f"spread_{n}": QuantityField(
                dimension="mass", unit="g", least=1, most=MOST_SPREAD_MGM2, required=False,
                label="Grams on a square metre", help_text="From the tin’s sheet.", widget=Typed(),
            ),
            f"wait_{n}": QuantityField(label="Then wait", help_text="24 is 24 hours; or 3 days.", least=0,
                                       most=MOST_WAIT_S, **hours),
            f"latest_{n}": QuantityField(label="Go on within", help_text="Counted from this line too.", least=1,
                                         most=MOST_WAIT_S, **hours),
            f"not_on_resin_{n}": forms.BooleanField(required=False, label="It won’t cure on resin"),
            f"oily_{n}": forms.BooleanField(required=False, label="Its rags can set themselves on fire"),
            f"place_{n}": QuantityField(
                dimension="whole", least=1, most=99, required=False, label="Comes as number", widget=Typed()
            ),
        }  # fmt: skip

    def rows(self) -> list[dict[str, Any]]:
        """The rows as the page draws them; each field with the kind of line that asks for it."""
        return [
            {
                "n": n,
                "fields": [(kind, self[f"{name}_{n}"]) for name, kind in DRAWN.items()],
                "not_on_resin": self[f"not_on_resin_{n}"],
                "oily": self[f"oily_{n}"],
            }
            for n in range(1, self.count + 1)
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        used = []
        for n in range(1, self.count + 1):
            typed = any(data.get(f"{name}_{n}") for name in NAMES if name not in ("kind", "place"))
            if not data.get(f"kind_{n}") and typed and not self.has_error(f"kind_{n}"):
                self.add_error(f"kind_{n}", "Choose what is done, or empty the rest of this line.")
            elif data.get(f"kind_{n}"):
                used.append(n)
        # a line sent to another's place comes before the one that stands there
        self.used = sorted(used, key=lambda n: ((data.get(f"place_{n}") or n), (data.get(f"place_{n}") or n) == n, n))
        return data

    def lines(self) -> list[work.LineSpec]:
        return [self._line(n) for n in self.used]

    def _line(self, n: int) -> work.LineSpec:
        told = {name: self.cleaned_data.get(f"{name}_{n}") for name in NAMES}
        kind = str(told["kind"])
        coat = kind == LineKind.COAT
        return work.LineSpec(
            kind,
            grit=told["grit"] if kind == LineKind.SAND else None,
            material=self.tins.get(told["material"] or "") if coat else None,
            spread_mgm2=told["spread"] if coat else None,
            wait_s=told["wait"] or 0,
            latest_s=told["latest"] if kind != LineKind.CURE else None,
            not_on_resin=bool(told["not_on_resin"]) and coat,
            oily=bool(told["oily"]) and coat,
        )


def as_typed(schedule: FinishSchedule) -> dict[str, Any]:
    """A finish as the form shows it."""
    said: dict[str, Any] = {"name": schedule.name}
    for n, line in enumerate(schedule.lines.all(), 1):
        said |= {
            f"kind_{n}": line.kind, f"grit_{n}": line.grit, f"material_{n}": str(line.material_id or ""),
            f"spread_{n}": line.spread_mgm2, f"wait_{n}": line.wait_s or None, f"latest_{n}": line.latest_s,
            f"not_on_resin_{n}": line.not_on_resin, f"oily_{n}": line.oily,
        }  # fmt: skip
    return said


class Add(Deed):
    section, template_name, form_class = "wood", "finish/schedule.html", ScheduleForm
    heading, button = "A new finish", "Keep it"
    schedule: FinishSchedule | None = None
    least = ROWS

    def find(self, **_: Any) -> None:
        self.back = reverse("finishes")
        told = self.request.POST.get("count") or ""
        count = int(told) if told.isascii() and told.isdigit() and len(told) < 3 else self.least
        self.count = min(max(count, 1) + (MORE_ROWS if "more" in self.request.POST else 0), MOST_LINES)

    def form_kwargs(self) -> dict[str, Any]:
        return {"count": self.count, "tins": stores.materials(kinds=[MaterialKind.FINISH])}

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        """`more` only shows: a few lines more, with everything typed still there."""
        if "more" in request.POST:
            return self.show(self.form_class(initial=request.POST.dict(), **self.form_kwargs()))
        return super().post(request, **kwargs)

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {
            "rows": form.rows(),  # type: ignore[attr-defined]
            "count": self.count,
            "most": self.count >= MOST_LINES,
            "tins": bool(form.tins),  # type: ignore[attr-defined]
        }

    def _with_refusal(self, form: StudioForm, stop: Refused) -> StudioForm:
        found = _LINE.match(stop.message) if stop.field == "lines" else None
        used = getattr(form, "used", [])
        if found and int(found[1]) <= len(used):
            said = found[2][:1].upper() + found[2][1:]
            form.add_error(f"kind_{used[int(found[1]) - 1]}", said)
            return form
        return super()._with_refusal(form, stop)

    def do(self, data: dict[str, Any]) -> str:
        form = self.form_class(self.request.POST, **self.form_kwargs())
        form.is_valid()
        row = work.keep_schedule(
            name=data["name"], lines=form.lines(), at=self.now, by=self.by, instead_of=self.schedule
        )
        kept = " What is under way keeps the lines it began with." if self.schedule else ""
        self.say(f"{row.name} is kept.{kept}", then=("Put work on it", f"{reverse('finish_put_on')}?finish={row.pk}"))
        return self.back


class Change(Add):
    heading, button = "Change a finish", "Keep it so"

    def find(self, pk: int) -> None:  # type: ignore[override]
        self.schedule = schedule_or_404(pk)
        self.least = min(max(ROWS, self.schedule.lines.count() + 2), MOST_LINES)
        super().find()

    def initial(self) -> dict[str, Any]:
        assert self.schedule is not None
        return as_typed(self.schedule)

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {**super().context(form), "schedule": self.schedule}


def schedule_or_404(pk: int) -> FinishSchedule:
    found = queries.finish(pk)
    if found is None:
        raise Http404("There is no such finish.")
    return found


class Retire(Deed):
    form_class, section = Nothing, "wood"
    heading, button = "Put this finish away?", "Put it away"

    def find(self, pk: int) -> None:  # type: ignore[override]
        self.schedule = schedule_or_404(pk)
        self.back = reverse("finishes")

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": f"{self.schedule.name} is offered no more. What is under way goes on."}

    def do(self, data: dict[str, Any]) -> str:
        work.retire_schedule(schedule=self.schedule, at=self.now)
        self.say(f"{self.schedule.name} is put away.")
        return self.back


class PutOnForm(StudioForm):
    schedule = forms.ChoiceField(label="Which finish?", widget=forms.RadioSelect)
    workpieces = forms.MultipleChoiceField(
        label="Which workpieces?", widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one."},
    )  # fmt: skip
    at = MomentField(label="From when on?")

    def __init__(self, *args: Any, finishes: list[FinishSchedule], pieces: list[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["schedule"].choices = [(str(row.pk), f"{row.name}: {_short(row)}") for row in finishes]  # type: ignore[attr-defined]
        self.fields["workpieces"].choices = [  # type: ignore[attr-defined]
            (str(row.pk), ", ".join(word for word in (row.number, row.title or row.form) if word)) for row in pieces
        ]


def _short(schedule: FinishSchedule) -> str:
    """`five lines, the first: sand to 240`."""
    lines = list(schedule.lines.all())
    return "; ".join(line_words(line).split(";")[0] for line in lines[:4]) + (" …" if len(lines) > 4 else "")


def words_field() -> forms.CharField:
    return forms.CharField(
        required=False, max_length=300, label="Why does it go on resin all the same?",
        help_text="In your own words. They stay with the piece.", widget=forms.Textarea(attrs={"rows": 3}),
    )  # fmt: skip


class PutOn(Deed):
    """One or several workpieces on a finish. Where one has resin in it and the oil won't cure there, it asks why."""

    section, template_name, form_class = "wood", "finish/put_on.html", PutOnForm
    heading, button = "Put work on a finish", "Put it on"

    def find(self) -> None:  # type: ignore[override]
        self.back = reverse("finishes")
        self.finishes = {str(row.pk): row for row in queries.finishes()}
        asked = [key for key in self.request.GET.getlist("workpiece") if key.isdecimal() and len(key) < 16]
        self.named = [int(key) for key in asked[:MOST_TICKS]]
        sent = [key for key in self.request.POST.getlist("workpieces") if key.isdecimal() and len(key) < 16]
        rows = queries.to_be_finished([*self.named, *(int(key) for key in sent[:MOST_TICKS])], most=MOST_TICKS)
        self.pieces = {str(row.pk): row for row in rows}
        if len(self.named) == 1 and str(self.named[0]) in self.pieces:
            self.back = reverse("workpiece", args=self.named)

    def form_kwargs(self) -> dict[str, Any]:
        return {"finishes": list(self.finishes.values()), "pieces": list(self.pieces.values())}

    def initial(self) -> dict[str, Any]:
        asked = self.request.GET.get("finish", "")
        only = next(iter(self.finishes)) if len(self.finishes) == 1 else ""
        return {"schedule": asked or only, "workpieces": [str(pk) for pk in self.named]}

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"any_finish": bool(self.finishes), "any_piece": bool(self.pieces)}

    def _keep_questions(self, form: StudioForm) -> None:
        super()._keep_questions(form)
        if "resin_words" in self.request.POST:
            form.fields["resin_words"] = words_field()

    def _with_refusal(self, form: StudioForm, stop: Refused) -> StudioForm:
        if stop.code == "resin_words":
            form.fields.setdefault("resin_words", words_field())
        return super()._with_refusal(form, stop)

    def do(self, data: dict[str, Any]) -> str:
        runs = work.put_on_finish(
            schedule=self.finishes[data["schedule"]], workpieces=[self.pieces[pk] for pk in data["workpieces"]],
            at=moment_or_now(data["at"], self.now), by=self.by, resin_words=data.get("resin_words", ""), now=self.now,
        )  # fmt: skip
        numbers = ", ".join(run.workpiece.number for run in runs)
        self.say(f"{numbers} {'is' if len(runs) == 1 else 'are'} on {runs[0].schedule}.")
        return reverse("finish_run", args=[runs[0].pk]) if len(runs) == 1 else reverse("finishes")


urlpatterns = [
    path("finishes/new/", Add.as_view(), name="finish_add"),
    path("finishes/<int:pk>/change/", Change.as_view(), name="finish_change"),
    path("finishes/<int:pk>/put-away/", Retire.as_view(), name="finish_retire"),
    path("finishes/put-on/", PutOn.as_view(), name="finish_put_on"),
]
