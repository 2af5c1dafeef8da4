"""The signed number: given when a piece is signed and not before, so that no gap tells of what was lost."""

import re
from datetime import date

from django.db.models import Max

from studio.people import numbering
from studio.people import settings as studio_settings
from studio.pieces.models import Piece

_MARK = re.compile(r"\{([^{}]*)\}")
_READS = {"year": r"(?P<year>\d{4})", "yy": r"(?P<yy>\d{2})"}
_RUN = r"(?P<run>\d{1,9})"


def next_signed_number(on: date) -> tuple[str, int, int | None]:
    """The number a piece signed on this day gets: as written, its running number, and the year counted by.

    One above the highest in use (of that year, where the studio's pattern has the year in it). Two queries,
    one more for each number that was typed by hand and stands in the way.
    """
    pattern = studio_settings.value("signed_number_pattern")
    year = on.year if numbering.yearly(pattern) else None
    run = (Piece.objects.filter(signed_year=year).aggregate(top=Max("signed_run"))["top"] or 0) + 1
    number = numbering.fill(pattern, run, on)
    while Piece.objects.filter(signed_number=number).exists():
        run += 1
        number = numbering.fill(pattern, run, on)
    return number, run, year


def read(number: str, on: date) -> tuple[int | None, int | None]:
    """Running number and year of a number typed by hand; (None, None) where it doesn't follow the pattern.

    What a studio signed before it kept books is typed, and the count goes on from there.
    """
    pattern = studio_settings.value("signed_number_pattern")
    built, end, seen = "", 0, set()
    for mark in _MARK.finditer(pattern):
        name = mark.group(1)
        built += re.escape(pattern[end : mark.start()])
        # a mark that comes twice is read once and only has to be there the second time
        built += (r"\d+" if name in seen else _READS[name]) if name in _READS else _RUN
        seen.add(name)
        end = mark.end()
    found = re.fullmatch(built + re.escape(pattern[end:]), number, re.ASCII)
    if found is None or not int(found["run"]):
        return None, None
    if not numbering.yearly(pattern):
        return int(found["run"]), None
    told = found.groupdict()
    year = int(told["year"]) if told.get("year") else on.year // 100 * 100 + int(told["yy"])
    return int(found["run"]), year
