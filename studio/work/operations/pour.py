"""A pour: what the scale really showed, drawn from the stores, charged to the castings that came of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction

from studio.craft.costing import split
from studio.equipment.models import Load, LoadPlace, MachineKind, Mould
from studio.fields.models import Submission
from studio.ledger import operations as ledger
from studio.people.models import User
from studio.stores import operations as stores
from studio.stores.models import ResinSystem
from studio.stores.planning import lock_plan
from studio.work.errors import OutOfTime, PourTrouble
from studio.work.making import held_rows, make
from studio.work.models import (
    Descent,
    Pour,
    PourColorant,
    PourFill,
    Stage,
    StepCode,
    Workpiece,
)
from studio.work.numbering import next_lump_number
from studio.work.operations.cut import join
from studio.work.operations.pots import stay_shut
from studio.work.operations.prepared import carry_ready
from studio.work.operations.ready import refuse_unready
from studio.work.operations.steps import begin_step, end_step
from studio.work.operations.swirls import ColourIn, SwirlIn, keep_swirl, refuse_bad_swirls
from studio.work.queries.cures import sheet_cure_s
from studio.work.queries.in_moulds import sheet_hold_s

PPM = 1_000_000
# A mix that met its parts longer ago than this wasn't walked with, its address was kept.
LONGEST_POUR = timedelta(days=1)


@dataclass(frozen=True)
class Fill:
    """One mould: the blanks in it (none, one or several), the resin planned for it, and what it becomes.

    `reckoned_mg` is what it was reckoned to take without any allowance: later pours learn from it. `poured_mg` is
    what was weighed into it, where somebody did: then that decides its share, not the plan.
    """

    planned_mg: int
    blanks: Sequence[Workpiece] = ()
    mould: Mould | None = None
    wood_mg: int = 0
    wood_mm3: int = 0
    reckoned_mg: int | None = None
    poured_mg: int | None = None
    number: str = ""
    title: str = ""


def pour(
    *,
    system: ResinSystem,
    fills: Sequence[Fill],
    planned_a_mg: int,
    planned_b_mg: int,
    poured_a_mg: int,
    poured_b_mg: int,
    at: datetime,
    colorants: Sequence[ColourIn] = (),
    swirls: Sequence[SwirlIn] = (),
    colour_words: str = "",
    load: Load | None = None,
    off_ratio_words: str = "",
    allow_past: bool = False,
    cups: int = 1,
    wood_sure: bool = False,
    began_at: datetime | None = None,
    resin_mdegc: int | None = None,
    counted: Sequence[stores.Counted] = (),
    by: User | None = None,
    submission: Submission | None = None,
    now: datetime | None = None,
) -> Pour:
    """Will book one mixing into one or more moulds.

    All that was weighed is drawn from the stores and lies on the castings, shared by what each was planned to
    take or, where it was weighed, took: cup, floor and drips are part of it. One blank in a mould stays the same
    workpiece and becomes the casting; several become a new one; none at all is a block of resin. A mix off its ratio
    by more than the sheet allows is booked only with words, which stay on the casting. What was `counted` because the
    books held too little is set right first, in the same transaction. Each of several `cups` keeps to the sheet's
    batches. What was stirred into `swirls` is drawn with the rest where it went into all moulds, else onto the one
    casting it lies in. `began_at` is when the two parts met, `resin_mdegc` how warm the resin was then;
    neither need be known. Wood past its limits out of the oven is refused as it was then; where nothing is known of
    its water it is asked about unless `wood_sure`. A pot it was poured in (`load`) stays shut as long as its moulds.
    """
    _refuse_bad_pour(system, fills, poured_a_mg, poured_b_mg, colorants, off_ratio_words, max(1, cups))
    refuse_bad_swirls(system, len(fills), poured_a_mg + poured_b_mg, colorants, swirls)
    blanks = [blank for fill in fills for blank in fill.blanks]
    young = next((blank for blank in blanks if at < blank.made_at), None)
    if young is not None:
        raise OutOfTime(f"{young.number} came into being after that. Give the time it was poured.", field="at")
    with transaction.atomic():
        refuse_unready(blanks, at=min(at, began_at or at), sure=wood_sure)
        stores.count_each(counted, at=at, by=by, submission=submission, now=now)
        castings = [_casting(fill, at, by, now) for fill in fills]
        also = [piece.account for piece in castings]
        wants = [(system.part_a, poured_a_mg), (system.part_b, poured_b_mg)]
        wants += [(colour.material, colour.mass_mg) for colour in colorants]
        wants += [(one.material, one.mass_mg) for cup in swirls if cup.into is None for one in cup.colorants]
        apart = [(one.material, one.mass_mg) for cup in swirls if cup.into is not None for one in cup.colorants]
        if apart:  # all that runs short is said at once
            lock_plan([*wants, *apart], at=at, also=also, allow_past=allow_past)
        planned = lock_plan(wants, at=at, also=also, allow_past=allow_past)
        weights = [fill.poured_mg or fill.planned_mg for fill in fills]
        shares = [(piece.account, weight) for piece, weight in zip(castings, weights, strict=True)]
        posted = ledger.use_up(
            draws=planned.draws,
            shares=shares,
            at=at,
            kind="pour",
            step=StepCode.CAST,
            by=by,
            submission=submission,
            now=now,
        )
        row = Pour.objects.create(
            system=system,
            at=at,
            by=by,
            planned_a_mg=planned_a_mg,
            planned_b_mg=planned_b_mg,
            poured_a_mg=poured_a_mg,
            poured_b_mg=poured_b_mg,
            colour_words=colour_words,
            load=load,
            demould_not_before=_after(at, sheet_hold_s(system, at)),
            full_cure_at=_after(at, sheet_cure_s(system, at)),
            entry_id=posted.entry_id,
            off_ratio_words=off_ratio_words,
            began_at=began_at if began_at and timedelta(0) <= at - began_at <= LONGEST_POUR else None,
            resin_mdegc=resin_mdegc,
            cups=max(1, cups),
        )
        stay_shut(row, by, now)
        PourColorant.objects.bulk_create(
            [PourColorant(pour=row, material=colour.material, mass_mg=colour.mass_mg) for colour in colorants]
        )
        shared = split(poured_a_mg + poured_b_mg, weights)
        rows = PourFill.objects.bulk_create(
            [
                PourFill(
                    pour=row,
                    mould=fill.mould,
                    casting=piece,
                    planned_mg=fill.planned_mg,
                    share_mg=share,
                    wood_mg=fill.wood_mg,
                    wood_mm3=fill.wood_mm3,
                    reckoned_mg=fill.reckoned_mg or None,
                )
                for fill, piece, share in zip(fills, castings, shared, strict=True)
            ]
        )
        for fill, kept, piece in zip(fills, rows, castings, strict=True):
            carry_ready(kept, fill.mould, fill.blanks)
            begin_step(workpiece=piece, code=StepCode.CAST, at=at, person=by)
        for cup in swirls:
            keep_swirl(row, cup, rows, at=at, allow_past=allow_past, by=by, submission=submission, now=now)
        return row


def _refuse_bad_pour(
    system: ResinSystem,
    fills: Sequence[Fill],
    a_mg: int,
    b_mg: int,
    colorants: Sequence[ColourIn],
    off_ratio_words: str,
    cups: int,
) -> None:
    if not fills:
        raise PourTrouble("A pour goes into one mould at least.", field="fills")
    if a_mg <= 0 or b_mg <= 0:
        raise PourTrouble("Both parts were weighed: type what the scale showed for each.", field="poured_a")
    if any(fill.planned_mg <= 0 or (fill.poured_mg or 0) < 0 for fill in fills):
        raise PourTrouble("Each mould takes some resin. Give the grams planned for it.", field="fills")
    everyone = [blank.pk for fill in fills for blank in fill.blanks]
    if len(set(everyone)) != len(everyone):
        raise PourTrouble("One blank can't lie in two moulds.", field="fills")
    mixed = a_mg + b_mg
    if system.smallest_mg and mixed < system.smallest_mg * cups:
        raise PourTrouble(
            "That is less than the smallest batch on the resin's sheet; so little may not set.",
            field="poured_a",
        )
    if system.largest_mg and mixed > system.largest_mg * cups:
        raise PourTrouble(
            "That is more than the largest batch on the resin's sheet; it may boil over. Mix it in two goes.",
            field="poured_a",
        )
    colour = sum(c.mass_mg for c in colorants)
    if system.colorant_limit_ppm and colour * PPM > mixed * system.colorant_limit_ppm:
        raise PourTrouble("That is more colour than the resin's sheet allows.", field="colorants")
    if system.ratio_tolerance_ppm and not off_ratio_words.strip():
        off = abs(a_mg * system.parts_b - b_mg * system.parts_a)
        if off * PPM > b_mg * system.parts_a * system.ratio_tolerance_ppm:
            raise PourTrouble(
                "The two parts are further off their ratio than the resin's sheet allows. Add what is short; "
                "if it is in the mould already, say in words what happened: it stays on the casting.",
                field="off_ratio_words",
                code="off_ratio",
            )


def _after(at: datetime, seconds: int | None) -> datetime | None:
    """Nothing where the sheet gives no time: then nothing is promised either."""
    return None if seconds is None else at + timedelta(seconds=seconds)


def _casting(fill: Fill, at: datetime, by: User | None, now: datetime | None) -> Workpiece:
    blanks = held_rows(list(fill.blanks)) if fill.blanks else []
    if not blanks:
        return make(
            number=fill.number or next_lump_number(),
            stage=Stage.CASTING,
            made_at=at,
            title=fill.title,
        )
    if len(blanks) > 1:
        return join(
            parts=blanks,
            at=at,
            number=fill.number,
            title=fill.title,
            stage=Stage.CASTING,
            how=Descent.How.CAST,
            by=by,
            now=now,
        )
    (blank,) = blanks
    blank.stage = Stage.CASTING
    blank.save(update_fields=["stage"])
    return blank


def demould(
    *, pour: Pour, at: datetime, by: User | None = None, early: bool = False, weights: dict[int, int] | None = None
) -> Pour:
    """Will note that the castings are out of their moulds. Before the sheet's time it is asked about (code "sure").

    `weights` maps casting keys to milligrams where they were weighed. What may be done next waits for the
    full cure. While one of them lies in a pressure pot whose load still runs it is refused: the pot is opened first.
    """
    with transaction.atomic():
        pour = Pour.objects.select_for_update().get(pk=pour.pk)
        if pour.demoulded_at is not None:
            raise PourTrouble("That pour is out of its moulds already.")
        if pour.demould_not_before and at < pour.demould_not_before and not early:
            raise PourTrouble(
                "It is too early by the resin's sheet: soft resin smears and the pot may still hold pressure. "
                "If it is hard and the gauge stands at zero, say so and send again.",
                code="sure",
            )
        _refuse_under_pressure(pour)
        pour.demoulded_at = at
        pour.save(update_fields=["demoulded_at"])
        for fill in pour.fills.select_related("casting"):
            piece = fill.casting
            if piece.closed_at is not None:
                continue
            end_step(workpiece=piece, code=StepCode.CAST, at=at, person=by, not_before=pour.full_cure_at)
            mass = (weights or {}).get(piece.pk)
            if mass:
                piece.weighings.create(mass_mg=mass, at=at, condition="cast", by=by)
        return pour


def _refuse_under_pressure(pour: Pour) -> None:
    """Whoever takes a casting out of its mould has opened the pot, so its load is over."""
    inside = (
        LoadPlace.objects.inside()
        .filter(
            account__in=pour.fills.values("casting__account"),
            load__machine__kind=MachineKind.PRESSURE_POT,
            load__ended_at__isnull=True,
        )
        .select_related("load__machine", "account__workpiece")
        .first()
    )
    if inside is not None:
        raise PourTrouble(
            f"{inside.account.workpiece.number} is still in {inside.load.machine}. End the pot's load first: let "
            "the pressure off, then open it.",
            code="under_pressure",
        )
