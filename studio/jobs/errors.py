from studio.fields.errors import Refused


class UnknownKind(Refused):
    """No such work is known."""


class NoSuchJob(Refused):
    """The job is not there any more."""


class JobEnded(Refused):
    """There is nothing left to stop."""


class ResultUnfit(Refused):
    """What the work brought back can't be kept."""


class Cancelled(Exception):
    """Raised inside a handler at its next tick after somebody asked for the work to stop."""
