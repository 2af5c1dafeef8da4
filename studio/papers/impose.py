"""Places equal cards on a sheet: as many as will go, edges shared, with marks that say where to cut.

Nothing bleeds, so neighbours share one cut. Rows may lie and, below them, stand, where that puts one more on.
"""

from dataclasses import dataclass, replace

# Millimetres. ISO 216: A4 is 210 × 297. Letter is 8½ × 11 inches.
PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
MARK, MARK_AWAY, MARK_INSIDE = 4.0, 0.8, 8.0
_ROUNDING = 1e-6


@dataclass(frozen=True)
class Place:
    """Where a card lies, from the top left corner of the sheet; `turned` when it stands on its side."""

    left: float
    top: float
    width: float
    height: float
    turned: bool

    @property
    def right(self) -> float:
        return self.left + self.width

    @property
    def bottom(self) -> float:
        return self.top + self.height


@dataclass(frozen=True)
class Mark:
    """A short line on or beside a cut."""

    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True)
class Zone:
    """Rows of cards that lie the same way."""

    left: float
    top: float
    columns: int
    rows: int
    width: float
    height: float
    turned: bool

    def places(self) -> list[Place]:
        return [
            Place(
                self.left + column * self.width,
                self.top + row * self.height,
                self.width,
                self.height,
                self.turned,
            )
            for row in range(self.rows)
            for column in range(self.columns)
        ]

    @property
    def right(self) -> float:
        return self.left + self.columns * self.width

    @property
    def bottom(self) -> float:
        return self.top + self.rows * self.height


def zones(paper: tuple[float, float], card: tuple[float, float], *, margin: float = 0.0) -> list[Zone]:
    """The arrangement that puts most cards on a sheet, the simplest of equals; empty when not one fits.

    `margin` is kept free on every side, in millimetres.
    """
    wide, high = paper[0] - 2 * margin + _ROUNDING, paper[1] - 2 * margin + _ROUNDING
    best: tuple[int, int, list[tuple[int, int, bool]]] = (0, 0, [])
    for first_turned in (False, True):
        one, two = _ways(card, first_turned)
        for rows in range(int(high // one[1]) + 1):
            groups = [
                (int(wide // one[0]), rows, first_turned),
                (int(wide // two[0]), int((high - rows * one[1]) // two[1]), not first_turned),
            ]
            groups = [group for group in groups if group[0] and group[1]]
            count = sum(columns * rows for columns, rows, _ in groups)
            if (count, -len(groups)) > (best[0], -best[1]):
                best = (count, len(groups), groups)
    return _centred(paper, card, best[2])


def _ways(card: tuple[float, float], turned: bool) -> tuple[tuple[float, float], tuple[float, float]]:
    lying, standing = card, (card[1], card[0])
    return (standing, lying) if turned else (lying, standing)


def _centred(
    paper: tuple[float, float], card: tuple[float, float], groups: list[tuple[int, int, bool]]
) -> list[Zone]:
    placed: list[Zone] = []
    top = (paper[1] - sum(rows * _ways(card, turned)[0][1] for _, rows, turned in groups)) / 2
    for columns, rows, turned in groups:
        width, height = _ways(card, turned)[0]
        zone = Zone((paper[0] - columns * width) / 2, top, columns, rows, width, height, turned)
        placed.append(zone)
        top = zone.bottom
    return placed


def occupied(zone_list: list[Zone], count: int) -> list[Zone]:
    """The zones as far as `count` cards fill them, so that a last sheet is marked only where it is used."""
    kept: list[Zone] = []
    for zone in zone_list:
        if count <= 0:
            break
        rows = min(zone.rows, -(-count // zone.columns))
        columns = zone.columns if rows > 1 else min(zone.columns, count)
        kept.append(replace(zone, rows=rows, columns=columns))
        count -= rows * columns
    return kept


def marks(paper: tuple[float, float], zone_list: list[Zone]) -> list[Mark]:
    """Marks at both ends of every cut: beside the cards where there is paper, else on the cut itself.

    A cut that falls on the sheet's own edge needs no mark.
    """
    found: dict[Mark, None] = {}
    for number, zone in enumerate(zone_list):
        above = zone.top if number == 0 else 0.0
        below = paper[1] - zone.bottom if number == len(zone_list) - 1 else 0.0
        for column in range(zone.columns + 1):
            x = zone.left + column * zone.width
            if _inside(x, paper[0]):
                start, end = _stroke(zone.top, -1.0, above)
                found[Mark(x, start, x, end)] = None
                start, end = _stroke(zone.bottom, 1.0, below)
                found[Mark(x, start, x, end)] = None
        for row in range(zone.rows + 1):
            y = zone.top + row * zone.height
            if _inside(y, paper[1]):
                start, end = _stroke(zone.left, -1.0, zone.left)
                found[Mark(start, y, end, y)] = None
                start, end = _stroke(zone.right, 1.0, paper[0] - zone.right)
                found[Mark(start, y, end, y)] = None
    return list(found)


def _inside(at: float, length: float) -> bool:
    return 0.01 < at < length - 0.01


def _stroke(edge: float, direction: float, free: float) -> tuple[float, float]:
    """Away from the cards where at least two millimetres can be seen there, else back along the cut."""
    if free >= MARK_AWAY + 2.0:
        start = edge + direction * MARK_AWAY
        return start, edge + direction * min(free, MARK_AWAY + MARK)
    return edge, edge - direction * MARK_INSIDE
