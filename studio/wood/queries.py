"""Reading what is known about wood."""

from datetime import datetime, time

from django.db.models import Prefetch

from studio.craft.waits import Wait
from studio.people import settings as studio_settings
from studio.wood.models import Bill, Purchase, PurchasePicture, Species


def species_list(search: str = "") -> list[Species]:
    """Species whose names contain each word of `search`, by name. One query."""
    return list(Species.objects.matching(search))


def species(pk: int) -> Species | None:
    return Species.objects.filter(pk=pk).first()


def purchase(pk: int, *, costs: bool = True) -> Purchase | None:
    """One purchase with species, supplier, bills and photographs, or None. Three queries; no money without
    `costs`."""
    bills = Bill.objects.select_related("by")
    rows = (
        Purchase.objects.select_related("species", "supplier", "by")
        .prefetch_related(
            Prefetch("bills", bills if costs else bills.defer("amount_micro")),
            Prefetch("pictures", PurchasePicture.objects.select_related("picture")),
        )
        .filter(pk=pk)
    )
    return (rows if costs else rows.defer("paid_micro", "carriage_micro", "market_value_micro")).first()


def purchases(*, costs: bool = True) -> list[Purchase]:
    """Every purchase, newest first, with species and supplier. One query; no money without `costs`."""
    rows = Purchase.objects.select_related("species", "supplier")
    return list(rows if costs else rows.defer("paid_micro", "carriage_micro", "market_value_micro"))


def purchases_with_rest_waiting() -> list[Purchase]:
    """Purchases of which something is still to be filled in, oldest first. One query, no money."""
    return list(
        Purchase.objects.with_rest_waiting()
        .select_related("species", "supplier")
        .defer("paid_micro", "carriage_micro", "market_value_micro")
        .order_by("bought_on", "pk")
    )


def uncharged() -> tuple[list[Purchase], list[Bill]]:
    """Purchases and bills that no entry has brought onto lumps yet. Two queries."""
    return (
        list(Purchase.objects.filter(entry=None).exclude(paid_micro=0, carriage_micro=0, market_value_micro=0)),
        list(Bill.objects.filter(entry=None).select_related("purchase")),
    )


def waits(now: datetime) -> list[Wait]:
    """Purchases whose rest is still to be filled in, for the desk. Two queries."""
    zone = studio_settings.zone()
    return [
        Wait(
            "desk",
            "fill in",
            str(row.species or "wood") + f" of {row.bought_on:%d %B %Y}",
            "since",
            datetime.combine(row.bought_on, time.min, tzinfo=zone),
            "still open: " + ", ".join(row.still_to_fill_in),
            about=("wood.purchase", row.pk),
        )
        for row in purchases_with_rest_waiting()
    ]
