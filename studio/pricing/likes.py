"""What like pieces fetched and how long they stood, those that still stand counted in."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from studio.craft.pricing import Spread, spread
from studio.pieces.models import SIZES, Piece
from studio.selling.models import Sale

# Like means the same form and a largest measure within a quarter. *Common practice, no source*.
NEAR_PPM = 250_000
WHOLE_PPM = 1_000_000


@dataclass(frozen=True)
class LikeSold:
    """Pieces of the same form and about the same size: their prices, and how many still stand.

    `median_days` is within how many days half of them sell; None where too few have sold to say.
    """

    form: str
    sold: int
    unsold: int
    prices: Spread
    median_days: int | None

    @property
    def count(self) -> int:
        return self.sold + self.unsold

    @property
    def median_months(self) -> int | None:
        """Whole months, at least one: "within about five months"."""
        return None if self.median_days is None else max(1, -(-self.median_days * 12 // 365))


@dataclass(frozen=True)
class _Stood:
    piece_id: int
    size_um: int
    days: int
    price_micro: int | None


def likes(rows: Iterable[Piece], now: datetime) -> dict[int, LikeSold]:
    """What like pieces fetched, for each of these; absent where none was sold, or a form isn't named.

    A piece not measured yet is compared by form alone. Two queries, however many pieces.
    """
    asked = list(rows)
    stood = _stood({row.form for row in asked if row.form}, now)
    found = {}
    for row in asked:
        size = row.size_um
        like = [one for one in stood[row.form] if one.piece_id != row.pk and _near(size, one.size_um)]
        prices = [one.price_micro for one in like if one.price_micro is not None]
        middle = spread(prices)
        if middle is not None:
            found[row.pk] = LikeSold(
                row.form,
                len(prices),
                len(like) - len(prices),
                middle,
                median_days([one.days for one in like if one.price_micro is not None], _unsold_days(like)),
            )
    return found


def median_days(sold: Sequence[int], unsold: Sequence[int]) -> int | None:
    """Within how many days half of them sell, those that still stand counted for as long as they have stood.

    None where fewer than half would have sold by the longest time known. Source: product-limit estimate,
    E. L. Kaplan and P. Meier, J. Am. Stat. Assoc. 53 (1958) 457; its middle is the first day on which no more
    than half are left.
    """
    left = Fraction(1)
    for day in sorted(set(sold)):
        standing = sum(days >= day for days in sold) + sum(days >= day for days in unsold)
        left *= 1 - Fraction(sold.count(day), standing)
        if left <= Fraction(1, 2):
            return day
    return None


def _unsold_days(like: Sequence[_Stood]) -> list[int]:
    return [one.days for one in like if one.price_micro is None]


def _near(size_um: int | None, other_um: int) -> bool:
    return size_um is None or abs(size_um - other_um) * WHOLE_PPM <= size_um * NEAR_PPM


def _stood(forms: set[str], now: datetime) -> dict[str, list[_Stood]]:
    found: dict[str, list[_Stood]] = defaultdict(list)
    measures = [f"piece__{name}" for name in SIZES]
    sold = Sale.objects.filter(
        taken_back_at__isnull=True, piece__workpiece__form__in=forms, piece__finished_at__isnull=False
    ).values_list("piece", "piece__workpiece__form", "price_micro", "sold_at", "piece__finished_at", *measures)
    for piece, form, price, sold_at, finished_at, *sizes in sold:
        found[form].append(_Stood(piece, _largest(sizes), max(0, (sold_at - finished_at).days), price))
    standing = (
        Piece.objects.in_the_shop()
        .finished()
        .filter(workpiece__form__in=forms)
        .values_list("pk", "workpiece__form", "finished_at", *SIZES)
    )
    for piece, form, finished_at, *sizes in standing:
        found[form].append(_Stood(piece, _largest(sizes), max(0, (now - finished_at).days), None))
    return found


def _largest(sizes: Sequence[int | None]) -> int:
    return max((size for size in sizes if size), default=0)
