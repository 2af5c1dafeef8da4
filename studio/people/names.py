"""Names of people as they are searched for: no capitals, no accents, single spaces.

SQLite's LIKE folds A to a and nothing else, so "MÜLLER" would not find "Müller"; each row keeps its folded
name.
"""

import unicodedata

FOLDED_LENGTH = 400


def fold(text: str) -> str:
    """Return `text` as it will be compared in a search: casefolded, accents dropped, spaces single."""
    parts = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(char for char in parts if not unicodedata.combining(char))
    return " ".join(bare.casefold().split())[:FOLDED_LENGTH]
