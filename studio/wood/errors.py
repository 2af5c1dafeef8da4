"""Why the wood shed says no."""

from studio.fields.errors import Refused


class NotLikeThat(Refused):
    """A figure, a day or a word that can't stand; `field` says which."""


class ShippedSpecies(Refused):
    """Figures that came with the program are kept with their source; a studio adds its own beside them."""


class PostedAlready(Refused):
    """What was paid is on the lumps already: a later bill changes it, not this form."""
