"""Several words said one after another."""

from collections.abc import Iterable


def listed(words: Iterable[object], last: str = "and") -> str:
    """Return `measured`, `measured and signed`, `measured, signed and photographed`; nothing for none."""
    said = [str(word) for word in words]
    return f"{', '.join(said[:-1])} {last} {said[-1]}" if len(said) > 1 else "".join(said)
