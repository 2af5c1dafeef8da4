"""Numbers as one would pencil them: lumps run on, children carry their parent's number."""

import re

from studio.craft.numbers import next_child_number
from studio.people import settings as studio_settings
from studio.work.models import Stage, Workpiece

_FIGURES = re.compile(r"\d+")


def next_lump_number() -> str:
    """The lowest number above every lump numbered so far; the studio says where it begins."""
    first = studio_settings.value("first_lump_number") or 1
    taken = [
        int(number)
        for number in Workpiece.objects.filter(stage=Stage.LUMP).values_list("number", flat=True)
        if _FIGURES.fullmatch(number)
    ]
    return str(max([int(first) - 1, *taken]) + 1)


def child_numbers(parent: Workpiece, count: int) -> list[str]:
    """The next numbers for what is cut from a workpiece, none of them taken."""
    taken = set(
        Workpiece.objects.filter(number__startswith=parent.number).values_list("number", flat=True)
    )
    numbers: list[str] = []
    for _ in range(count):
        number = next_child_number(parent.number, taken)
        taken.add(number)
        numbers.append(number)
    return numbers
