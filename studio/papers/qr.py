"""The code that leads to a piece's public page, as rectangles, large enough to be read from a print."""

from dataclasses import dataclass
from functools import lru_cache

from studio.fields.errors import Refused

QUIET_MODULES = 4  # ISO/IEC 18004: four modules of quiet zone on every side
LEAST_MODULE_MM = 0.43  # two and a half dots at 150 dpi; common practice, no source: a phone still reads it


class AddressTooLong(Refused):
    """The public address makes a code too fine to be read at the size the paper has room for."""


@dataclass(frozen=True)
class Code:
    """A symbol as runs of dark modules: (column, row, width, height), the quiet zone counted in `side`."""

    side: int
    runs: tuple[tuple[int, int, int, int], ...]


@lru_cache(maxsize=2048)
def code(address: str) -> Code:
    """The symbol for an address, error correction M (ISO/IEC 18004: 15 % of it may be lost).

    Raises AddressTooLong where no symbol holds the address at all.
    """
    import segno

    try:
        symbol = segno.make_qr(address, error="m", boost_error=False)
    except segno.DataOverflowError as error:
        raise _too_long(address) from error
    rows = [tuple(row) for row in symbol.matrix]
    return Code(len(rows) + 2 * QUIET_MODULES, tuple(_merge(rows)))


def _merge(rows: list[tuple[int, ...]]) -> list[tuple[int, int, int, int]]:
    """Dark modules as few rectangles: runs along a row, equal runs of following rows joined."""
    done: list[tuple[int, int, int, int]] = []
    open_runs: dict[tuple[int, int], tuple[int, int]] = {}
    for y, row in enumerate([*rows, ()]):
        runs: set[tuple[int, int]] = set()
        x = 0
        while x < len(row):
            if row[x]:
                start = x
                while x < len(row) and row[x]:
                    x += 1
                runs.add((start, x - start))
            else:
                x += 1
        for key in sorted(set(open_runs) - runs):
            top, height = open_runs.pop(key)
            done.append((key[0] + QUIET_MODULES, top + QUIET_MODULES, key[1], height))
        for key in runs:
            top, height = open_runs.get(key, (y, 0))
            open_runs[key] = (top, height + 1)
    return sorted(done)


def side_mm(address: str, wished: float, room: float) -> float:
    """Side of the code with its quiet zone: as wished, larger if it has to be, up to `room`.

    Raises AddressTooLong, naming the address's length, when `room` is not enough to read it from a print.
    """
    side = max(wished, code(address).side * LEAST_MODULE_MM)
    if side > room:
        raise _too_long(address)
    return side


def _too_long(address: str) -> AddressTooLong:
    return AddressTooLong(
        f"The public address has {len(address)} characters, and the code for it would be too fine to read at "
        "this size. Give the studio a shorter address in the settings, or print the larger card.",
        code="address-too-long",
    )
