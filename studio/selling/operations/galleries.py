"""Galleries: who they are and what was agreed with them."""

from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.db.models import Max

from studio.ledger.accounts import Kind
from studio.ledger.operations import open_account
from studio.ledger.queries import balances
from studio.people import settings as studio_settings
from studio.people.models import User
from studio.people.names import fold
from studio.people.roles import require
from studio.selling import typed
from studio.selling.errors import GalleryClosed, NameTaken, NotLikeThat
from studio.selling.models import NAME_LENGTH, NOTE_LENGTH, Gallery, GalleryTerms, Placement

_FIELDS = {
    "name": (NAME_LENGTH, False),
    "town": (NAME_LENGTH, False),
    "email": (254, False),
    "phone": (50, False),
    "note": (NOTE_LENGTH, True),
}
LOWEST_YEAR, YEARS_AHEAD = 1990, 2


def add_gallery(
    *,
    name: str,
    at: datetime,
    by: User,
    share_ppm: int | None = None,
    days_to_pay: int = 30,
    collects_tax: bool = True,
    town: str = "",
    email: str = "",
    phone: str = "",
    note: str = "",
    from_on: date | None = None,
    terms_note: str = "",
) -> Gallery:
    """Will add a gallery with an account for what it will owe, and its terms where a share is given.

    Without a share the studio's usual one stands in until terms are agreed. Raises Refused beside the field.
    """
    require(by, "sell")
    details = _checked({"name": name, "town": town, "email": email, "phone": phone, "note": note})
    with transaction.atomic():
        gallery = _kept(Gallery(account=open_account(Kind.GALLERY_OWES), added_at=at, **details))
        if share_ppm is not None:
            change_terms(
                gallery=gallery,
                share_ppm=share_ppm,
                days_to_pay=days_to_pay,
                collects_tax=collects_tax,
                from_on=from_on,
                note=terms_note,
                at=at,
                by=by,
            )
    return gallery


def change_gallery(*, gallery: Gallery, by: User, **details: str) -> Gallery:
    """Will change what is given of name, town, email, phone and note; the rest stays."""
    require(by, "sell")
    kept = _checked(details)
    with transaction.atomic():
        row = held_gallery(gallery)
        for field, text in kept.items():
            setattr(row, field, text)
        return _kept(row)


def change_terms(
    *,
    gallery: Gallery,
    share_ppm: int,
    at: datetime,
    by: User,
    days_to_pay: int = 30,
    collects_tax: bool = True,
    from_on: date | None = None,
    note: str = "",
) -> GalleryTerms:
    """Will say what holds with a gallery from a day on (today unless told). Sales already made stay as they are.

    `collects_tax`: the gallery takes the sales tax and hands it on itself, so that none of it passes through
    these books; otherwise it pays the tax to us with our part.
    """
    require(by, "sell")
    typed.share(share_ppm, "share")
    typed.days(days_to_pay, "days_to_pay")
    day = from_on or studio_settings.local_date(at)
    if not LOWEST_YEAR <= day.year <= at.year + YEARS_AHEAD:
        raise NotLikeThat(
            f"{day.isoformat()} can't be meant. Give a day from {LOWEST_YEAR} to {at.year + YEARS_AHEAD}.",
            field="from_on",
        )
    with transaction.atomic():
        row = held_gallery(gallery)
        before = GalleryTerms.objects.filter(gallery=row, from_on=day).aggregate(last=Max("revision"))["last"] or 0
        return GalleryTerms.objects.create(
            gallery=row,
            from_on=day,
            revision=before + 1,
            share_ppm=share_ppm,
            days_to_pay=days_to_pay,
            collects_tax=collects_tax,
            note=typed.words(note, "note", most=NOTE_LENGTH, lines=True),
            set_by=by,
            recorded_at=at,
        )


def close_gallery(*, gallery: Gallery, at: datetime, by: User) -> Gallery:
    """Will put a gallery away. Refused while it holds a piece or money is owed either way."""
    require(by, "sell")
    with transaction.atomic():
        row = held_gallery(gallery)
        held = Placement.objects.open().filter(gallery=row, piece__workpiece__closed_at__isnull=True).count()
        if held:
            some = "a piece is" if held == 1 else f"{held} pieces are"
            raise GalleryClosed(f"{some[0].upper()}{some[1:]} still with {row}. Take back what it holds first.")
        if balances([row.account_id]).get(row.account_id, 0):
            raise GalleryClosed(f"Money is still owed between you and {row}. Settle that first.")
        row.closed_on = studio_settings.local_date(at)
        row.save(update_fields=["closed_on"])
        return row


def reopen_gallery(*, gallery: Gallery, by: User) -> Gallery:
    """Will work with a gallery again."""
    require(by, "sell")
    with transaction.atomic():
        row = held_gallery(gallery)
        row.closed_on = None
        row.save(update_fields=["closed_on"])
        return row


def held_gallery(gallery: Gallery) -> Gallery:
    """The gallery's row, held until the transaction ends: two who are paid at once are paid one after another."""
    return Gallery.objects.select_for_update(of=("self",)).select_related("account").get(pk=gallery.pk)


def _checked(details: dict[str, str]) -> dict[str, str]:
    kept = {}
    for field, text in details.items():
        if field not in _FIELDS:
            raise TypeError(f"A gallery has no {field!r}.")
        most, lines = _FIELDS[field]
        missing = "Write what the gallery is called." if field == "name" else ""
        kept[field] = typed.words(text, field, most=most, lines=lines, missing=missing)
    if kept.get("email") and "@" not in kept["email"][1:-1]:
        raise NotLikeThat(
            "That isn't an e-mail address. Write it like name@place.example, or leave it.", field="email"
        )
    return kept


def _kept(gallery: Gallery) -> Gallery:
    if Gallery.objects.filter(name_search=fold(gallery.name)).exclude(pk=gallery.pk).exists():
        raise NameTaken(f"There is a gallery called {gallery.name} already. Add its town to the name.", field="name")
    try:
        with transaction.atomic():
            gallery.save()
    except IntegrityError as error:
        raise NameTaken(
            f"There is a gallery called {gallery.name} already. Add its town to the name.", field="name"
        ) from error
    return gallery
