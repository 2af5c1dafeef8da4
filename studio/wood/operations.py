"""Every change of what is known about wood: species, and purchases with their later bills.

The cost of wood lies on the lumps, which another room owns; it calls `charged_to` once it has posted.
"""

from datetime import date, datetime
from typing import Any

from django.db import IntegrityError, transaction

from studio.people import settings as studio_settings
from studio.people.models import User
from studio.people.places import is_country
from studio.pictures.models import CAPTION_LENGTH, Picture
from studio.wood.errors import NotLikeThat, PostedAlready, ShippedSpecies
from studio.wood.kinds import Stabilizing, WoodKind
from studio.wood.models import (
    NAME_LENGTH,
    NOTE_LENGTH,
    Bill,
    Certainty,
    DensityBasis,
    How,
    Purchase,
    PurchasePicture,
    Species,
    Waxed,
)
from studio.wood.typed import choice, money, words

DENSITIES = (50, 1_600)
MOST_SHRINKAGE_PPM = 300_000
_SPECIES_WORDS = {
    "common_name": NAME_LENGTH,
    "other_names": 300,
    "botanical_name": NAME_LENGTH,
    "density_source": 300,
    "shrinkage_source": 300,
    "protected_note": NOTE_LENGTH,
    "dust_note": NOTE_LENGTH,
    "practice_note": NOTE_LENGTH,
}
_SPECIES_FIELDS = {
    *_SPECIES_WORDS,
    "density_kgm3",
    "density_basis",
    "shrinkage_ppm",
    "stabilizing",
    "oily",
}
# Notes and habits of shipped species are the studio's to change; figures and names are their source's.
_CHANGED_ON_SHIPPED = {"other_names", "stabilizing", "oily", "protected_note", "dust_note", "practice_note"}
_PURCHASE_WORDS = {"where_it_stood": 200, "document_note": NOTE_LENGTH, "note": NOTE_LENGTH}
_PURCHASE_FIELDS = {
    *_PURCHASE_WORDS,
    "species",
    "species_certainty",
    "kind",
    "country",
    "supplier",
    "bought_on",
    "waxed",
    "sold_dry",
    "that_is_all",
}
_PURCHASE_CHOICES = {
    "species_certainty": ["", *Certainty.values],
    "kind": ["", *WoodKind.values],
    "waxed": Waxed.values,
}


def add_species(*, common_name: str, at: datetime, by: User | None = None, **figures: Any) -> Species:
    """Will add the studio's own species: names, `density_kgm3` with `density_basis` and where it is from,
    `shrinkage_ppm` (volume, green to oven-dry), `stabilizing`, `oily` and the notes.

    Raises NotLikeThat beside the field: a density without its basis, a wood that is there already.
    """
    with transaction.atomic():
        row = Species(own=True)
        _set_species(row, {"common_name": common_name, **figures})
        _save_species(row)
    return row


def change_species(*, species: Species, at: datetime, by: User | None = None, **changes: Any) -> Species:
    """Will change what is named. Of a species that came with the program only notes and habits change: its
    figures belong to the source beside them (raises ShippedSpecies)."""
    with transaction.atomic():
        row = Species.objects.select_for_update().get(pk=species.pk)
        fixed = sorted(set(changes) - _CHANGED_ON_SHIPPED)
        if not row.own and fixed:
            raise ShippedSpecies(
                f"{row.common_name} came with figures from a named source, so they stay. "
                "Add a species of your own with your figures.",
                field=fixed[0],
            )
        _set_species(row, changes)
        _save_species(row)
    return row


def _set_species(row: Species, changes: dict[str, Any]) -> None:
    _refuse_unknown(changes, _SPECIES_FIELDS)
    for field, value in changes.items():
        if field in _SPECIES_WORDS:
            missing = "Write what the wood is called." if field == "common_name" else ""
            value = words(value, field, most=_SPECIES_WORDS[field], missing=missing)
        elif field == "stabilizing":
            choice(value, Stabilizing.values, field)
        elif field == "density_basis":
            choice(value, ["", *DensityBasis.values], field)
        elif field == "density_kgm3" and value is not None:
            if type(value) is not int or not DENSITIES[0] <= value <= DENSITIES[1]:
                raise NotLikeThat("No wood is that light or heavy: give kg/m³ or g/ml.", field=field)
        elif field == "shrinkage_ppm" and value is not None and not 0 < value <= MOST_SHRINKAGE_PPM:
            raise NotLikeThat("Give the shrinkage of its volume in percent, between 0 and 30.", field=field)
        setattr(row, field, value)
    if row.density_kgm3 is not None and not row.density_basis:
        raise NotLikeThat(
            "Say what the density stands on: green, at 12 % or oven-dry. They differ by up to 15 %.",
            field="density_basis",
        )
    if row.density_kgm3 is None and row.density_basis:
        raise NotLikeThat("Give the density too, or leave both open.", field="density_kgm3")


def _save_species(row: Species) -> None:
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError as error:
        raise NotLikeThat(
            f"{row.common_name} is there already. Use that one, or tell them apart by the botanical name.",
            field="common_name",
            code="name_taken",
        ) from error


def record_purchase(
    *,
    at: datetime,
    by: User | None = None,
    paid_micro: int = 0,
    carriage_micro: int = 0,
    how: str = How.BOUGHT,
    market_value_micro: int = 0,
    bought_on: date | None = None,
    **details: Any,
) -> Purchase:
    """Will note wood that came in; only what was paid is asked, the rest may come later.

    What was paid and its carriage are in millionths, whole coins; `market_value_micro` is what bartered,
    given or found wood would have cost. `bought_on` is the studio's day of `at` unless told.
    Raises NotLikeThat.
    """
    today = studio_settings.local_date(at)
    row = Purchase(bought_on=bought_on or today, at=at, by=by)
    with transaction.atomic():
        _set_money(row, how, paid_micro, carriage_micro, market_value_micro)
        _describe(row, details, today)
        row.save()
    return row


def describe_purchase(*, purchase: Purchase, at: datetime, by: User | None = None, **details: Any) -> Purchase:
    """Will fill in or put right what is named: species, species_certainty, kind, where_it_stood, country,
    supplier, bought_on, waxed, sold_dry, document_note, note; `that_is_all=True` says that no more will be known."""
    with transaction.atomic():
        row = Purchase.objects.select_for_update().get(pk=purchase.pk)
        _describe(row, details, studio_settings.local_date(at))
        row.save()
    return row


def correct_payment(
    *,
    purchase: Purchase,
    at: datetime,
    by: User | None = None,
    how: str,
    paid_micro: int,
    carriage_micro: int = 0,
    market_value_micro: int = 0,
) -> Purchase:
    """Will put right what was paid while it isn't on any lump yet. Raises PostedAlready afterwards."""
    with transaction.atomic():
        row = Purchase.objects.select_for_update().get(pk=purchase.pk)
        if row.entry_id:
            raise PostedAlready(
                "What was paid lies on the lumps already. Enter the difference as a later bill, or a refund "
                "as one below nothing.",
                field="paid",
                code="adjust",
            )
        _set_money(row, how, paid_micro, carriage_micro, market_value_micro)
        row.save()
    return row


def _set_money(row: Purchase, how: str, paid: int, carriage: int, market: int) -> None:
    choice(how, How.values, "how")
    row.how = how
    row.paid_micro = money(paid, "paid")
    row.carriage_micro = money(carriage, "carriage")
    row.market_value_micro = money(market, "market_value", coins=False)
    if how in (How.GIFT, How.FOUND) and paid:
        raise NotLikeThat(
            "Wood that was given or found cost nothing. Say it was bought, or enter its carriage on its own.",
            field="paid",
        )
    if how == How.BOUGHT and market:
        raise NotLikeThat(
            "Bought wood counts at what was paid. A market value is for wood bartered, given or found.",
            field="market_value",
        )


def _describe(row: Purchase, details: dict[str, Any], today: date) -> None:
    _refuse_unknown(details, _PURCHASE_FIELDS)
    for field, value in details.items():
        if field in _PURCHASE_WORDS:
            value = words(value, field, most=_PURCHASE_WORDS[field])
        elif field in _PURCHASE_CHOICES:
            choice(value, _PURCHASE_CHOICES[field], field)
        elif field == "country":
            value = value.strip().upper()
            if value and not is_country(value):
                raise NotLikeThat("Choose a country from the list.", field="country")
        setattr(row, field, value)
    if row.bought_on is None or row.bought_on > today:
        raise NotLikeThat("That day is still to come. Give the day it came in.", field="bought_on")


def record_bill(
    *,
    purchase: Purchase,
    amount_micro: int,
    what: str,
    at: datetime,
    by: User | None = None,
    on: date | None = None,
) -> Bill:
    """Will note a bill that came after the wood (or, below nothing, a refund), in whole coins.

    The room that owns the lumps shares it between them and calls `charged_to`. Raises NotLikeThat for
    nothing, for a day before the purchase or still to come.
    """
    if not money(amount_micro, "amount", refund=True):
        raise NotLikeThat("A bill of nothing needs no entry.", field="amount")
    today = studio_settings.local_date(at)
    day = on or today
    if day < purchase.bought_on:
        raise NotLikeThat(
            f"The wood came in on {purchase.bought_on:%d %B %Y}. Give that day or a later one.", field="on"
        )
    if day > today:
        raise NotLikeThat("That day is still to come. Give the day of the bill.", field="on")
    return Bill.objects.create(
        purchase=purchase,
        amount_micro=amount_micro,
        what=words(what, "what", most=200, missing="Write what the bill is for."),
        on=day,
        at=at,
        by=by,
    )


def charged_to(*, row: Purchase | Bill, entry_id: int) -> None:
    """Will note the entry that brought a purchase or bill onto its lumps. PostedAlready the second time."""
    changed = type(row).objects.filter(pk=row.pk, entry=None).update(entry_id=entry_id)
    if not changed:
        raise PostedAlready("This lies on the lumps already.", code="posted")
    row.entry_id = entry_id


def add_picture(
    *, purchase: Purchase, picture: Picture, at: datetime, by: User, caption: str = ""
) -> PurchasePicture:
    """Will put a photograph with a purchase, behind those that are there; the same one twice stays one."""
    caption = words(caption, "caption", most=CAPTION_LENGTH)
    with transaction.atomic():
        Purchase.objects.select_for_update().get(pk=purchase.pk)
        position = PurchasePicture.objects.filter(purchase=purchase).count()
        return PurchasePicture.objects.get_or_create(
            purchase=purchase,
            picture=picture,
            defaults={"position": position, "caption": caption, "at": at, "by": by},
        )[0]


def remove_picture(*, link: PurchasePicture, at: datetime, by: User | None = None) -> None:
    """Will take a photograph off a purchase; the file goes when nothing points at it any more."""
    link.delete()


def _refuse_unknown(changes: dict[str, Any], allowed: set[str]) -> None:
    strange = set(changes) - allowed
    if strange:
        raise TypeError(f"Nothing here is called {', '.join(sorted(strange))}.")
