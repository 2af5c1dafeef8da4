"""Which account lies where: every lump, blank, batch, piece and debt under one line of the report."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from django.db.models import Case, Exists, OuterRef, Subquery, When

from studio.commissions.models import Commission
from studio.ledger.accounts import Account, Kind
from studio.selling.models import ClientAccount, Gallery, Placement
from studio.stores.models import Batch, Bath, MaterialKind
from studio.work.models import Stage, Step, StepCode, StepState, Workpiece

GROUPS = {
    "wood": "Wood not begun",
    "work": "Work under way, by step",
    "shelf": "Ready shelf",
    "galleries": "At galleries",
    "stores": "Stores",
}


@dataclass
class Place:
    """One line: what lies there, and each account with the balance it carries itself, in millionths."""

    group: str
    words: str
    link: tuple[str, int | None, str] = ("", None, "")
    balances: dict[int, int] = field(default_factory=dict)

    @property
    def count(self) -> int:
        return len(self.balances)


@dataclass(frozen=True)
class Party:
    """Somebody who owes us, or whose money we hold: one account."""

    kind: Kind
    words: str
    account_id: int
    link: tuple[str, int | None, str] = ("", None, "")


def places() -> list[Place]:
    """Everything that carries a balance and is still here, in the order one walks it. Four queries."""
    return [*_workpieces(), *_stores()]


def _workpieces() -> list[Place]:
    # A step that was begun before the one in front of it was done (wood in the oven uncleaned) is where it is.
    first = (
        Step.objects.filter(workpiece=OuterRef("pk"), state__in=[StepState.OPEN, StepState.PLANNED])
        .order_by(Case(When(state=StepState.OPEN, then=0), default=1), "position", "attempt")
        .values("code")[:1]
    )
    begun = Step.objects.filter(workpiece=OuterRef("pk"), state__in=[StepState.OPEN, StepState.DONE])
    away = Placement.objects.open().filter(piece__workpiece=OuterRef("pk"))
    rows = (
        Workpiece.objects.on_the_bench()
        .annotate(
            next_code=Subquery(first),
            begun=Exists(begun),
            gallery_id=Subquery(away.values("gallery")[:1]),
            gallery_name=Subquery(away.values("gallery__name")[:1]),
        )
        .values_list(
            "account", "account__value_micro", "stage", "next_code", "begun", "piece__finished_at",
            "gallery_id", "gallery_name",
        )
    )  # fmt: skip
    found: dict[tuple, Place] = {}
    for account, value, stage, code, has_begun, finished_at, gallery, name in rows:
        key, make = _line_of(stage, code, has_begun, finished_at is not None, gallery, name)
        found.setdefault(key, make).balances[account] = value
    return [found[key] for key in sorted(found, key=lambda key: (list(GROUPS).index(key[0]), *key[1:]))]


def _line_of(
    stage: str, code: str | None, begun: bool, finished: bool, gallery: int | None, name: str | None
) -> tuple[tuple, Place]:
    """The key by which lines are sorted, and the line as it begins."""
    if gallery is not None:
        return ("galleries", str(name).casefold(), gallery), Place("galleries", str(name), ("gallery", gallery, ""))
    if finished:
        return ("shelf", "", 0), Place("shelf", "Finished, here", ("pieces", None, ""))
    if stage == Stage.LUMP:
        return ("wood", "", 0), Place("wood", "Lumps", ("wood", None, ""))
    if stage == Stage.BLANK and not begun:
        return ("wood", "", 1), Place("wood", "Blanks nothing was done to yet", ("bench", None, "stage=blank"))
    if code:
        order = StepCode.values.index(code)
        return ("work", "", order), Place("work", str(StepCode(code).label), ("bench", None, f"step={code}"))
    if stage == Stage.PIECE:
        return ("work", "", 90), Place("work", "One of the four ticks", ("pieces", None, ""))
    return ("work", "", 91), Place("work", "Nothing planned", ("bench", None, ""))


def _stores() -> list[Place]:
    by_kind = {
        str(kind): Place("stores", kind.label[0].upper() + kind.label[1:], ("stores", None, ""))
        for kind in MaterialKind
    }
    for kind, account, value in Batch.objects.filter(account__amount__gt=0).values_list(
        "material__kind", "account", "account__value_micro"
    ):
        by_kind[kind].balances[account] = value
    baths = Place("stores", "In the baths", ("stores", None, ""))
    for bath, held in Bath.objects.filter(closed_on=None).values_list("account", "account__value_micro"):
        baths.balances[bath] = held
    return [place for place in (*by_kind.values(), baths) if place.balances]


def parties() -> list[Party]:
    """Everybody with an account of their own: galleries, clients, deposits. Three queries."""
    galleries = [
        Party(Kind.GALLERY_OWES, name, account, ("gallery", pk, ""))
        for pk, name, account in Gallery.objects.values_list("pk", "name", "account")
    ]
    clients = [
        Party(Kind.CLIENT_OWES, str(row.client), row.account_id, ("client", row.client_id, ""))
        for row in ClientAccount.objects.select_related("client").order_by("client__name_search", "client")
    ]
    deposits = [
        Party(
            Kind.DEPOSIT, f"commission {row.number}, {row.client}", row.deposit_account_id, ("commission", row.pk, "")
        )
        for row in Commission.objects.select_related("client").order_by("number")
    ]
    return [*galleries, *clients, *deposits]


@dataclass(frozen=True)
class Named:
    """What an account is called where an entry is shown, and the screen it has."""

    words: str
    url_name: str = ""
    pk: int | None = None


def names_of(account_ids: Iterable[int]) -> Mapping[int, Named]:
    """What each of these accounts is called: workpieces by number, batches, baths, pools. Seven queries."""
    wanted = set(account_ids)
    found: dict[int, Named] = defaultdict(lambda: Named("an account nobody knows"))
    for account, kind in Account.objects.filter(pk__in=wanted).values_list("pk", "kind"):
        found[account] = Named(str(Kind(kind).label))
    for account, pk, number, title in Workpiece.objects.filter(account__in=wanted).values_list(
        "account", "pk", "number", "title"
    ):
        found[account] = Named(f"{number} {title}".strip(), "workpiece", pk)
    for account, pk, batch, material in Batch.objects.filter(account__in=wanted).values_list(
        "account", "pk", "number", "material__name"
    ):
        found[account] = Named(f"{material}, batch {batch}", "batch", pk)
    for account, pk, name in Bath.objects.filter(account__in=wanted).values_list("account", "pk", "name"):
        found[account] = Named(name, "bath", pk)
    for account, pk, name in Gallery.objects.filter(account__in=wanted).values_list("account", "pk", "name"):
        found[account] = Named(f"{name} owes", "gallery", pk)
    for row in ClientAccount.objects.filter(account__in=wanted).select_related("client"):
        found[row.account_id] = Named(f"{row.client} owes", "client", row.client_id)
    for one in Commission.objects.filter(deposit_account__in=wanted):
        found[one.deposit_account_id] = Named(f"Deposit on commission {one.number}", "commission", one.pk)
    return found
