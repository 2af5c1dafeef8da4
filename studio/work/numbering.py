"""Numbers as one would pencil them: lumps run on, children carry their parent's number."""

import re

from studio.craft.numbers import is_number, next_child_number
from studio.people import settings as studio_settings
from studio.work.models import Workpiece

_FIGURES = re.compile(r"\d+")


def next_lump_number() -> str:
    """The lowest number above every lump numbered so far; the studio says where it begins."""
    first = studio_settings.value("first_lump_number") or 1
    # whatever has become of it since: a lump turned whole is a piece by now and keeps its number
    numbers = Workpiece.objects.exclude(number__contains="/").values_list("number", flat=True)
    taken = [int(number) for number in numbers if _FIGURES.fullmatch(number)]
    return str(max([int(first) - 1, *taken]) + 1)


def child_numbers(parent: Workpiece, count: int) -> list[str]:
    """The next numbers for what is cut from a workpiece, none of them taken."""
    taken = set(
        Workpiece.objects.filter(number__startswith=parent.number).values_list("number", flat=True)
    )
    numbers: list[str] = []
    for _ in range(count):
        number = _next_child(parent.number, taken)
        taken.add(number)
        numbers.append(number)
    return numbers


def _next_child(parent: str, taken: set[str]) -> str:
    """As the trade writes them; a number of the studio's own making (A-12) just counts on: A-12/1, A-12/2."""
    if is_number(parent):
        return next_child_number(parent, taken)
    count = 1
    while f"{parent}/{count}" in taken:
        count += 1
    return f"{parent}/{count}"
