"""Why the equipment says no."""

from collections.abc import Sequence

from studio.fields.errors import Refused


class MachineRefused(Refused):
    """A figure, a name or a date of a machine that can't be right, or a change a running load forbids."""


class MouldRefused(Refused):
    """A mould that can't be right."""


class UpkeepRefused(Refused):
    """Something a machine wants that can't be noted so."""


class LoadRefused(Refused):
    """A load that this machine can't take, or times that can't be right."""


class AlreadyRunning(LoadRefused):
    """The machine has a load in it: more goes into that one."""


class AlreadyEnded(LoadRefused):
    """The load has ended; it is posted once."""


class PotRefused(LoadRefused):
    """A pressure pot that takes no load, or not at that pressure. Nobody can overrule this.

    `codes` says why, for screens that offer the way to put it right.
    """

    def __init__(self, message: str, *, codes: Sequence[str]) -> None:
        super().__init__(message, field="gauge_pa", code="pot_refused")
        self.codes = tuple(codes)


class NeedsConfirm(LoadRefused):
    """Something to think about first; the same again with `confirm=True` (and words, for a pot) goes
    ahead."""

    def __init__(self, message: str, *, codes: Sequence[str], field: str | None = None) -> None:
        super().__init__(message, field=field, code="confirm")
        self.codes = tuple(codes)
