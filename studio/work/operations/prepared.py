"""A mould is made ready: five ticks, one tap each, and the seal coat's grams out of the stores."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.db import transaction

from studio.equipment.models import Mould
from studio.fields.models import Submission
from studio.ledger import operations as ledger
from studio.people.models import User
from studio.stores import operations as stores
from studio.stores.models import Material, ResinSystem
from studio.stores.planning import lock_plan
from studio.work.errors import OutOfTime, PourTrouble
from studio.work.making import held_rows
from studio.work.models import MouldReady, PourFill, StepCode, Workpiece

TICKS = ("released", "sealed", "held", "coated", "level")
# What is done at the wood, not at the mould alone.
OF_WOOD = ("held", "coated")
MOST_COAT_MG = 10_000_000


def tick_ready(
    *,
    mould: Mould | None,
    blanks: Sequence[Workpiece],
    what: str,
    done: bool,
    at: datetime,
    now: datetime,
    by: User | None = None,
    screw_words: str | None = None,
) -> MouldReady:
    """Will note that one of `TICKS` is done at this mould with this wood in it, or (`done` false) that it isn't yet.

    `screw_words`: where a screw sits in the wood, kept until it is turned. Other wood in the same mould takes the
    ticks of the wood before it away. Raises `PourTrouble` for a tick there is none of, or wood that isn't there.
    """
    if what not in TICKS:
        raise PourTrouble("There is nothing of that kind to tick.")
    if what in OF_WOOD and not blanks:
        raise PourTrouble("No wood lies in that mould.")
    if at > now:
        raise OutOfTime("That time is still to come. Leave it empty for now.", field="at")
    with transaction.atomic():
        row = _open(mould, held_rows(list(blanks)) if blanks else [], at, by)
        setattr(row, f"{what}_at", at if done else None)
        if screw_words is not None:
            row.screw_words = screw_words.strip()[:120]
        row.save()
        return row


def seal_coat(
    *,
    mould: Mould | None,
    blanks: Sequence[Workpiece],
    mass_mg: int,
    at: datetime,
    now: datetime,
    resin: ResinSystem | None = None,
    material: Material | None = None,
    from_s: int | None = None,
    until_s: int | None = None,
    allow_past: bool = False,
    counted: Sequence[stores.Counted] = (),
    by: User | None = None,
    submission: Submission | None = None,
) -> MouldReady:
    """Will draw a seal coat out of the stores onto the wood in this mould, shared equally, and tick it.

    Of a two-part `resin` (by its ratio) or of one `material` that is weighed. `from_s` and `until_s` after it went on
    are the window in which the pour takes to it. Raises `PourTrouble` beside the figure that can't be,
    `StoresRunShort` where the stores don't hold it.
    """
    if (resin is None) == (material is None):
        raise PourTrouble("Say what the coat is of.", field="of")
    if not 0 < mass_mg <= MOST_COAT_MG:
        raise PourTrouble("Give the grams of the coat, above nothing.", field="mass")
    if from_s is not None and until_s is not None and until_s <= from_s:
        raise PourTrouble("It can't be too late before it is early enough. Look at both times.", field="until")
    if not blanks:
        raise PourTrouble("No wood lies in that mould.", field="of")
    if at > now:
        raise OutOfTime("That time is still to come. Leave it empty for now.", field="at")
    with transaction.atomic():
        rows = held_rows(list(blanks))
        ready = _open(mould, rows, at, by)
        stores.count_each(counted, at=at, by=by, submission=submission, now=now)
        planned = lock_plan(_wants(resin, material, mass_mg), at=at, also=[row.account for row in rows],
                            allow_past=allow_past)  # fmt: skip
        posted = ledger.use_up(
            draws=planned.draws, shares=[(row.account, 1) for row in rows], at=at, kind="draw",
            step=StepCode.CAST, by=by, submission=submission, now=now,
        )  # fmt: skip
        ready.coated_at, ready.coat_mg, ready.coat_entry_id = at, mass_mg, posted.entry_id
        ready.coat_resin, ready.coat_material = resin, material
        ready.coat_from_at = at + timedelta(seconds=from_s) if from_s is not None else None
        ready.coat_until_at = at + timedelta(seconds=until_s) if until_s is not None else None
        ready.save()
        return ready


def _wants(resin: ResinSystem | None, material: Material | None, mass_mg: int) -> list[tuple[Material, int]]:
    if material is not None:
        return [(material, mass_mg)]
    assert resin is not None
    a_mg = mass_mg * resin.parts_a // (resin.parts_a + resin.parts_b)
    if not a_mg:
        raise PourTrouble("So little can't be mixed of two parts.", field="mass")
    return [(resin.part_a, a_mg), (resin.part_b, mass_mg - a_mg)]


def carry_ready(fill: PourFill, mould: Mould | None, blanks: Sequence[Workpiece]) -> None:
    """Will close what was ticked at a mould with its pour, and carry a screw's place over to the casting.

    Call it inside the transaction of the pour.
    """
    row = _find(mould, blanks)
    if row is None:
        return
    _for_wood(row, blanks)
    row.fill = fill
    row.save()
    if row.screw_words:
        fill.screw_words = row.screw_words
        fill.save(update_fields=["screw_words"])


def _open(mould: Mould | None, blanks: Sequence[Workpiece], at: datetime, by: User | None) -> MouldReady:
    """The open row of this mould, its wood put right; a new one where there is none. Under lock."""
    if mould is None and not blanks:
        raise PourTrouble("Name the mould first: then it is known what was done at it.")
    row = _find(mould, blanks)
    if row is None:
        row = MouldReady.objects.create(mould=mould, begun_at=at, by=by)
        row.blanks.set(blanks)
    _for_wood(row, blanks)
    return row


def _find(mould: Mould | None, blanks: Sequence[Workpiece]) -> MouldReady | None:
    rows = MouldReady.objects.select_for_update().filter(fill=None, mould=mould)
    if mould is not None:
        return rows.first()
    keys = {blank.pk for blank in blanks}
    near = rows.filter(pk__in=MouldReady.blanks.through.objects.filter(workpiece__in=keys).values("mouldready"))
    return next((row for row in near if {blank.pk for blank in row.blanks.all()} == keys), None)


def _for_wood(row: MouldReady, blanks: Sequence[Workpiece]) -> None:
    """Other wood than before: what was done at the old is not done at the new. What was drawn stays drawn."""
    if {blank.pk for blank in row.blanks.all()} == {blank.pk for blank in blanks}:
        return
    row.blanks.set(blanks)
    row.held_at = row.coated_at = row.coat_mg = row.coat_resin = row.coat_material = row.coat_entry = None
    row.coat_from_at = row.coat_until_at = None
    row.screw_words = ""
