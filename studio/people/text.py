"""Text that people type about people: what can be kept, and the sentence when it can't."""

import unicodedata


def tidy(text: str, *, most: int, lines: bool = False) -> str:
    """Return `text` without spaces round it, in composed letters (NFC).

    Raises ValueError with a sentence for more than `most` characters and for characters that can't be seen
    or printed (line breaks are allowed with `lines`). Nothing is cut off: what is refused is told.
    """
    kept = unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("\r", "\n")).strip()
    if not lines and "\n" in kept:
        raise ValueError("Write this on one line.")
    for char in kept:
        if unicodedata.category(char) in ("Cc", "Cs") and char not in ("\n", "\t" if lines else "\n"):
            raise ValueError(f"A character in here can't be seen or printed (U+{ord(char):04X}). Type this again.")
    if len(kept) > most:
        raise ValueError(f"That is {len(kept)} characters; {most} is the most that fits. Shorten it.")
    return kept
