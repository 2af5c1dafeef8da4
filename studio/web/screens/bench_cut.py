"""Cut one into many, join many into one."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import path, reverse

from studio.craft.costing import split
from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.ledger import queries as ledger
from studio.people import settings as answers
from studio.people.roles import allowed
from studio.web.forms import StudioForm, Typed
from studio.web.screens.bench_base import AtWorkpiece, Chips
from studio.work import operations as work
from studio.work import queries
from studio.work.models import Stage
from studio.work.numbering import child_numbers
from studio.work.operations.cut import MOST_BLANKS

MOST_MG, MOST_UM = 10**9, 10**7
BY = [("mass", "by weight"), ("size", "by size"), ("judged", "as I judge"), ("equal", "all alike")]
SIZES = ("length", "width", "height")
MOST_PARTS = 30


class CutForm(StudioForm):
    """A row of figures for each blank, and one for what is kept; the cost is shared by what `by` says."""

    by = forms.ChoiceField(choices=BY, label="Share what it cost", widget=Chips)
    keep = forms.BooleanField(required=False, label="The rest stays as it is and keeps its own share")
    at = MomentField()

    def __init__(self, *args: Any, numbers: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.numbers = numbers
        self.keys = [*(str(n) for n in range(1, len(numbers) + 1)), "rest"]
        for key in self.keys:
            self._add_row(key)

    def _add_row(self, key: str) -> None:
        self.fields[f"mass_{key}"] = QuantityField(
            dimension="mass", unit="g", least=1, most=MOST_MG, required=False, label="Weighs, in grams",
            widget=Typed(),
        )  # fmt: skip
        for size in SIZES:
            self.fields[f"{size}_{key}"] = QuantityField(
                dimension="length", least=1, most=MOST_UM, required=False, label=size.capitalize(), widget=Typed()
            )
        self.fields[f"share_{key}"] = QuantityField(
            dimension="whole", least=0, most=10**6, required=False, label="Worth, in parts", widget=Typed()
        )
        if key != "rest":
            self.fields[f"title_{key}"] = forms.CharField(required=False, max_length=200, label="What it may become")

    def rows(self) -> list[dict[str, Any]]:
        """The rows as the page draws them."""
        return [
            {
                "key": key,
                "number": number,
                "mass": self[f"mass_{key}"],
                "sizes": [self[f"{size}_{key}"] for size in SIZES],
                "share": self[f"share_{key}"],
                "title": self[f"title_{key}"] if key != "rest" else None,
            }
            for key, number in zip(self.keys, [*self.numbers, ""], strict=True)
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or self.cleaned_data
        for key in self.keys:
            if (key != "rest" or data.get("keep")) and not self.has_error(f"mass_{key}"):
                data[f"weight_{key}"] = self._weight(data, key)
        return data

    def _weight(self, data: dict[str, Any], key: str) -> int:
        by = data.get("by")
        if by == "equal":
            return 1
        if by == "judged":
            share = data.get(f"share_{key}")
            if share is None and not self.has_error(f"share_{key}"):
                self.add_error(f"share_{key}", "Say how many parts this one is worth, 0 for an offcut.")
            return share or 0
        if by == "size":
            sizes = [data.get(f"{size}_{key}") for size in SIZES]
            missing = next((s for s, um in zip(SIZES, sizes, strict=True) if not um), None)
            if missing:
                if not self.has_error(f"{missing}_{key}"):
                    self.add_error(f"{missing}_{key}", "Measure it too, or share the cost another way.")
                return 0
            return int(sizes[0] or 0) * int(sizes[1] or 0) * int(sizes[2] or 0) // 10**9 or 1
        mass = data.get(f"mass_{key}")
        if not mass:
            self.add_error(f"mass_{key}", "Weigh it too, or share the cost another way.")
        return mass or 0


class Cut(AtWorkpiece):
    form_class = CutForm
    template_name = "bench/cut.html"
    heading, button = "Cut", "Cut it"

    def find(self, pk: int, **_: Any) -> None:
        super().find(pk)
        self.count = self._count()
        self.numbers = child_numbers(self.piece, self.count)

    def _count(self) -> int:
        told = self.request.POST.get("count") or self.request.GET.get("count") or ""
        count = int(told) if told.isascii() and told.isdigit() and len(told) < 4 else 2
        if "more" in self.request.POST:
            count += 1
        return min(max(count, 1), MOST_BLANKS)

    def initial(self) -> dict[str, Any]:
        return {"by": "mass"}

    def form_kwargs(self) -> dict[str, Any]:
        return {"numbers": self.numbers}

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        """`see` and `more` only show: the split as typed, or one more row with everything typed still there."""
        if "more" in request.POST:
            form = self.form_class(initial=request.POST.dict(), **self.form_kwargs())
            return self.show(form)
        if "see" in request.POST:
            form = self.form_class(request.POST, initial=self.initial(), **self.form_kwargs())
            answer = self.show(form)
            answer.status_code = 200  # looking is no mistake
            return answer
        return super().post(request, **kwargs)

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {
            **super().context(form),
            "rows": form.rows(),  # type: ignore[attr-defined]
            "count": self.count,
            "most": self.count >= MOST_BLANKS,
            "preview": self._preview(form),
            "last": next(iter(reversed(queries.weighings(self.piece))), None),
        }

    def _preview(self, form: StudioForm) -> list[dict[str, Any]]:
        """What each one would carry; nothing while a figure is missing. Costs only for those who may see them."""
        if not form.is_bound or not form.is_valid():
            return []
        keep = form.cleaned_data["keep"]
        keys = [key for key in form.keys if key != "rest" or keep]  # type: ignore[attr-defined]
        weights = [form.cleaned_data[f"weight_{key}"] for key in keys]
        if not sum(weights):
            return []
        costs: tuple[int | None, ...] = (None,) * len(keys)
        if allowed(self.by, "see_costs"):
            costs = split(ledger.cost_of(self.piece.account).all_in, weights)
        shares = split(1_000_000, weights)
        numbers = [*self.numbers, self.piece.number]
        return [
            {"number": number, "share_ppm": share, "micro": micro}
            for number, share, micro in zip(numbers, shares, costs, strict=False)
        ]

    def do(self, data: dict[str, Any]) -> str:
        blanks = [self._spec(data, str(n)) for n in range(1, self.count + 1)]
        made = work.cut(
            parent=self.piece,
            blanks=blanks,
            kept_weight=data.get("weight_rest", 0) if data["keep"] else 0,
            kept_mass_mg=data["mass_rest"] if data["keep"] else None,
            at=moment_or_now(data["at"], self.now),
            **self.stamp,
        )
        numbers = ", ".join(blank.number for blank in made)
        rest = f" {self.piece.number} keeps the rest." if data["keep"] else f" {self.piece.number} is cut up."
        self.say(f"Cut: {numbers}.{rest}")
        return self.home

    def _spec(self, data: dict[str, Any], key: str) -> work.BlankSpec:
        return work.BlankSpec(
            weight=data[f"weight_{key}"],
            mass_mg=data[f"mass_{key}"],
            title=data[f"title_{key}"],
            length_um=data[f"length_{key}"],
            width_um=data[f"width_{key}"],
            height_um=data[f"height_{key}"],
        )


class JoinForm(StudioForm):
    parts = forms.MultipleChoiceField(label="Joined with", widget=forms.CheckboxSelectMultiple)
    stage = forms.ChoiceField(
        choices=[(Stage.PIECE.value, "the whole piece"), (Stage.PART.value, "a part of it still")],
        label="It becomes",
        widget=Chips,
    )
    title = forms.CharField(required=False, max_length=200, label="What it is called")
    form = forms.ChoiceField(required=False, label="Form")
    at = MomentField()

    def __init__(self, *args: Any, beside: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["parts"].choices = beside  # type: ignore[attr-defined]
        self.fields["form"].choices = [("", "not said"), *((one, one) for one in answers.value("forms"))]  # type: ignore[attr-defined]


class Join(AtWorkpiece):
    form_class = JoinForm
    template_name = "bench/join.html"
    heading, button = "Join", "Join them"

    def find(self, pk: int, **_: Any) -> None:
        super().find(pk)
        self.text = (self.request.POST.get("q") or self.request.GET.get("q") or "")[:100]
        rows = queries.search(text=self.text, costs=False).exclude(pk=self.piece.pk).exclude(stage=Stage.LUMP)
        self.beside = {str(row.pk): row for row in rows[:MOST_PARTS]}

    def form_kwargs(self) -> dict[str, Any]:
        return {"beside": [(pk, " ".join(filter(None, [row.number, row.title]))) for pk, row in self.beside.items()]}

    def initial(self) -> dict[str, Any]:
        return {"stage": Stage.PIECE.value, "title": self.piece.title, "form": self.piece.form}

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {**super().context(form), "q": self.text, "any": bool(self.beside)}

    def do(self, data: dict[str, Any]) -> str:
        parts = [self.piece, *(self.beside[pk] for pk in data["parts"])]
        whole = work.join(
            parts=parts,
            stage=data["stage"],
            title=data["title"],
            form=data["form"],
            at=moment_or_now(data["at"], self.now),
            **self.stamp,
        )
        self.say(f"{', '.join(part.number for part in parts)} are one now: {whole.number}.")
        return reverse("workpiece", args=[whole.pk])


urlpatterns = [
    path("bench/<int:pk>/cut/", Cut.as_view(), name="workpiece_cut"),
    path("bench/<int:pk>/join/", Join.as_view(), name="workpiece_join"),
]
