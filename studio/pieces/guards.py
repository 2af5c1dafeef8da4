"""What must hold before a piece leaves without a sale or is unfinished again: rooms above register checks here."""

from collections.abc import Callable

from studio.pieces.models import Piece

# Each is called with the piece and raises Refused where it may not leave (it stands at a gallery, say).
leaving: list[Callable[[Piece], None]] = []
unticking: list[Callable[[Piece], None]] = []


def before_leaving(check: Callable[[Piece], None]) -> None:
    """Have `check(piece)` run before a piece leaves without a sale; it raises Refused to stop that."""
    if check not in leaving:
        leaving.append(check)


def before_unticking(check: Callable[[Piece], None]) -> None:
    """Have `check(piece)` run before a tick of a finished piece is taken back; it raises Refused to stop that."""
    if check not in unticking:
        unticking.append(check)
