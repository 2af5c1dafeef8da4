"""Why the stores say no."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from studio.fields.errors import Refused
from studio.fields.quantity import show
from studio.stores.models import Material


class NotLikeThat(Refused):
    """A figure or a word that can't stand; `field` says which."""


class MaterialInUse(Refused):
    """A change that would turn what was booked before into something else."""


class SomethingLeft(Refused):
    """There is still some of it, so it can't be put away."""


class NothingLeft(Refused):
    """There is none of it."""


class BathClosed(Refused):
    """The bath was emptied and closed."""


@dataclass(frozen=True)
class Shortage:
    """One material of which there is less than wanted; `past` is what there is beside, too old to use."""

    material: Material
    has: int
    wants: int
    past: int


class StoresRunShort(Refused):
    """The books hold less than is wanted: the screen asks what is really there. Nothing was drawn.

    `material`, `has`, `wants`, `past` are of the first shortage, `shortages` are all of them.
    """

    def __init__(self, shortages: Sequence[Shortage], *, field: str | None = "amount") -> None:
        super().__init__(" ".join(_sentence(short) for short in shortages), field=field, code="short")
        self.shortages = tuple(shortages)
        first = self.shortages[0]
        self.material, self.has, self.wants, self.past = first.material, first.has, first.wants, first.past


class CountedBeforeTheLast(Refused):
    """A count dated before something else was booked compares with a figure that no longer stands."""

    def __init__(self, last: datetime) -> None:
        super().__init__(
            f"Something came or went on {last:%d %B %Y}, after the time of this count. "
            "Count what is there now and give the time of counting.",
            field="at",
            code="counted_before_the_last",
        )


class CountRefused(Refused):
    """A count that came before a draw can't stand; `material` says of what."""

    def __init__(self, stop: Refused, material: Material) -> None:
        super().__init__(stop.message, field=stop.field, code=stop.code)
        self.material = material


class NotYetHere(Refused):
    def __init__(self, received_on: date, *, field: str) -> None:
        super().__init__(f"This came in on {received_on:%d %B %Y}. Give that day or a later one.", field=field)


def amount_words(material: Material, amount: int) -> str:
    """An amount of a material as this studio writes it: `412 g` or `12 pieces`."""
    return show(amount, "count" if material.counted else "mass")


def _sentence(short: Shortage) -> str:
    has = amount_words(short.material, short.has) if short.has else "none"
    said = (
        f"The stores hold {has} of {short.material.name} by the books, "
        f"and {amount_words(short.material, short.wants)} are wanted."
    )
    if short.past:
        said += (
            f" Another {amount_words(short.material, short.past)} are past their use-by day; "
            "say so if you use them all the same."
        )
    return said + " Say what is really there, or buy more first."
