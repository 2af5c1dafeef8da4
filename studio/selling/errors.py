"""Why a piece can't be left, sold or paid for like that."""

from collections.abc import Sequence

from studio.fields.errors import Refused


class NotLikeThat(Refused):
    """A figure, a day or a word that can't stand; `field` says which."""


class NameTaken(Refused):
    """Two galleries can't go by one name."""


class GalleryClosed(Refused):
    """We no longer work with this gallery, or it can't be put away while something is with it."""


class CannotLeave(Refused):
    """Pieces that can't go to a gallery as things stand; `reasons` has a sentence for each."""

    def __init__(self, reasons: Sequence[str], *, code: str = "cannot_leave") -> None:
        super().__init__(" ".join(reasons), field="pieces", code=code)
        self.reasons = tuple(reasons)


class NotThere(Refused):
    """The piece isn't where it was said to be."""


class CannotSell(Refused):
    """A sale that can't be made as things stand."""


class CannotTakeBack(Refused):
    """Taken back already, or something has been built on it since."""


class MoreThanOwed(Refused):
    """More money than is owed: asked about once, taken when confirmed."""
