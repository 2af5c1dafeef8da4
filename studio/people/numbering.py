"""How a studio writes its signed numbers: a pattern of plain characters and a few marks in braces.

`{n}` is the running number, `{nn}`, `{nnn}` and `{nnnn}` the same with at least that many digits, `{year}`
the year as 2026, `{yy}` as 26. A pattern has exactly one running number; with a year in it, the count
begins again each year.
"""

import re
from datetime import date

_MARK = re.compile(r"\{([^{}]*)\}")
_RUNNING = ("n", "nn", "nnn", "nnnn")
_YEARS = ("year", "yy")
MOST = 30


def check(pattern: str) -> None:
    """Raise ValueError with a sentence unless `pattern` can be filled in."""
    marks = _MARK.findall(pattern)
    strange = [mark for mark in marks if mark not in _RUNNING + _YEARS]
    if strange:
        raise ValueError(f"{{{strange[0]}}} means nothing here. Use {{n}}, {{nn}}, {{nnn}}, {{year}} or {{yy}}.")
    if "{" in _MARK.sub("", pattern) or "}" in _MARK.sub("", pattern):
        raise ValueError("A brace is left open. Write marks as {n} or {year}.")
    if sum(mark in _RUNNING for mark in marks) != 1:
        raise ValueError("The pattern needs the running number once, written {n}, such as {yy}-{nn}.")
    if len(pattern) > MOST:
        raise ValueError(f"That is {len(pattern)} characters; {MOST} is the most one can sign on a foot.")


def yearly(pattern: str) -> bool:
    """Return whether the count begins again each year."""
    return any(mark in _YEARS for mark in _MARK.findall(pattern))


def fill(pattern: str, number: int, on: date) -> str:
    """Return the signed number: `fill("{yy}-{nn}", 7, date(2026, 3, 1))` is "26-07"."""
    check(pattern)

    def put(match: re.Match[str]) -> str:
        mark = match.group(1)
        if mark in _RUNNING:
            return str(number).zfill(len(mark))
        return f"{on.year:04d}" if mark == "year" else f"{on.year % 100:02d}"

    return _MARK.sub(put, pattern)
