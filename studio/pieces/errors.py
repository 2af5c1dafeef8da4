"""Why a piece says no."""

from studio.fields.errors import Refused


class NotLikeThat(Refused):
    """Something typed that can't be kept as it is."""


class NotAsThingsStand(Refused):
    """What was asked can't be done to this piece now: it is finished, not finished, signed, gone or not gone."""


class HeldForSomeone(Refused):
    """The piece is kept for someone; it doesn't leave for anybody else."""


class SignedAlready(Refused):
    """Two pieces can't carry one signed number, and one piece carries one."""


class BelowLowest(Refused):
    """An asking price that loses money, without a word why."""
