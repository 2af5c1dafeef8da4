"""Galleries: agreeing with them, leaving work with them, taking it back, and being paid."""

from typing import Any

from django import forms
from django.http import Http404
from django.urls import path, reverse
from django.utils import timezone

from studio.fields.forms import MomentField, QuantityField, moment_or_now
from studio.fields.quantity import show
from studio.people import settings as answers
from studio.pieces import queries as pieces
from studio.pieces.curing import not_cured
from studio.pieces.models import Piece
from studio.selling import operations
from studio.selling.errors import MoreThanOwed
from studio.selling.models import Gallery, Payment, Placement
from studio.selling.terms import terms_on
from studio.web.deeds import Deed
from studio.web.forms import DayField, StudioForm, Typed
from studio.web.screens.galleries import gallery_or_404
from studio.web.screens.pieces import is_away
from studio.web.screens.pieces_base import Nothing, named
from studio.web.screens.stores_change import ChangeDeed
from studio.web.templatetags.studio import asked


class ContactForm(StudioForm):
    name = forms.CharField(max_length=200, label="What is the gallery called?")
    town = forms.CharField(max_length=200, required=False, label="Where is it?")
    email = forms.CharField(max_length=254, required=False, label="E-mail", widget=forms.EmailInput)
    phone = forms.CharField(
        max_length=50, required=False, label="Telephone", widget=forms.TextInput(attrs={"type": "tel"})
    )
    note = forms.CharField(
        max_length=1000, required=False, label="A note", widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Who looks after your pieces there, when it is open.",
    )  # fmt: skip


class TermsForm(StudioForm):
    share = QuantityField(
        dimension="share", label="What share does it keep?", widget=Typed(), help_text="In percent."
    )
    days_to_pay = forms.IntegerField(
        min_value=0, max_value=366, label="Within how many days does it pay?", initial=30,
        widget=forms.NumberInput(attrs={"class": "typed", "inputmode": "numeric"}),
    )  # fmt: skip
    collects_tax = forms.BooleanField(
        required=False, initial=True, label="It takes the sales tax and hands it on itself",
        help_text="Untick where it pays the tax to you with your part.",
    )  # fmt: skip
    from_on = DayField(label="From which day on?", required=False, help_text="Left empty, from today.")
    terms_note = forms.CharField(max_length=1000, required=False, label="What else was agreed?")


class GalleryForm(ContactForm, TermsForm):
    fieldsets = (
        ("", ("name", "town")),
        ("What was agreed", ("share", "days_to_pay", "collects_tax", "from_on", "terms_note")),
        ("If you like", ("email", "phone", "note")),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["share"].required = False
        self.fields["share"].help_text = "In percent. Left empty, your usual one stands in until you agree on one."


class GalleryAdd(Deed):
    right, section, heading, button, form_class = "sell", "galleries", "A new gallery", "Keep it", GalleryForm

    def find(self) -> None:
        self.back = reverse("galleries")

    def initial(self) -> dict[str, Any]:
        return {"share": answers.known("gallery_share_ppm", answers.local_date(self.now))}

    def do(self, data: dict[str, Any]) -> str:
        share = data.pop("share")
        gallery = operations.add_gallery(share_ppm=share, at=self.now, by=self.by, **data)
        self.say(f"{gallery} is on the list. Leave the first pieces there.")
        return reverse("gallery", args=[gallery.pk])


class AtGallery(Deed):
    right, section = "sell", "galleries"
    gallery: Gallery

    def find(self, pk: int) -> None:
        self.gallery = gallery_or_404(pk)
        self.back = self.home

    @property
    def home(self) -> str:
        return reverse("gallery", args=[self.gallery.pk])

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": self.gallery.name, "gallery": self.gallery}


class GalleryChange(ChangeDeed, AtGallery):
    heading, button, form_class = "Its name and address", "Keep it so", ContactForm

    def initial(self) -> dict[str, Any]:
        return {name: getattr(self.gallery, name) for name in ContactForm.base_fields}

    def do(self, data: dict[str, Any]) -> str:
        row = operations.change_gallery(
            gallery=self.gallery, by=self.by, **{name: data[name] for name in ContactForm.base_fields}
        )
        self.say(f"{row} is kept as you wrote.")
        return self.home


class GalleryTermsDeed(AtGallery):
    heading, button, form_class = "What is agreed", "That is agreed", TermsForm

    def initial(self) -> dict[str, Any]:
        newest = self.gallery.terms.order_by("-from_on", "-revision").first()
        if newest is None:
            return {"share": answers.known("gallery_share_ppm", answers.local_date(self.now))}
        return {
            "share": newest.share_ppm,
            "days_to_pay": newest.days_to_pay,
            "collects_tax": newest.collects_tax,
        }

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": f"{self.gallery.name}. What was sold before stays as it was reckoned."}

    def do(self, data: dict[str, Any]) -> str:
        row = operations.change_terms(
            gallery=self.gallery,
            share_ppm=data["share"],
            days_to_pay=data["days_to_pay"],
            collects_tax=data["collects_tax"],
            from_on=data["from_on"],
            note=data["terms_note"],
            at=self.now,
            by=self.by,
        )
        self.say(f"{self.gallery} keeps {show(row.share_ppm, 'share')} from {row.from_on.isoformat()} on.")
        return self.home


class GalleryClose(AtGallery):
    form_class = Nothing

    def find(self, pk: int) -> None:
        super().find(pk)
        closed = self.gallery.closed_on is not None
        self.heading = "Work with it again?" if closed else "Put this gallery away?"
        self.button = "Open it again" if closed else "Put it away"

    def do(self, data: dict[str, Any]) -> str:
        if self.gallery.closed_on is None:
            operations.close_gallery(gallery=self.gallery, at=self.now, by=self.by)
            self.say(f"{self.gallery} is put away. What was sold there stays in the books.")
        else:
            operations.reopen_gallery(gallery=self.gallery, by=self.by)
            self.say(f"{self.gallery} is on the list again.")
        return self.home


class LeaveForm(StudioForm):
    pieces = forms.ModelMultipleChoiceField(
        queryset=Piece.objects.none(), label="Which pieces go along?", widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick the pieces that go along."},
    )  # fmt: skip
    at = MomentField(label="When do you leave them there?")

    def __init__(self, *args: Any, pieces: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["pieces"]
        field.queryset = pieces
        cures = not_cured((row.workpiece for row in pieces), timezone.now())
        field.label_from_instance = lambda row: _piece_line(row, cures.get(row.workpiece_id, ""))


def _piece_line(piece: Piece, cures: str = "") -> str:
    asking = getattr(piece, "asking_micro", None)
    words = [named(piece), asked(asking) if asking is not None else "", f"{cures[:1].lower()}{cures[1:]}"]
    return ", ".join(word for word in words if word)


class Leave(AtGallery):
    """Tick what goes along: everything finished and priced that stands on the shelf and is kept for nobody."""

    form_class, heading, button = LeaveForm, "Leave work with it", "They are left there"
    template_name = "galleries/leave.html"

    def find(self, pk: int) -> None:
        super().find(pk)
        self.shelf = (
            pieces.ready_shelf(sort="signed")
            .filter(~is_away(), workpiece__hold_ref="", workpiece__client_owned=False)
            .filter(asking_micro__isnull=False)  # type: ignore[misc]
            .prefetch_related(None)
        )

    def form_kwargs(self) -> dict[str, Any]:
        return {"pieces": self.shelf}

    def initial(self) -> dict[str, Any]:
        return {"pieces": [key for key in self.request.GET.getlist("piece") if key.isdecimal() and len(key) < 16]}

    def context(self, form: StudioForm) -> dict[str, Any]:
        terms = terms_on(self.gallery, answers.local_date(self.now)) if self.gallery.terms.exists() else None
        return {**super().context(form), "terms": terms, "any": self.shelf.exists()}

    def do(self, data: dict[str, Any]) -> str:
        rows = operations.leave_with(
            pieces=list(data["pieces"]),
            gallery=self.gallery,
            at=moment_or_now(data["at"], self.now),
            by=self.by,
            sure=bool(data.get("sure")),
            now=self.now,
        )
        many = "One piece is" if len(rows) == 1 else f"{len(rows)} pieces are"
        self.say(f"{many} with {self.gallery} now.")
        return self.home


class BackForm(StudioForm):
    why = forms.CharField(max_length=200, label="Why does it come back?")
    at = MomentField()


class PlacementBack(Deed):
    right, section, form_class = "sell", "galleries", BackForm
    heading, button = "Take it back", "It is back"

    def find(self, pk: int) -> None:
        found = Placement.objects.select_related("gallery", "piece__workpiece").filter(pk=pk).first()
        if found is None:
            raise Http404("No piece was left like that.")
        self.placement = found
        self.back = reverse("gallery", args=[found.gallery_id])

    def context(self, form: StudioForm) -> dict[str, Any]:
        return {"sub": f"{named(self.placement.piece)}, from {self.placement.gallery}"}

    def do(self, data: dict[str, Any]) -> str:
        operations.take_back(
            placement=self.placement,
            why=data["why"],
            at=moment_or_now(data["at"], self.now),
            by=self.by,
            now=self.now,
        )
        self.say(f"{self.placement.piece} is on the shelf again.")
        return self.back


class MoneyForm(StudioForm):
    amount = QuantityField(dimension="money", label="How much?", widget=Typed())
    at = MomentField(label="When was it paid?")
    note = forms.CharField(max_length=1000, required=False, label="A note")


class Paying(Deed):
    """Money from or to somebody; more than is owed is asked about once."""

    right, form_class = "sell", MoneyForm
    who: dict[str, Any]

    def paid(self, data: dict[str, Any]) -> Payment:
        try:
            return operations.record_payment(
                amount_micro=data["amount"],
                at=moment_or_now(data["at"], self.now),
                note=data["note"],
                confirm=bool(data.get("sure")),
                **self.who,
                **self.stamp,
            )
        except MoreThanOwed as stop:
            stop.code = "sure"
            raise

    def given_back(self, data: dict[str, Any]) -> Payment:
        return operations.give_back(
            amount_micro=data["amount"],
            at=moment_or_now(data["at"], self.now),
            note=data["note"],
            **self.who,
            **self.stamp,
        )


class GalleryPayment(Paying, AtGallery):
    heading, button = "It paid", "The money is in"

    def find(self, pk: int) -> None:
        super().find(pk)
        self.who = {"gallery": self.gallery}

    def do(self, data: dict[str, Any]) -> str:
        payment = self.paid(data)
        undo = reverse("payment_undo", args=[payment.pk])
        self.say(f"{self.gallery} paid {show(data['amount'], 'money', with_unit=True)}.", undo=undo)
        return self.home


class GalleryGiveBack(Paying, AtGallery):
    heading, button = "Pay back what stands to its credit", "It is paid back"

    def find(self, pk: int) -> None:
        super().find(pk)
        self.who = {"gallery": self.gallery}

    def do(self, data: dict[str, Any]) -> str:
        self.given_back(data)
        self.say(f"{show(data['amount'], 'money', with_unit=True)} went back to {self.gallery}.")
        return self.home


class PaymentUndo(Deed):
    right, section, form_class = "sell", "galleries", Nothing
    heading, button = "Was this payment entered by mistake?", "Take it back"

    def find(self, pk: int) -> None:
        found = Payment.objects.select_related("gallery", "client").filter(pk=pk).first()
        if found is None:
            raise Http404("There is no such payment.")
        self.payment = found
        screen, key = ("gallery", found.gallery_id) if found.gallery_id else ("client", found.client_id)
        self.back = reverse(screen, args=[key])

    def context(self, form: StudioForm) -> dict[str, Any]:
        who = self.payment.gallery or self.payment.client
        return {"sub": f"{show(self.payment.amount_micro, 'money', with_unit=True)}, {who}. Both entries stay."}

    def do(self, data: dict[str, Any]) -> str:
        operations.take_back_payment(payment=self.payment, at=self.now, **self.stamp)
        self.say("The payment is taken back.")
        return self.back


urlpatterns = [
    path("galleries/new/", GalleryAdd.as_view(), name="gallery_add"),
    path("galleries/<int:pk>/change/", GalleryChange.as_view(), name="gallery_change"),
    path("galleries/<int:pk>/terms/", GalleryTermsDeed.as_view(), name="gallery_terms"),
    path("galleries/<int:pk>/close/", GalleryClose.as_view(), name="gallery_close"),
    path("galleries/<int:pk>/leave/", Leave.as_view(), name="gallery_leave"),
    path("galleries/<int:pk>/payment/", GalleryPayment.as_view(), name="gallery_payment"),
    path("galleries/<int:pk>/give-back/", GalleryGiveBack.as_view(), name="gallery_give_back"),
    path("galleries/piece/<int:pk>/back/", PlacementBack.as_view(), name="placement_back"),
    path("galleries/payment/<int:pk>/take-back/", PaymentUndo.as_view(), name="payment_undo"),
]
