"""Numbers as one would pencil them: lump 41, its blanks 41/1, 41/2, a blank cut again 41/3b, then 41/3b2."""

import re
from collections.abc import Iterable

_NUMBER = re.compile(r"[1-9][0-9]{0,8}(?:/[1-9][0-9]{0,5}(?:[a-z]{1,4}[0-9]{1,6})*(?:[a-z]{1,4})?)?")
_PARTS = re.compile(r"[0-9]+|[a-z]+")


def is_number(text: str) -> bool:
    """Say whether a text is a number of this kind: 41, 41/3, 41/3b, 41/3b2."""
    return _NUMBER.fullmatch(text) is not None


def next_child_number(parent: str, taken: Iterable[str]) -> str:
    """Return the number for the next thing cut from `parent`, after those already `taken`.

    A lump's blanks count 1, 2, 3; a blank cut again keeps its own number for what stays and gives b, c ... z,
    aa, ab; after a letter comes a figure from 2, then letters again. A number once given is never given
    again, so pass every number ever used, lost ones too.
    *Common practice, no source*.

    Raises ValueError when the parent is no such number.
    """
    if not is_number(parent):
        raise ValueError(f"“{parent}” is not a number like 41, 41/3 or 41/3b.")
    letters = "/" in parent and parent[-1].isdigit()
    prefix = parent if "/" in parent else parent + "/"
    pattern = re.compile(re.escape(prefix) + ("([a-z]+)" if letters else "([0-9]+)"))
    found = (pattern.fullmatch(number) for number in taken)
    used = [_count(match[1]) if letters else int(match[1]) for match in found if match]
    first = 1 if "/" not in parent else 2
    count = max([first - 1, *used]) + 1
    return prefix + (_letters(count) if letters else str(count))


def walking_key(number: str) -> tuple[tuple[int, int, str], ...]:
    """Return a key that sorts numbers as a person would: 9 before 41, 41/9 before 41/10."""
    return tuple(
        (0, int(part), "") if part.isdigit() else (1, len(part), part) for part in _PARTS.findall(number.casefold())
    )


def _letters(count: int) -> str:
    letters = ""
    while count:
        count, last = divmod(count - 1, 26)
        letters = chr(ord("a") + last) + letters
    return letters


def _count(letters: str) -> int:
    count = 0
    for letter in letters:
        count = count * 26 + ord(letter) - ord("a") + 1
    return count
