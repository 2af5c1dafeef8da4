"""What is said of a piece, what is asked for it, and the ways out that are no sale."""

from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path, reverse

from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.people import settings as answers
from studio.people.questions import REGISTRY
from studio.pieces import operations, queries
from studio.pieces.asking import Way, way
from studio.pieces.models import Grade, PiecePicture, WayOut
from studio.pricing import queries as pricing
from studio.pricing.offers import Offer
from studio.web.deeds import Deed, Reading
from studio.web.forms import StudioForm, Typed
from studio.web.screens.pieces_base import AtPiece, Nothing, Suggest, form_choices, piece_or_404, whose_hand
from studio.web.screens.pieces_page import like_words, rule_of
from studio.web.screens.stores_change import ChangeDeed
from studio.work import queries as work


class DescribeForm(StudioForm):
    title = forms.CharField(max_length=200, required=False, label="What do you call it?")
    form = forms.ChoiceField(required=False, label="What form is it?")
    finish_words = forms.CharField(max_length=200, required=False, label="How is it finished?")
    care_words = forms.CharField(
        max_length=2000, required=False, label="How should it be looked after?",
        help_text="A sentence to a line, printed on the card.", widget=forms.Textarea(attrs={"rows": 4}),
    )  # fmt: skip
    caution_words = forms.CharField(
        max_length=2000, required=False, label="What must a buyer know?",
        help_text="A sentence to a line. Take “Not for food or flame.” out only where it holds no longer.",
        widget=forms.Textarea(attrs={"rows": 4}),
    )  # fmt: skip
    story = forms.CharField(
        max_length=4000, required=False, label="Its story",
        help_text="For its public page: where the tree stood, what happened on the way.",
        widget=forms.Textarea(attrs={"rows": 8}),
    )  # fmt: skip
    fieldsets = (
        ("", ("title", "form", "finish_words")),
        ("On the card", ("care_words", "caution_words")),
        ("For those who read on", ("story",)),
    )

    def __init__(self, *args: Any, form_now: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["form"].choices = form_choices(form_now)  # type: ignore[attr-defined]
        self.fields["finish_words"].widget = Suggest(answers.value("finishes"), {"maxlength": 200})


class Describe(ChangeDeed, AtPiece):
    form_class, heading, button = DescribeForm, "Title, form, finish, care", "Keep it so"

    def form_kwargs(self) -> dict[str, Any]:
        return {"form_now": self.piece.form}

    def initial(self) -> dict[str, Any]:
        names = ("title", "form", "finish_words", "care_words", "caution_words", "story")
        return {name: getattr(self.piece, name) for name in names}

    def do(self, data: dict[str, Any]) -> str:
        words = {name: data[name] for name in DescribeForm.base_fields}
        operations.describe_piece(piece=self.piece, **words)
        self.say(f"{self.piece} is described as you wrote.")
        return self.home


class PartsForm(StudioForm):
    parts = forms.CharField(
        max_length=2500, required=False, label="Its parts, one to a line", widget=forms.Textarea(attrs={"rows": 6}),
        help_text="What one can take in the hand: lid, finial, stand. A number at the end of a line, like "
        "“lid 41/2”, says which workpiece it was.",
    )  # fmt: skip


class Parts(AtPiece):
    form_class, heading, button = PartsForm, "Its parts", "Keep them"

    def initial(self) -> dict[str, Any]:
        rows = self.piece.parts.select_related("workpiece")
        lines = [f"{row.words} {row.workpiece.number}" if row.workpiece else row.words for row in rows]
        return {"parts": "\n".join(lines)}

    def do(self, data: dict[str, Any]) -> str:
        joined = {one.parent.number: one.parent for one in work.page(self.piece.workpiece_id).parents}  # type: ignore[union-attr]
        specs = []
        for line in filter(None, (line.strip() for line in data["parts"].splitlines())):
            words, _, last = line.rpartition(" ")
            whole = words and last in joined
            specs.append(operations.PartSpec(words.strip() if whole else line, joined[last] if whole else None))
        rows = operations.set_parts(piece=self.piece, parts=specs)
        self.say(f"Its parts: {', '.join(row.words for row in rows)}." if rows else "It is of one part.")
        return self.home


class GradeForm(StudioForm):
    reason = forms.CharField(
        max_length=200, label="What is wrong with it?", help_text="As you would tell a buyer: it stands on the card."
    )


class MakeGrade(AtPiece):
    """A second, or no second any more: what the piece is not now."""

    heading, button = "It is a second", "Sell it as a second"

    def find(self, pk: int, **_: Any) -> None:
        super().find(pk)
        self.second = self.piece.grade == Grade.SECOND
        self.form_class = Nothing if self.second else GradeForm
        if self.second:
            self.heading, self.button = "It is no second", "It is as good as any"

    def do(self, data: dict[str, Any]) -> str:
        if self.second:
            operations.make_first(piece=self.piece)
            self.say(f"{self.piece} is no second any more.")
        else:
            operations.make_second(piece=self.piece, reason=data["reason"])
            self.say(f"{self.piece} is a second: {data['reason']}")
        return self.home


class PriceForm(StudioForm):
    amount = QuantityField(dimension="money", label="What do you ask?", widget=Typed(attrs={"autofocus": True}))
    reason = forms.CharField(max_length=200, required=False, label="Why this price?")
    at = MomentField(label="From when on?")

    def __init__(self, *args: Any, says: Way, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].help_text = says.words


class Price(AtPiece):
    """The price on the rule beside it; below the lowest ask it wants a word why."""

    right, template_name = "price", "pieces/price.html"
    form_class, heading, button = PriceForm, "What to ask", "Ask it"

    def find(self, pk: int, **_: Any) -> None:
        super().find(pk)
        self.found = queries.page(pk)
        self.says = way(answers.local_date(self.now))

    def form_kwargs(self) -> dict[str, Any]:
        return {"says": self.says}

    def offer(self, *, must_know: bool = False) -> Offer:
        on = answers.local_date(self.now)
        return pricing.offer(self.piece, on=on, now=self.now, person=whose_hand(self.by), must_know=must_know)

    def initial(self) -> dict[str, Any]:
        asking = self.found.asking_micro if self.found else None
        return {"amount": self.says.shown(asking)} if asking else {}

    def context(self, form: StudioForm) -> dict[str, Any]:
        shown = super().context(form)
        if self.piece.workpiece.closed_at is None:
            offer = self.offer()
            shown |= {
                "offer": offer,
                "says": self.says,
                "rule": rule_of(offer, self.says),
                "like": offer.like,
                "like_words": like_words(offer.like),
                "missing": [(key, REGISTRY[key].asks) for key in offer.missing],
            }
        return shown

    def do(self, data: dict[str, Any]) -> str:
        offer, at = self.offer(must_know=True), moment_or_now(data["at"], self.now)
        amount = way(answers.local_date(at), must_know=True).before(data["amount"])
        price = operations.set_asking_price(
            piece=self.piece,
            amount_micro=amount,
            reason=data["reason"],
            lowest_micro=offer.lowest_ask_micro,
            at=at,
            by=self.by,
            now=self.now,
        )
        earns = offer.earns(amount)
        hour = f" An hour of yours earns {show(earns, 'money')} at that." if earns is not None else ""
        self.say(f"{show(data['amount'], 'money', with_unit=True)} is asked for {self.piece}.{hour}")
        if price.below_lowest:
            self.warn(
                "That is below the lowest ask: the piece brings less than it cost. Your reason stands beside it."
            )
        return self.home


class WithdrawForm(StudioForm):
    reason = forms.CharField(max_length=200, required=False, label="Why?")


class Withdraw(AtPiece):
    right, form_class = "price", WithdrawForm
    heading, button = "Take it off sale", "Ask nothing for it"

    def do(self, data: dict[str, Any]) -> str:
        operations.withdraw_price(piece=self.piece, at=self.now, reason=data["reason"], by=self.by, now=self.now)
        self.say(f"{self.piece} is off sale.")
        return self.home


class LetGoForm(StudioForm):
    how = forms.ChoiceField(choices=WayOut.choices, label="How does it leave?", widget=forms.RadioSelect)
    words = forms.CharField(max_length=200, required=False, label="To whom, for what")
    at = MomentField()


class LetGo(AtPiece):
    form_class, heading, button = LetGoForm, "Give it away or keep it", "Let it go"

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {**super().context(form), "sub": "It leaves without a sale, and what it cost leaves with it."}

    def do(self, data: dict[str, Any]) -> str:
        piece = operations.let_go(
            piece=self.piece,
            how=data["how"],
            words=data["words"],
            at=moment_or_now(data["at"], self.now),
            **self.stamp,
        )
        self.say(f"{self.piece} was {piece.get_way_out_display()}.", undo=reverse("piece_come_back", args=[piece.pk]))
        return self.home


class ComeBack(AtPiece):
    form_class, heading, button = Nothing, "It came back", "It is on the shelf again"

    def do(self, data: dict[str, Any]) -> str:
        operations.come_back(piece=self.piece, at=self.now, **self.stamp)
        self.say(f"{self.piece} is on the shelf again, at what it had cost.")
        return self.home


class Pictures(Reading):
    """Its photographs: which one is on the card, and which can go."""

    right = "bench"

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        found = queries.page(piece_or_404(pk).pk)
        context = {"section": "pieces", "piece": found.piece, "pictures": found.pictures}  # type: ignore[union-attr]
        return render(request, "pieces/pictures.html", context)


class AtPicture(Deed):
    section, form_class = "pieces", Nothing

    def find(self, pk: int) -> None:
        found = PiecePicture.objects.select_related("piece__workpiece", "picture").filter(pk=pk).first()
        if found is None:
            raise Http404("There is no such picture.")
        self.link = found
        self.back = reverse("piece_pictures", args=[found.piece_id])


class OnCard(AtPicture):
    heading, button = "Put this picture on the card?", "Put it there"

    def do(self, data: dict[str, Any]) -> str:
        operations.choose_card_picture(link=self.link)
        self.say("That picture stands on the card now.")
        return self.back


class TakeOff(AtPicture):
    heading, button = "Take this picture off?", "Take it off"

    def do(self, data: dict[str, Any]) -> str:
        operations.take_off_picture(link=self.link)
        self.say("The picture is off.")
        return self.back


class NewAddress(AtPiece):
    """For a card that got into the wrong hands: every code printed before leads nowhere."""

    right, form_class = "print", Nothing
    heading, button = "Give its public page a new address?", "Give it a new address"

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {**super().context(form), "sub": "Every card and tag printed so far will lead nowhere."}

    def do(self, data: dict[str, Any]) -> str:
        operations.renew_token(piece=self.piece)
        self.say(f"{self.piece} has a new public address. Print its card and tag anew.")
        return reverse("piece_papers", args=[self.piece.pk])


urlpatterns = [
    path("pieces/<int:pk>/describe/", Describe.as_view(), name="piece_describe"),
    path("pieces/<int:pk>/parts/", Parts.as_view(), name="piece_parts"),
    path("pieces/<int:pk>/grade/", MakeGrade.as_view(), name="piece_grade"),
    path("pieces/<int:pk>/price/", Price.as_view(), name="piece_price"),
    path("pieces/<int:pk>/off-sale/", Withdraw.as_view(), name="piece_withdraw"),
    path("pieces/<int:pk>/let-go/", LetGo.as_view(), name="piece_let_go"),
    path("pieces/<int:pk>/came-back/", ComeBack.as_view(), name="piece_come_back"),
    path("pieces/<int:pk>/pictures/", Pictures.as_view(), name="piece_pictures"),
    path("pieces/<int:pk>/new-address/", NewAddress.as_view(), name="piece_new_address"),
    path("pieces/picture/<int:pk>/on-card/", OnCard.as_view(), name="piece_picture_card"),
    path("pieces/picture/<int:pk>/take-off/", TakeOff.as_view(), name="piece_picture_off"),
]
