"""Why the bench says no."""

from studio.fields.errors import Refused


class NotOnTheBench(Refused):
    """The workpiece is lost, sold, cut up or joined: nothing more can be done to it."""


class NumberTaken(Refused):
    """Two workpieces can't carry one number."""


class BadCut(Refused):
    """Shares, weights or numbers of a cut that don't make sense."""


class ClockTrouble(Refused):
    """The clock runs already, doesn't run, or ran through the night."""


class StepTrouble(Refused):
    """A step that can't be begun, ended, left out or done again as things stand."""


class PourTrouble(Refused):
    """A pour that can't be booked as typed."""


class BathTrouble(Refused):
    """Weights of a stabilizing load that don't make sense."""


class OutOfTime(Refused):
    """A time before the thing existed, or one that wants to be asked about."""


class FinishTrouble(Refused):
    """A finish that can't be gone on with as asked, or one that wants to be thought about first."""


class MountTrouble(Refused):
    """A figure of a mount that can't be right."""
