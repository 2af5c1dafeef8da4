"""Numbers as one would pencil them on wood: lump 41, its blanks 41/1, 41/2; what is cut from 41/3 is 41/3b."""

from collections.abc import Collection

_FIRST_LETTER = "b"  # 41/3 itself stands for the first part, so the one cut from it is the b
_LAST_LETTER = "z"


def next_child_number(parent: str, taken: Collection[str]) -> str:
    """Return the first free number for what is cut from `parent`.

    41 gives 41/1, 41/2 …; 41/3 gives 41/3b, 41/3c …; 41/3b gives 41/3bb, 41/3bc …; after z the letters go on
    with zb. `taken` holds the numbers in use. *Common practice, no source.*
    """
    if "/" not in parent:
        count = 1
        while f"{parent}/{count}" in taken:
            count += 1
        return f"{parent}/{count}"
    stem = parent
    while True:
        for code in range(ord(_FIRST_LETTER), ord(_LAST_LETTER) + 1):
            if (number := stem + chr(code)) not in taken:
                return number
        stem += _LAST_LETTER
