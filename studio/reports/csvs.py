"""Figures as a file a spreadsheet opens: numbers stay numbers, and no text can act as a formula."""

import csv
import io
from collections.abc import Iterable, Sequence
from decimal import Decimal

from studio.reports.stand import Stand
from studio.reports.year import Year

# What a spreadsheet may take for the beginning of a formula or a command, and their full-width twins.
ACTS = tuple("=+-@\t\r\n\0＝＋－＠")
Cell = str | int | Decimal


def safe(text: str) -> str:
    """Return text that no spreadsheet runs: what could act is led in by an apostrophe."""
    return f"'{text}" if text.startswith(ACTS) or text.lstrip().startswith(ACTS) else text


def money(micro: int, coin_digits: int) -> Decimal:
    """Millionths as a plain number with the coin's digits, half up: what a spreadsheet can add up."""
    from studio.craft.rounding import decimal_half_up

    step = Decimal(1).scaleb(-coin_digits)
    return decimal_half_up(Decimal(micro).scaleb(-6), step)


def written(head: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """Return the file's text. Every text is quoted and made safe; numbers stand bare, with a point."""
    out = io.StringIO()
    writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    writer.writerow([safe(word) for word in head])
    for row in rows:
        writer.writerow([safe(cell) if isinstance(cell, str) else cell for cell in row])
    return out.getvalue()


def stand_csv(stand: Stand, *, currency: str, coin_digits: int) -> str:
    """Where we stand, one line for each line of the page, then each debt."""
    head = ["Where", "What", "How many", f"Paid out, {currency}", f"All in, {currency}", f"Owed, {currency}"]
    rows: list[Sequence[Cell]] = [
        (
            block.words,
            line.words,
            line.count,
            money(line.paid_out_micro, coin_digits),
            money(line.all_in_micro, coin_digits),
            "",
        )
        for block in stand.blocks
        for line in block.lines
    ]
    rows += [(debt.words, debt.who, "", "", "", money(debt.amount_micro, coin_digits)) for debt in stand.debts]
    return written(head, rows)


def year_csv(year: Year, *, currency: str, coin_digits: int) -> str:
    """The year's money, one line for each line of the page."""
    head = ["From", "To", "What", f"Paid out, {currency}", f"All in, {currency}"]
    rows = [
        (
            year.since.isoformat(),
            year.until.isoformat(),
            line.words,
            *(
                "" if value is None else money(value, coin_digits)
                for value in (line.paid_out_micro, line.all_in_micro)
            ),
        )
        for line in year.sums
    ]
    return written(head, rows)
