"""Why a commission says no."""

from studio.fields.errors import Refused


class NotLikeThat(Refused):
    """A figure, a day or a word that can't stand; `field` says which."""


class NotNow(Refused):
    """The commission isn't at a point where this can be done."""


class DepositTrouble(Refused):
    """A deposit that is more than there is to pay, or to give back."""
