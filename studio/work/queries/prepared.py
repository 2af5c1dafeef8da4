"""What was done at the moulds of a planned pour, and what wasn't."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from studio.work.models import MouldReady
from studio.work.queries.pour_parts import FillWanted

# (tick, what is done, what is said where it isn't)
WORDS: tuple[tuple[str, str, str], ...] = (
    ("released", "Release", "no release"),
    ("sealed", "Seams sealed", "seams not sealed"),
    ("held", "Wood held down", "wood not held down"),
    ("coated", "Seal coat", "no seal coat"),
    ("level", "Level", "not levelled"),
)
OF_WOOD = ("held", "coated")


@dataclass(frozen=True)
class Tick:
    """One thing done at a mould, and when; None: not yet."""

    code: str
    words: str
    at: datetime | None


@dataclass(frozen=True)
class Prepared:
    """One mould of a plan with its ticks; those of the wood only where wood lies in it. `row` keeps them, where
    anything was ticked. `kept`: there is something to keep them by."""

    place: int
    name: str
    ticks: tuple[Tick, ...]
    row: MouldReady | None
    kept: bool

    @property
    def missing(self) -> tuple[str, ...]:
        says = {code: words for code, _, words in WORDS}
        return tuple(says[tick.code] for tick in self.ticks if tick.at is None)

    def coat(self, now: datetime) -> str:
        """early, late, or nothing where the seal coat takes the pour well, as far as its window is known."""
        if self.row is None or self.row.coated_at is None:
            return ""
        if self.row.coat_from_at and now < self.row.coat_from_at:
            return "early"
        return "late" if self.row.coat_until_at and now > self.row.coat_until_at else ""


def prepared(fills: Sequence[FillWanted]) -> tuple[Prepared, ...]:
    """The ticks of each mould of a plan. Two queries at most."""
    moulds = [fill.mould for fill in fills if fill.mould is not None]
    loose = [blank for fill in fills if fill.mould is None for blank in fill.blanks]
    rows: list[MouldReady] = []
    if moulds or loose:
        asked = MouldReady.objects.filter(Q(mould__in=moulds) | Q(mould=None, blanks__in=loose), fill=None)
        rows = list(asked.select_related("coat_resin", "coat_material").distinct().prefetch_related("blanks"))
    return tuple(_prepared(place, fill, rows) for place, fill in enumerate(fills))


def _prepared(place: int, fill: FillWanted, rows: Sequence[MouldReady]) -> Prepared:
    keys = {blank.pk for blank in fill.blanks}
    found = next((row for row in rows if _is_of(row, fill, keys)), None)
    same = found is not None and {blank.pk for blank in found.blanks.all()} == keys
    ticks = []
    for code, words, _ in WORDS:
        if code in OF_WOOD and not keys:
            continue
        known = found is not None and (same or code not in OF_WOOD)
        ticks.append(Tick(code, words, getattr(found, f"{code}_at") if known else None))
    name = fill.mould.name if fill.mould else f"Mould {place + 1}"
    return Prepared(place, name, tuple(ticks), found if same else None, bool(fill.mould or keys))


def _is_of(row: MouldReady, fill: FillWanted, keys: set[int]) -> bool:
    if fill.mould is not None:
        return row.mould_id == fill.mould.pk
    return row.mould_id is None and {blank.pk for blank in row.blanks.all()} == keys
