"""What a span of days made: sales, what they cost, what was lost, and what bills no piece carried."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date

from studio.ledger.accounts import CARRIES_BALANCE, PAID_OUT, Kind
from studio.ledger.browsing import Flow, flows
from studio.reports.second import Lines
from studio.reports.stand import compare
from studio.selling.models import Sale

# What hours and loads took out of a pool onto workpieces; everything else on it is bills and what was used up.
CARRYING = frozenset({"hours", "load"})
POOLS = {
    Kind.ENERGY: "Power",
    Kind.PAID_LABOUR: "Wages",
    Kind.OVERHEAD: "Overhead",
}


@dataclass(frozen=True)
class Sum:
    """One line of the year: above nothing it came in, below nothing it went. `None`: it has no place there."""

    key: str
    words: str
    paid_out_micro: int | None
    all_in_micro: int | None
    why: str = ""


@dataclass(frozen=True)
class PoolLine:
    """One pool: what was spent on it, what work carried away, and what is over. Above nothing: not carried."""

    words: str
    spent_micro: int
    carried_micro: int

    @property
    def left_micro(self) -> int:
        return self.spent_micro - self.carried_micro

    @property
    def sentence(self) -> str:
        if self.left_micro > 0:
            return "paid, but carried by no piece: it is this year's own cost"
        if self.left_micro < 0:
            return "carried by pieces, but not paid yet, or paid less than reckoned"
        return "carried to the last coin"


@dataclass(frozen=True)
class Year:
    since: date
    until: date
    sums: tuple[Sum, ...]
    pools: tuple[PoolLine, ...]
    sold: int
    differences: tuple[str, ...]

    @property
    def paid_out_micro(self) -> int:
        """What is left of the money when only what was really paid is taken off."""
        return sum(line.paid_out_micro or 0 for line in self.sums)

    @property
    def all_in_micro(self) -> int:
        """What is left when own hours, wear and the rest that is only reckoned are paid as well."""
        return sum(line.all_in_micro or 0 for line in self.sums)


def year(since: date, until: date) -> Year:
    """The money of these days, first and last included, reckoned twice. Three queries."""
    found = flows(since=since, until=until)
    lines = Lines()
    return Year(
        since,
        until,
        tuple(_sums(found)),
        tuple(_pool(found, kind) for kind in POOLS),
        Sale.objects.live().filter(sold_on__range=(since, until)).count(),
        tuple(_differences(found, lines, since, until)),
    )


def _of(found: Iterable[Flow], *kinds: Kind, fits: Callable[[Flow], bool] = lambda flow: True) -> int:
    return sum(flow.value_micro for flow in found if flow.pool in kinds and fits(flow))


def _paid(flow: Flow) -> bool:
    return flow.component in PAID_OUT


def _spent(flow: Flow) -> bool:
    return flow.cause not in CARRYING


def _sums(found: list[Flow]) -> list[Sum]:
    def money(key: str, words: str, kind: Kind, why: str = "") -> Sum:
        value = -_of(found, kind)
        return Sum(key, words, value, value, why)

    def cost(key: str, words: str, *kinds: Kind, why: str = "") -> Sum:
        return Sum(key, words, -_of(found, *kinds, fits=_paid), -_of(found, *kinds), why)

    overhead_spent = -_of(found, Kind.OVERHEAD, fits=_spent)
    return [
        money("sales", "Sold, before tax", Kind.REVENUE),
        money("share", "The galleries' share", Kind.GALLERY_SHARE),
        money("selling", "Cards, boxes, carriage", Kind.SELLING_COST),
        cost("sold", "What the sold pieces had cost", Kind.COST_OF_SALES),
        cost("given", "Gifts, donations, samples, own use", Kind.GIVEN_AWAY),
        cost("lost", "Lost in the ordinary way", Kind.LOSS_EXPECTED),
        cost("accident", "Lost to fire, flood, fall or theft", Kind.LOSS_UNUSUAL),
        Sum(
            "set_aside",
            "Set aside by finished pieces for those that break",
            None,
            -_of(found, Kind.ALLOWANCE),
            "it stands in their cost already, so it is taken off the losses once",
        ),
        cost("missing", "Missing at counts and thrown away, less what was found", Kind.SHRINKAGE, Kind.FOUND),
        cost("power", "Power that no piece carried", Kind.ENERGY),
        cost("wages", "Wages that no piece carried", Kind.PAID_LABOUR),
        Sum(
            "overhead",
            "Overhead: paid in full; all in, what no piece carried",
            overhead_spent,
            -_of(found, Kind.OVERHEAD),
        ),
    ]


def _pool(found: list[Flow], kind: Kind) -> PoolLine:
    return PoolLine(
        POOLS[kind],
        _of(found, kind, fits=_spent),
        -_of(found, kind, fits=lambda flow: not _spent(flow)),
    )


def _differences(found: list[Flow], lines: Lines, since: date, until: date) -> list[str]:
    said: list[str] = []
    again = lines.by_kind(since=since, until=until)
    for kind in Kind:
        if kind not in CARRIES_BALANCE:
            compare(said, str(kind.label), _of(found, kind), again.get(kind, 0))
    return said
