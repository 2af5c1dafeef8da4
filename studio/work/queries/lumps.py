"""The wood that came in, and what became of it."""

from typing import Any

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from studio.wood.kinds import WoodKind
from studio.wood.models import Purchase
from studio.work.models import ClosedAs, Descent, Stage, Weighing, Workpiece


def last_mass() -> Subquery:
    """The last weight that stands, in milligrams, of the workpiece outside."""
    rows = Weighing.objects.filter(workpiece=OuterRef("pk"), struck_out=False).order_by("-at", "-pk")
    return Subquery(rows.values("mass_mg")[:1])


def lumps(
    *,
    text: str = "",
    species_id: int | None = None,
    kind: str = "",
    stands: str = "",
    rest_waits: bool = False,
    costs: bool = True,
) -> QuerySet[Any]:
    """Lumps in shop order with `mass_mg`, `cut_off` and `left` (how many came of it, how many still lie here).

    `stands` is whole (nothing cut off), begun (some cut off, some kept) or gone. With `costs` also
    `lies_micro`, what lies in the lump and all that came of it; without, no cost is read at all. One query
    when read.
    """
    links = Descent.objects.filter(parent=OuterRef("pk"), how=Descent.How.CUT)
    came = links.order_by().values("parent").annotate(n=Count("pk")).values("n")
    own = Workpiece.objects.filter(closed_at=None).exclude(stage=Stage.LUMP)
    by_purchase = own.filter(purchase=OuterRef("purchase")).order_by().values("purchase")
    by_links = links.filter(child__closed_at=None).order_by().values("parent")
    rows: QuerySet[Any] = (
        Workpiece.objects.filter(stage=Stage.LUMP)
        .select_related("account", "species", "purchase", "owner")
        .defer("purchase__paid_micro", "purchase__carriage_micro", "purchase__market_value_micro")
        .annotate(
            mass_mg=last_mass(),
            cut_off=Coalesce(Subquery(came), 0),
            left=Coalesce(
                Subquery(by_purchase.annotate(n=Count("pk")).values("n")),
                Subquery(by_links.annotate(n=Count("pk")).values("n")),
                0,
            ),
            rest_waits=Exists(Purchase.objects.with_rest_waiting().filter(pk=OuterRef("purchase"))),
        )
        .in_shop_order()
    )
    rows = _with_costs(rows) if costs else rows.defer("account__value_micro")
    return _only(rows, text, species_id, kind, stands, rest_waits)


def _with_costs(rows: QuerySet[Any]) -> QuerySet[Any]:
    family = Workpiece.objects.filter(purchase=OuterRef("purchase")).order_by().values("purchase")
    return rows.annotate(
        lies_micro=Coalesce(
            Subquery(family.annotate(n=Sum("account__value_micro")).values("n")), F("account__value_micro")
        )
    )


def _only(
    rows: QuerySet[Any], text: str, species_id: int | None, kind: str, stands: str, rest_waits: bool
) -> QuerySet[Any]:
    for word in text.casefold().split()[:6]:
        rows = rows.filter(search_text__contains=word)
    if species_id:
        rows = rows.filter(species=species_id)
    if kind in WoodKind.values:
        rows = rows.filter(wood_kind=kind)
    if stands == "whole":
        rows = rows.filter(closed_at=None, cut_off=0)
    elif stands == "begun":
        rows = rows.filter(cut_off__gt=0).filter(Q(closed_at=None) | Q(left__gt=0))
    elif stands == "gone":
        rows = rows.exclude(closed_at=None).filter(Q(left=0) | ~Q(closed_as=ClosedAs.CUT))
    return rows.filter(rest_waits=True) if rest_waits else rows


def lumps_of(purchase: Purchase) -> list[Workpiece]:
    """The lumps of one purchase. One query, no money."""
    return list(
        Workpiece.objects.filter(stage=Stage.LUMP, purchase=purchase).annotate(mass_mg=last_mass()).in_shop_order()
    )
