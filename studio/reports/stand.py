"""Where we stand: what lies here and what it cost, who owes whom, and that two computations agree."""

from dataclasses import dataclass

from studio.fields.quantity import show
from studio.ledger import queries as ledger
from studio.ledger.accounts import CARRIES_BALANCE, Kind
from studio.reports.places import GROUPS, Party, Place, parties, places
from studio.reports.second import Lines, together

OWED = {
    Kind.GALLERY_OWES: "Galleries owe us",
    Kind.CLIENT_OWES: "Clients owe us",
    Kind.DEPOSIT: "Deposits we hold, theirs until delivery",
}
TAX = "Sales tax we hold"


@dataclass(frozen=True)
class Line:
    """One line of what lies here: how many, what was paid out for it, what it comes to all in."""

    words: str
    link: tuple[str, int | None, str]
    count: int
    paid_out_micro: int
    all_in_micro: int


@dataclass(frozen=True)
class Block:
    """The lines of one part of the shop and their sum."""

    key: str
    words: str
    lines: tuple[Line, ...]

    @property
    def count(self) -> int:
        return sum(line.count for line in self.lines)

    @property
    def paid_out_micro(self) -> int:
        return sum(line.paid_out_micro for line in self.lines)

    @property
    def all_in_micro(self) -> int:
        return sum(line.all_in_micro for line in self.lines)


@dataclass(frozen=True)
class Debt:
    """Money between us and somebody: above nothing they owe us, below nothing we hold theirs."""

    words: str
    who: str
    link: tuple[str, int | None, str]
    amount_micro: int


@dataclass(frozen=True)
class Stand:
    blocks: tuple[Block, ...]
    debts: tuple[Debt, ...]
    differences: tuple[str, ...]
    lines_read: int

    @property
    def count(self) -> int:
        return sum(block.count for block in self.blocks)

    @property
    def paid_out_micro(self) -> int:
        return sum(block.paid_out_micro for block in self.blocks)

    @property
    def all_in_micro(self) -> int:
        return sum(block.all_in_micro for block in self.blocks)

    @property
    def owed_micro(self) -> int:
        """What others owe us less what we hold of theirs."""
        return sum(debt.amount_micro for debt in self.debts)


def stand() -> Stand:
    """Everything that lies here and every debt, reckoned twice. Eleven queries however much there is."""
    held, known = places(), parties()
    costs = ledger.costs_of()
    blocks = _blocks(held, costs)
    sums = ledger.balances(party.account_id for party in known)
    pools = ledger.pool_sums()
    debts = _debts(known, sums, pools.get(Kind.SALES_TAX, 0))
    lines = Lines()
    return Stand(tuple(blocks), tuple(debts), tuple(_differences(held, blocks, debts, lines)), lines.count)


def _blocks(held: list[Place], costs: dict[int, ledger.Cost]) -> list[Block]:
    found = []
    for key, words in GROUPS.items():
        lines = [
            Line(place.words, place.link, place.count, _paid_out(place, costs), sum(place.balances.values()))
            for place in held
            if place.group == key
        ]
        found.append(Block(key, words, tuple(lines)))
    return found


def _paid_out(place: Place, costs: dict[int, ledger.Cost]) -> int:
    if place.group == "stores":  # all that lies in the stores was paid for
        return sum(place.balances.values())
    return sum(costs[account].paid_out for account in place.balances if account in costs)


def _debts(known: list[Party], sums: dict[int, int], tax: int) -> list[Debt]:
    found = [
        Debt(OWED[party.kind], party.words, party.link, sums[party.account_id])
        for party in known
        if sums.get(party.account_id)
    ]
    return [*found, Debt(TAX, "", ("", None, ""), tax)] if tax else found


def _differences(held: list[Place], blocks: list[Block], debts: list[Debt], lines: Lines) -> list[str]:
    """What the two computations don't agree on, each as a sentence; none when they do."""
    found, kinds = lines.by_account(), lines.by_kind()
    said: list[str] = []
    rows = [line for block in blocks for line in block.lines]
    ordered = [place for key in GROUPS for place in held if place.group == key]
    for place, line in zip(ordered, rows, strict=True):
        again = together(found, place.balances)
        compare(said, f"{GROUPS[place.group]}, {place.words}, all in", line.all_in_micro, again.all_in)
        compare(said, f"{GROUPS[place.group]}, {place.words}, paid out", line.paid_out_micro, again.paid_out)
    carried = sum(kinds.get(kind, 0) for kind in CARRIES_BALANCE)
    compare(said, "Everything that lies here", sum(line.all_in_micro for line in rows), carried)
    for kind, words in OWED.items():
        first = sum(debt.amount_micro for debt in debts if debt.words == words)
        compare(said, words, first, kinds.get(kind, 0))
    compare(said, TAX, sum(debt.amount_micro for debt in debts if debt.words == TAX), kinds.get(Kind.SALES_TAX, 0))
    if lines.whole:
        said.append(f"All lines together should leave nothing; they leave {_coins(lines.whole)}.")
    return said


def compare(said: list[str], words: str, first: int, second: int) -> None:
    """Add a sentence to `said` where two computations of one figure differ."""
    if first != second:
        said.append(f"{words}: {_coins(first)} by the balances, {_coins(second)} by the single lines.")


def _coins(micro: int) -> str:
    """With all six digits where coins would hide what differs."""
    return show(micro, "money", digits=6 if micro % 10_000 else 2)
