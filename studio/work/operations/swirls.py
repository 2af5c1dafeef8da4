"""Cups taken out of a mix after the two parts met, each with colours of its own."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from studio.fields.models import Submission
from studio.ledger import operations as ledger
from studio.people.models import User
from studio.stores.models import Material, ResinSystem
from studio.stores.planning import lock_plan
from studio.work.errors import PourTrouble
from studio.work.models import Pour, PourColorant, PourFill, PourSwirl, StepCode

PPM = 1_000_000


@dataclass(frozen=True)
class ColourIn:
    material: Material
    mass_mg: int


@dataclass(frozen=True)
class SwirlIn:
    """A cup taken out of the mix after the two parts met: how much, its colours, and which mould it all went into
    (its place among the fills; None: into all of them, by what each takes)."""

    taken_mg: int
    colorants: Sequence[ColourIn]
    into: int | None = None


def refuse_bad_swirls(
    system: ResinSystem, moulds: int, mixed_mg: int, colorants: Sequence[ColourIn], swirls: Sequence[SwirlIn]
) -> None:
    """Raise `PourTrouble` where the cups hold more than was mixed, nothing, or more colour than the sheet allows."""
    if any(cup.taken_mg <= 0 for cup in swirls):
        raise PourTrouble("A cup for a swirl holds something. Give the grams taken out of the mix.", field="swirls")
    if sum(cup.taken_mg for cup in swirls) > mixed_mg:
        raise PourTrouble("The cups together hold more than was mixed. Take out less.", field="swirls")
    for number, cup in enumerate(swirls, start=1):
        if not cup.colorants or any(one.mass_mg <= 0 for one in cup.colorants):
            raise PourTrouble(f"Swirl cup {number} has no colour in it. Give its grams.", field="swirls")
        if cup.into is not None and not 0 <= cup.into < moulds:
            raise PourTrouble(f"Swirl cup {number} goes into a mould that isn't poured.", field="swirls")
        before = sum(one.mass_mg for one in colorants) * cup.taken_mg // mixed_mg
        colour = before + sum(one.mass_mg for one in cup.colorants)
        if system.colorant_limit_ppm and colour * PPM > cup.taken_mg * system.colorant_limit_ppm:
            raise PourTrouble(
                f"Swirl cup {number} has more colour than the resin's sheet allows. Take a bigger cup, or less "
                "colour.",
                field="swirls",
            )


def keep_swirl(
    pour: Pour,
    cup: SwirlIn,
    fills: Sequence[PourFill],
    *,
    at: datetime,
    allow_past: bool,
    by: User | None,
    submission: Submission | None,
    now: datetime | None,
) -> PourSwirl:
    """Will note a cup, and draw its colours onto the one casting it went into. What went into all moulds was drawn
    with the pour already. Call it inside the transaction of the pour."""
    onto = None if cup.into is None else fills[cup.into]
    entry_id = None
    if onto is not None:
        wants: list[tuple[Material, int]] = [(one.material, one.mass_mg) for one in cup.colorants]
        account = onto.casting.account
        planned = lock_plan(wants, at=at, also=[account], allow_past=allow_past)
        entry_id = ledger.use_up(
            draws=planned.draws, shares=[(account, 1)], at=at, kind="pour", step=StepCode.CAST, by=by,
            submission=submission, now=now,
        ).entry_id  # fmt: skip
    row = PourSwirl.objects.create(pour=pour, fill=onto, taken_mg=cup.taken_mg, entry_id=entry_id)
    PourColorant.objects.bulk_create(
        [PourColorant(pour=pour, material=one.material, mass_mg=one.mass_mg, swirl=row) for one in cup.colorants]
    )
    return row
